"""How much metal the clearance polygons give away."""

from __future__ import annotations

from nestlib.geometry import part_clearance, region
from nestlib.model import Plan

#: Fine enough to stand for the true curve, in mm.
_FINE = 0.0005


def given_away(plan: Plan) -> float:
    """Return the area that packing did not use because arcs were replaced by lines.

    For each placed piece, the clearance polygon less the exact part grown as far, in mm².
    Holes that vanish altogether count as nothing given away.

    Parameters
    ----------
    plan : Plan
        Its placed pieces and its spacing.

    Returns
    -------
    float
        In mm², 0 or more.
    """
    total = 0.0
    for part in plan.job.parts:
        pieces = plan.placed[part.name]
        metal = region(part.outer, part.inners, _FINE)
        if not pieces or not metal.is_valid:
            continue
        grown = metal.buffer(plan.job.spacing.between_parts / 2, quad_segs=64)
        used = part_clearance(part, plan.job.spacing)
        total += max(0.0, used.area - grown.area) * pieces
    return total
