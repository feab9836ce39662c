"""Is every piece turned and flipped only as its part allows?"""

from __future__ import annotations

from collections.abc import Iterator

from nestlib.model import Part, Placement, Violation
from nestlib.verifying.written import WrittenLayout, WrittenPlan

#: Angles closer than this are the same, in degrees.
_SAME_ANGLE = 1e-6


def check_turns(plan: WrittenPlan, layout: WrittenLayout) -> Iterator[Violation]:
    """Check the placements of one layout.

    Parameters
    ----------
    plan : WrittenPlan
        Holds the parts.
    layout : WrittenLayout
        The placements.

    Yields
    ------
    Violation
    """
    for number, placement in enumerate(layout.placements):
        part = plan.parts[placement.part].part
        piece = f"'{part.name}' (placement {number})"
        place = (placement.x, placement.y)
        if placement.flip and not part.flip:
            text = f"{piece} lies face down, which is not allowed"
            yield Violation("flip-not-allowed", layout.dxf, text, place)
        if not turn_allowed(part, placement, layout.sheet.grain):
            rule = "across the grain" if part.grain is not None else "an angle not allowed"
            text = f"{piece} is turned by {placement.rotation:g}°, {rule}"
            yield Violation("turn-not-allowed", layout.dxf, text, place)


def turn_allowed(part: Part, placement: Placement, sheet_grain: float) -> bool:
    """Return whether a part may be turned so.

    A part with a grain has to have it along the sheet's, either way round; laid face
    down, a direction of g degrees becomes 180 - g before it is turned.
    """
    if part.grain is not None:
        drawn = 180 - part.grain if placement.flip else part.grain
        return _apart(drawn + placement.rotation, sheet_grain, 180) <= _SAME_ANGLE
    if part.rotations is None:
        return True
    return any(_apart(placement.rotation, r, 360) <= _SAME_ANGLE for r in part.rotations)


def _apart(one: float, other: float, period: float) -> float:
    """Difference of two angles that count as the same after a period, in degrees."""
    rest = (one - other) % period
    return min(rest, period - rest)
