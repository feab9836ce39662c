"""Does what is said to stay when it is cut free rest on the slats or spikes under it?"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from nestlib.model import Support, Violation
from nestlib.verifying.curves import Curve, Numbers
from nestlib.verifying.shapes import polygon_of
from nestlib.verifying.written import NO_PIECE, WrittenCut, WrittenLayout, WrittenPlan

#: Offsets along each axis at which a sheet may lie, where that is not known.
_SLATS, _SPIKES = 37, 7

#: A centre of mass may seem to lie outside its supports by this, in mm: arcs are flattened.
_SLACK = 0.05


def check_rests(plan: WrittenPlan, layout: WrittenLayout) -> Iterator[Violation]:
    """Check every piece and slug that is said to stay.

    Slugs that other pieces were cut out of are left out.

    Parameters
    ----------
    plan : WrittenPlan
        Says what the sheet lies on; if it does not, nothing is checked.
    layout : WrittenLayout
        Its path.

    Yields
    ------
    Violation
    """
    if plan.support is None:
        return
    rests: dict[object, bool] = {}
    starts = shapely.STRtree([shapely.Point(c.start) for c in layout.path])
    for cut in layout.path:
        if cut.fate != "stays":
            continue
        for number in cut.pieces or (cut.placement,):
            metal = _metal(plan, layout, cut, number, starts)
            if metal is None:
                continue
            p = layout.placements[number]
            alike = (p.part, p.rotation, p.flip, cut.role, cut.index)
            key = alike if plan.support.offset is None else (*alike, p.x, p.y)
            if key not in rests:
                rests[key] = _rests(metal, plan.support)
            if not rests[key]:
                text = f"cut {cut.order}: what it frees is said to stay, and it can tip or drop"
                yield Violation("can-tip", layout.dxf, text, cut.start)


def _metal(
    plan: WrittenPlan,
    layout: WrittenLayout,
    cut: WrittenCut,
    number: int,
    starts: shapely.STRtree,
) -> BaseGeometry | None:
    """The piece or the slug; None if other pieces were cut out of it."""
    placement = layout.placements[number]
    part = plan.parts[placement.part].part
    if cut.role in ("outer", "around"):
        holes = [Curve.of(c).placed(placement) for c in part.inners]
        return polygon_of(Curve.of(part.outer).placed(placement), holes)
    whole = polygon_of(Curve.of(cut.contour))
    inside = (layout.path[i] for i in starts.query(whole, predicate="contains"))
    if any(other.placement not in (cut.placement, NO_PIECE) for other in inside):
        return None
    return whole.buffer(-plan.spacing.kerf)


def _rests(metal: BaseGeometry, support: Support) -> bool:
    """Whether it does so at every offset that may be."""
    centre = metal.centroid
    for x, y in _offsets(support):
        hull = metal.intersection(_under(metal, support, x, y)).convex_hull
        if hull.geom_type != "Polygon" or hull.distance(centre) > _SLACK:
            return False
    return True


def _offsets(support: Support) -> list[tuple[float, float]]:
    px, py = support.pitch
    if support.offset is not None:
        return [support.offset]
    if support.kind == "slats":
        return [(px * k / _SLATS, py * k / _SLATS) for k in range(_SLATS)]
    shares = np.arange(_SPIKES) / _SPIKES
    return [(px * float(i), py * float(j)) for i in shares for j in shares]


def _under(metal: BaseGeometry, support: Support, x: float, y: float) -> BaseGeometry:
    """The slats or spikes about a piece."""
    x0, y0, x1, y1 = metal.bounds
    columns = _multiples(x0, x1, x, support.pitch[0])
    rows = _multiples(y0, y1, y, support.pitch[1])
    if support.kind == "spikes":
        return shapely.MultiPoint([(a, b) for a in columns for b in rows])
    if support.along == "y":
        return shapely.MultiLineString([[(a, y0), (a, y1)] for a in columns])
    return shapely.MultiLineString([[(x0, b), (x1, b)] for b in rows])


def _multiples(low: float, high: float, offset: float, pitch: float) -> Numbers:
    first, last = np.ceil((low - offset) / pitch), np.floor((high - offset) / pitch)
    return np.asarray(offset + pitch * np.arange(first, last + 1))
