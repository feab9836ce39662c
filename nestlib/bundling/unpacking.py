"""A pattern where it is put on a sheet: its pieces and what they share."""

from __future__ import annotations

from dataclasses import replace

from nestlib.bundling.pattern import Pattern, reaching
from nestlib.geometry.transform import cos_sin, placed
from nestlib.model import Bundle, Placement


def put(
    pattern: Pattern, where: Placement, kerf: float, first: int
) -> tuple[list[Placement], Bundle]:
    """Return the pieces of a pattern on a sheet, and the bundle that they are.

    Parameters
    ----------
    pattern : Pattern
        As seen from its own (0, 0).
    where : Placement
        How it lies: mirrored if flipped, then turned, then moved.
    kerf : float
        Width of the slots, in mm.
    first : int
        Index of the first of its pieces among the layout's placements.

    Returns
    -------
    placements : list of Placement
    bundle : Bundle
    """
    placements = [_put(member, where) for member in pattern.members]
    bundle = Bundle(
        tuple(range(first, first + len(placements))),
        placed(pattern.outline, where).oriented(ccw=True),
        tuple(placed(line, where) for line in reaching(pattern, kerf)),
    )
    return placements, bundle


def _put(member: Placement, where: Placement) -> Placement:
    """First the member in its pattern, then the pattern on the sheet."""
    x, turn = (-member.x, -member.rotation) if where.flip else (member.x, member.rotation)
    cos, sin = cos_sin(where.rotation)
    return replace(
        member,
        # Twice, since a tiny negative turn becomes 360 by the first.
        rotation=(where.rotation + turn) % 360.0 % 360.0,
        flip=where.flip,
        x=cos * x - sin * member.y + where.x,
        y=sin * x + cos * member.y + where.y,
    )
