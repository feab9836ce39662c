"""Are the path's numbers, lengths and contours what they say?"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

import numpy as np

from nestlib.model import Violation
from nestlib.tolerances import SAME_POINT
from nestlib.verifying.along import part_of
from nestlib.verifying.contours import contours_of, difference
from nestlib.verifying.curves import Complexes, Curve
from nestlib.verifying.written import NO_PIECE, WrittenCut, WrittenLayout, WrittenPlan

#: Lengths may differ by this in mm, and by this share, since plans may round them.
_ROUNDING, _SHARE = 1e-3, 1e-7


def check_path_figures(plan: WrittenPlan, layout: WrittenLayout) -> Iterator[Violation]:
    """Check the numbers of the cuts, their contours, and the lengths of the whole path.

    Parameters
    ----------
    plan : WrittenPlan
        Holds the parts.
    layout : WrittenLayout
        Its path and its figures.

    Yields
    ------
    Violation
    """
    if [cut.order for cut in layout.path] != list(range(1, len(layout.path) + 1)):
        text = f"the cuts are not numbered 1 to {len(layout.path)} in their order"
        yield Violation("path-misnumbered", layout.dxf, text)
    cut_length = mark_length = 0.0
    for cut in layout.path:
        contour = _contour(plan, layout, cut)
        if contour is None:
            continue
        yield from _one(layout, cut, contour)
        if cut.role == "mark":
            mark_length += contour.length
        else:
            leads = [Curve.of(c).length for c in (cut.lead, cut.lead_out) if c is not None]
            cut_length += contour.length - _uncut(cut) + cut.over_cut + sum(leads)
    travel = _travel(rapids(plan, layout))
    yield from _length(layout, "cut length", layout.cut_length, cut_length)
    yield from _length(layout, "mark length", layout.mark_length, mark_length)
    yield from _length(layout, "rapid length", layout.rapid_length, travel)
    yield from _lifts(plan, layout)


def rapids(plan: WrittenPlan, layout: WrittenLayout) -> Complexes:
    """Return the straight ways of the head with the beam off, shape (n, 2), in mm."""
    return np.array([leg for way in legs(plan, layout) for leg in way], complex).reshape(-1, 2)


def legs(plan: WrittenPlan, layout: WrittenLayout) -> Iterator[list[tuple[complex, complex]]]:
    """Return for each cut the straight ways to it, in mm.

    The first begins at the sheet's (0, 0), each other one where the cut before it ends:
    at its start if its contour is closed, at the other end if it is open; and where its
    over-cut or lead-out ends, or its gap begins, if it has any.
    """
    position = 0j
    for cut in layout.path:
        corners = [position, *(complex(*p) for p in cut.via), complex(*cut.pierce)]
        yield list(pairwise(corners))
        position = end_of(plan, layout, cut)


def end_of(plan: WrittenPlan, layout: WrittenLayout, cut: WrittenCut) -> complex:
    """Return where a cut ends, in mm."""
    return _end(_contour(plan, layout, cut), cut)


def _travel(ways: Complexes) -> float:
    return float(np.abs(ways[:, 1] - ways[:, 0]).sum())


def _uncut(cut: WrittenCut) -> float:
    return sum(joint.gap for joint in cut.joints) + cut.end_gap


def _lifts(plan: WrittenPlan, layout: WrittenLayout) -> Iterator[Violation]:
    """Check how often and how far the head is lifted; older plans do not tell."""
    if layout.lifts is None or layout.lifted_length is None:
        return
    lifted = [w for c, w in zip(layout.path, legs(plan, layout), strict=True) if c.lifted]
    if len(lifted) != layout.lifts:
        text = f"the plan says {layout.lifts} lifts, its path has {len(lifted)}"
        yield Violation("figure-differs", layout.dxf, text)
    ways = np.array([leg for way in lifted for leg in way], complex).reshape(-1, 2)
    yield from _length(layout, "lifted length", layout.lifted_length, _travel(ways))


def _end(contour: Curve | None, cut: WrittenCut) -> complex:
    if cut.lead_out is not None:
        return complex(*cut.lead_out.points[-1])
    start, own = complex(*cut.start), Curve.of(cut.contour)
    if contour is None or contour.closed:
        if cut.over_cut:
            return complex(part_of(own, 0.0, cut.over_cut).end[-1])
        if cut.end_gap:
            return complex(part_of(own, 0.0, own.length - cut.end_gap).end[-1])
        return start
    ends = contour.start[0], contour.end[-1]
    return complex(max(ends, key=lambda z: abs(z - start)))


def _contour(plan: WrittenPlan, layout: WrittenLayout, cut: WrittenCut) -> Curve | None:
    """The contour that is cut, where it lies; None if there is no such contour.

    What pieces share is compared with them in `nestlib.verifying.bundles`; a cut in the
    skeleton is what the plan says that it is.
    """
    if cut.role in ("shared", "around") or cut.placement == NO_PIECE:
        return Curve.of(cut.contour)
    placement = layout.placements[cut.placement]
    contours = contours_of(plan.parts[placement.part].part, cut.role)
    if cut.index >= len(contours):
        return None
    return Curve.of(contours[cut.index]).placed(placement)


def _one(layout: WrittenLayout, cut: WrittenCut, contour: Curve) -> Iterator[Violation]:
    what = f"cut {cut.order}"
    if difference(contour, Curve.of(cut.contour)) > SAME_POINT:
        text = f"{what} does not run along the contour that it names"
        yield Violation("cut-differs", layout.dxf, text, cut.start)
    elif np.abs(cut.contour.points[0] - cut.start).max() > SAME_POINT:
        text = f"the contour of {what} does not begin at the start of the cut"
        yield Violation("cut-differs", layout.dxf, text, cut.start)
    yield from _length(layout, f"length of {what}", cut.length, contour.length - _uncut(cut))


def _length(layout: WrittenLayout, what: str, said: float, true: float) -> Iterator[Violation]:
    if abs(said - true) > max(_ROUNDING, _SHARE * true):
        text = f"{what}: the plan says {said:.3f} mm, its path has {true:.3f} mm"
        yield Violation("length-differs", layout.dxf, text)
