"""How a pattern may be turned, so that each of its pieces lies as it may."""

from __future__ import annotations

from collections.abc import Sequence

from nestlib.bundling.pattern import Pattern
from nestlib.model import Part

#: Angles that agree to so many digits are the same, in degrees.
_DIGITS = 7


def allowed_turns(parts: Sequence[Part], pattern: Pattern) -> tuple[float, ...] | None:
    """Return the turns of a pattern that leave each of its pieces an allowed one.

    Parameters
    ----------
    parts : sequence of Part
        Whose pieces its members are, one for each.
    pattern : Pattern
        Pieces as they lie in it.

    Returns
    -------
    tuple of float, or None
        None if any turn is allowed, or `grain_of` says which are. Empty if none is: also if
        the grains of its pieces would cross, or some have one and others turns of their own.
    """
    grains = _grains(parts, pattern)
    if grains:
        free = all(part.grain is not None or part.rotations is None for part in parts)
        return None if len(grains) == 1 and free else ()
    fixed = [
        {_angle(turn - member.rotation): (turn - member.rotation) % 360.0 % 360.0
         for turn in part.rotations}
        for part, member in zip(parts, pattern.members, strict=True)
        if part.rotations is not None
    ]  # fmt: skip
    if not fixed:
        return None
    common = set(fixed[0]).intersection(*fixed)
    return tuple(sorted(fixed[0][turn] for turn in common))


def may_flip(parts: Sequence[Part], pattern: Pattern) -> bool:
    """Return whether a pattern may be mirrored, and then turned as `allowed_turns` says.

    Mirrored, its pieces are turned the other way round in it.

    Parameters
    ----------
    parts : sequence of Part
        Whose pieces its members are, one for each.
    pattern : Pattern
        Pieces as they lie in it.
    """
    turns = allowed_turns(parts, pattern) or ()
    return all(part.flip for part in parts) and all(
        _angle(turn - member.rotation) in {_angle(t) for t in part.rotations}
        for part, member in zip(parts, pattern.members, strict=True)
        if part.grain is None and part.rotations is not None
        for turn in turns
    )


def grain_of(parts: Sequence[Part], pattern: Pattern) -> float | None:
    """Return the direction of a pattern that has to run along the sheet's grain, in degrees.

    Parameters
    ----------
    parts : sequence of Part
        Whose pieces its members are, one for each.
    pattern : Pattern
        Pieces as they lie in it; along a grain they may lie either way round.

    Returns
    -------
    float, or None
        None if none of its pieces has such a direction.
    """
    return next(iter(_grains(parts, pattern).values()), None)


def _grains(parts: Sequence[Part], pattern: Pattern) -> dict[float, float]:
    found: dict[float, float] = {}
    for part, member in zip(parts, pattern.members, strict=True):
        if part.grain is not None:
            grain = part.grain + member.rotation
            found.setdefault(_angle(grain) % 180.0, grain % 180.0)
    return found


def _angle(degrees: float) -> float:
    """The same number for the same angle."""
    return round(degrees, _DIGITS) % 360.0
