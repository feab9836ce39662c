"""Do the last cuts keep off the parts, come last and free what the plan says?

The metal is worked out from the sheet, the drawn outer contours and the planned lines
alone: whatever slots leave in one is one piece. So a remnant is free only if it is such a
piece, and the skeleton has to fall into those that the plan lists.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from nestlib.model import Violation
from nestlib.tolerances import SAME_POINT, VERIFY
from nestlib.verifying.contours import pair
from nestlib.verifying.curves import Curve
from nestlib.verifying.drawn import DrawnLayout
from nestlib.verifying.shapes import line_of, polygon_of
from nestlib.verifying.written import (
    NO_PIECE,
    WrittenCut,
    WrittenLayout,
    WrittenPlan,
    WrittenSkeletonPiece,
)

#: A cut may end so much deeper in a part's slot than at its outer side, as a part of it.
_DEEPER = 0.1

#: So far, in distances from a part, may a cut be near one in whose slot it ends.
_NEAR_ITS_END = 2.0

#: Areas of pieces may differ by this for each mm of their edge, in mm.
_EDGE = 0.02

#: Bits of less than this are no pieces, in mm².
_DUST = 1e-3

#: What comes later than the cuts of pieces.
_RANK = {"skeleton": 1, "cut_off": 2}


def check_unloading(
    plan: WrittenPlan, layout: WrittenLayout, drawn: DrawnLayout
) -> Iterator[Violation]:
    """Check the cuts in the skeleton and those that free the remnants.

    Parameters
    ----------
    plan : WrittenPlan
        Holds the spacing and the remnants.
    layout : WrittenLayout
        Its path.
    drawn : DrawnLayout
        Its file.

    Yields
    ------
    Violation
    """
    last = [cut for cut in layout.path if cut.placement == NO_PIECE]
    yield from _drawn_as_planned(layout, last, drawn)
    yield from _in_order(layout)
    parts = [polygon_of(c) for c in drawn.outers]
    for cut in last:
        yield from _straight(layout, cut)
        yield from _off_parts(plan, layout, cut, parts)
        yield from _on_sheet(layout, cut, plan.edge_overrun)
    if last or layout.skeleton:
        yield from _pieces(plan, layout, last, parts)
    kept = any(plan.layouts[r.layout] is layout for r in plan.remnants)
    if kept and plan.cut_off != "none" and not any(c.role == "cut_off" for c in last):
        text = "a remnant is to be cut off, and no cut does"
        yield Violation("remnant-not-free", layout.dxf, text)


def _drawn_as_planned(
    layout: WrittenLayout, last: Sequence[WrittenCut], drawn: DrawnLayout
) -> Iterator[Violation]:
    for role in ("skeleton", "cut_off"):
        wanted = [Curve.of(cut.contour) for cut in last if cut.role == role]
        _, missing, extra = pair(wanted, drawn.curves[role])
        for curve in (*(wanted[i] for i in missing), *(drawn.curves[role][j] for j in extra)):
            text = "the cuts in the skeleton are not drawn as the plan has them"
            place = float(curve.start[0].real), float(curve.start[0].imag)
            yield Violation("skeleton-differs", layout.dxf, text, place)


def _in_order(layout: WrittenLayout) -> Iterator[Violation]:
    """All parts, then the skeleton, then the cut-off, each reached with the head lifted."""
    reached = 0
    for cut in layout.path:
        rank = _RANK.get(cut.role, 0)
        if rank < reached:
            text = f"cut {cut.order} ({cut.role}) comes after cuts that have to come later"
            yield Violation("skeleton-too-early", layout.dxf, text, cut.pierce)
        reached = max(reached, rank)
        if cut.placement == NO_PIECE and not cut.lifted:
            text = f"the head goes to cut {cut.order} in the skeleton not lifted"
            yield Violation("rapid-over-opening", layout.dxf, text, cut.pierce)


def _straight(layout: WrittenLayout, cut: WrittenCut) -> Iterator[Violation]:
    """Lines without leads, an over-cut or a gap, from the pierce on."""
    points = cut.contour.points
    begins = np.abs([points[0] - cut.pierce, points[0] - cut.start]).max() <= SAME_POINT
    ended = cut.lead_out is not None or cut.over_cut or cut.end_gap
    whole = cut.lead is None and not cut.joints and not ended
    plain = whole and not cut.contour.bulges.any()
    if cut.contour.closed or not plain or not begins:
        text = f"cut {cut.order} in the skeleton is no open line that begins where it is pierced"
        yield Violation("cut-differs", layout.dxf, text, cut.pierce)


def _off_parts(
    plan: WrittenPlan, layout: WrittenLayout, cut: WrittenCut, parts: Sequence[BaseGeometry]
) -> Iterator[Violation]:
    """No nearer to a part than the metal between two slots, but where it ends in its slot."""
    line = line_of(Curve.of(cut.contour))
    kerf, apart = plan.spacing.kerf, plan.spacing.spacing + 1.5 * plan.spacing.kerf
    error = kerf * _DEEPER
    for i in shapely.STRtree(list(parts)).query(line, "dwithin", apart - VERIFY):
        rest = line
        if cut.role == "skeleton":
            if line.distance(parts[i]) < kerf - error:
                rest = None
            else:
                rest = _without_ends(line, parts[i], kerf + error, _NEAR_ITS_END * apart)
        if rest is None or rest.distance(parts[i]) < apart - error:
            text = (
                f"cut {cut.order} in the skeleton comes within {line.distance(parts[i]):.3f} mm "
                f"of a part, {apart:.3f} mm are demanded"
            )
            yield Violation("skeleton-too-close", layout.dxf, text, cut.pierce)


def _without_ends(line: BaseGeometry, part: BaseGeometry, slot: float, near: float) -> BaseGeometry:
    """What of a line is left without the surroundings of ends that lie in a part's slot."""
    for end in (line.coords[0], line.coords[-1]):
        if shapely.Point(end).distance(part) <= slot:
            line = line.difference(shapely.Point(end).buffer(near))
    # Of nothing no distance can be asked.
    return line if not line.is_empty else shapely.Point(1e12, 1e12)


def _on_sheet(layout: WrittenLayout, cut: WrittenCut, overrun: float) -> Iterator[Violation]:
    """On the metal, and beyond its edge as far as wished: no farther, and no less."""
    line = line_of(Curve.of(cut.contour))
    sheet = polygon_of(Curve.of(layout.sheet.outline))
    free = sheet.buffer(overrun + _EDGE)
    barred = [polygon_of(Curve.of(c)) for c in layout.sheet.keep_outs]
    if not free.covers(line) or line.intersects(shapely.union_all(barred)):
        text = f"cut {cut.order} in the skeleton leaves the sheet, or runs into a keep-out zone"
        yield Violation("skeleton-off-sheet", layout.dxf, text, cut.pierce)
    elif overrun and _ends_elsewhere(sheet, line, overrun):
        text = f"cut {cut.order} in the skeleton does not end {overrun:g} mm beyond the edge"
        yield Violation("skeleton-off-sheet", layout.dxf, text, cut.pierce)


def _ends_elsewhere(sheet: BaseGeometry, line: BaseGeometry, overrun: float) -> bool:
    """Whether a line ends at or beyond the sheet's edge, but not as far beyond as wished.

    Where it would come back onto the sheet, it has to end at the edge.
    """
    for end, before in (line.coords[:2], line.coords[:-3:-1]):
        if sheet.buffer(-_EDGE / 2).covers(shapely.Point(end)):
            continue  # in a slot
        last = shapely.LineString([before, end])
        out = sheet.intersection(last).distance(shapely.Point(end))
        (x, y), (bx, by) = end, before
        share = (overrun - out) / last.length
        rest = shapely.LineString([end, (x + share * (x - bx), y + share * (y - by))])
        back = share > 0 and sheet.intersection(rest).length > _EDGE / 4
        if abs(out - (0.0 if back else overrun)) > _EDGE:
            return True
    return False


def _pieces(
    plan: WrittenPlan,
    layout: WrittenLayout,
    last: Sequence[WrittenCut],
    parts: Sequence[BaseGeometry],
) -> Iterator[Violation]:
    """Whether remnants are free, and the skeleton falls into what the plan says."""
    metal = _metal(plan, layout, last, parts)
    for remnant in plan.remnants:
        if plan.layouts[remnant.layout] is layout:
            own = polygon_of(Curve.of(remnant.outline))
            free = [m for m in metal if m.intersection(own).area > _DUST]
            metal = [m for m in metal if m not in free]
            astray = sum(m.symmetric_difference(own).area for m in free)
            if len(free) != 1 or astray > _EDGE * own.length:
                text = f"the remnant '{remnant.name}' is not cut free as the plan has it"
                x, y = own.representative_point().coords[0]
                yield Violation("remnant-not-free", layout.dxf, text, (x, y))
    if not layout.skeleton and not any(c.role == "skeleton" for c in last):
        return
    rims = sum(part.length for part in parts)
    yield from _as_listed(plan, layout, metal, rims)


def _metal(
    plan: WrittenPlan,
    layout: WrittenLayout,
    last: Sequence[WrittenCut],
    parts: Sequence[BaseGeometry],
) -> list[BaseGeometry]:
    """What the slots leave in one around the parts."""
    kerf = plan.spacing.kerf
    sheet = polygon_of(Curve.of(layout.sheet.outline))
    gone = [polygon_of(Curve.of(c)) for c in layout.sheet.holes]
    gone += [part.buffer(kerf) for part in parts]
    gone += [line_of(Curve.of(cut.contour)).buffer(kerf / 2) for cut in last]
    left = sheet.difference(shapely.union_all(gone))
    return [m for m in shapely.get_parts(left) if m.area > _DUST]


def _as_listed(
    plan: WrittenPlan, layout: WrittenLayout, metal: Sequence[BaseGeometry], rims: float
) -> Iterator[Violation]:
    """No piece is larger than one that is listed, and they are as much metal as those listed.

    Where slots touch, a piece may be listed that falls apart once more, with the thin metal
    in between, all along the outer contours of the parts (`rims`, in mm): that is safe.
    """
    for piece in metal:
        if not any(_covers(told, piece) for told in layout.skeleton):
            text = f"a piece of skeleton of {piece.area:.1f} mm² is larger than all that are listed"
            yield Violation("skeleton-pieces-differ", layout.dxf, text, _place(piece))
    whole, slack = sum(m.area for m in metal), sum(_EDGE * m.length for m in metal) + _DUST
    said = sum(told.area for told in layout.skeleton)
    astray = not -slack <= said - whole <= slack + _EDGE * rims
    if len(layout.skeleton) > len(metal) or astray:
        text = (
            f"the skeleton is listed as {len(layout.skeleton)} pieces of {said:.1f} mm², it falls "
            f"into {len(metal)} of {whole:.1f} mm²"
        )
        yield Violation("skeleton-pieces-differ", layout.dxf, text)
    for told in layout.skeleton:
        weight = told.area * plan.thickness * plan.density * 1e-6
        if abs(told.weight - weight) > 1e-6 * max(1.0, weight):
            text = f"{told.area:.1f} mm² of skeleton weigh {weight:.4f} kg, not {told.weight:.4f}"
            yield Violation("skeleton-pieces-differ", layout.dxf, text)


def _covers(told: WrittenSkeletonPiece, piece: BaseGeometry) -> bool:
    """Whether a piece is no larger than one that is listed."""
    sides = zip(_sides(piece), told.size, strict=True)
    heavy = piece.area > told.area + _EDGE * piece.length
    return not heavy and all(side <= listed + 2 * _EDGE for side, listed in sides)


def _sides(piece: BaseGeometry) -> tuple[float, float]:
    x0, y0, x1, y1 = piece.bounds
    return x1 - x0, y1 - y0


def _place(piece: BaseGeometry) -> tuple[float, float]:
    x, y = piece.representative_point().coords[0]
    return float(x), float(y)
