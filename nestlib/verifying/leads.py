"""Is every contour cut once, in a sound order, and does no lead harm a part?"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from nestlib.model import Violation
from nestlib.verifying.along import chain, part_of, run_out
from nestlib.verifying.contours import contours_of, pair
from nestlib.verifying.curves import Curve, point_distances
from nestlib.verifying.drawn import DrawnLayout
from nestlib.verifying.shapes import line_of, polygon_of
from nestlib.verifying.written import WrittenCut, WrittenLayout, WrittenPlan

#: A start point lies this close to its contour, in mm.
_ON_CONTOUR = 1e-6

#: A lead may graze its own part by this much where it meets the contour, in mm.
_GRAZE = 0.005

#: A slot lies beside each contour, so one that keeps off it has its middle so many slots away.
_SLOTS = 1.5

#: Over-cuts and gaps take no more than this share of a contour.
_SHARE = 0.25

_RANK = {"mark": 0, "inner": 1, "outer": 2}
_Cut = tuple[int, str, int]


def check_order(plan: WrittenPlan, layout: WrittenLayout) -> Iterator[Violation]:
    """Check that the path cuts each contour once, marks first and the outer one last.

    What pieces share is checked by `nestlib.verifying.bundles`.

    Parameters
    ----------
    plan : WrittenPlan
        Holds the parts.
    layout : WrittenLayout
        Its placements and its path.

    Yields
    ------
    Violation
    """
    wanted = {
        (number, role, index)
        for number, placement in enumerate(layout.placements)
        for role in _RANK
        for index in range(len(contours_of(plan.parts[placement.part].part, role)))
        if not (role == "outer" and number in layout.sharing)
    }
    own = [c for c in layout.path if c.role in _RANK]
    done = Counter((c.placement, c.role, c.index) for c in own)
    for key in sorted(wanted - done.keys()):
        yield _cut_violation("not-cut", layout, key, "is never cut")
    for key in sorted(done.keys() - wanted):
        yield _cut_violation("cut-unknown", layout, key, "is cut but does not exist")
    for key, times in done.items():
        if times > 1:
            yield _cut_violation("cut-twice", layout, key, f"is cut {times} times")
    latest: dict[int, int] = {}
    for cut in own:
        rank = _RANK[cut.role]
        if rank < latest.get(cut.placement, 0):
            key = (cut.placement, cut.role, cut.index)
            yield _cut_violation(
                "wrong-order", layout, key, "is cut after what has to come later", cut.pierce
            )
        latest[cut.placement] = max(rank, latest.get(cut.placement, 0))


def check_inside_first(plan: WrittenPlan, layout: WrittenLayout) -> Iterator[Violation]:
    """Check that a piece in another's hole is cut before the hole falls out.

    Parameters and yields are those of `check_order`.
    """
    when = {(c.placement, c.role, c.index): i for i, c in enumerate(layout.path)}
    for i, cut in enumerate(layout.path):
        when |= {(number, "outer", 0): i for number in cut.pieces if cut.role == "around"}
    holes = [
        (number, index, polygon_of(Curve.of(hole).placed(placement)))
        for number, placement in enumerate(layout.placements)
        for index, hole in enumerate(plan.parts[placement.part].part.inners)
    ]
    tree = shapely.STRtree([polygon for _, _, polygon in holes])
    for number, placement in enumerate(layout.placements):
        x, y = plan.parts[placement.part].part.outer.points[0]
        start = Curve(np.array([x + 1j * y]), np.array([x + 1j * y]), np.zeros(1), False)
        z = start.placed(placement).start[0]
        for k in tree.query(shapely.Point(z.real, z.imag), predicate="within"):
            around, index, _ = holes[k]
            after = when.get((around, "inner", index), np.inf)
            if around != number and when.get((number, "outer", 0), -1) > after:
                yield _cut_violation(
                    "cut-loose", layout, (number, "outer", 0),
                    f"is cut after the hole it lies in, of placement {around}", (z.real, z.imag),
                )  # fmt: skip


def check_leads(
    plan: WrittenPlan,
    layout: WrittenLayout,
    drawn: DrawnLayout,
    metal: Sequence[BaseGeometry],
    owner: dict[int, int],
) -> Iterator[Violation]:
    """Check the leads as drawn against the plan, the pieces and the sheet.

    Parameters
    ----------
    plan : WrittenPlan
        Holds the parts and the spacing.
    layout : WrittenLayout
        Its path.
    drawn : DrawnLayout
        Its file.
    metal : sequence of shapely geometry
        The pieces as drawn.
    owner : dict of int to int
        Index of a piece -> index of its placement.

    Yields
    ------
    Violation
    """
    wanted = {"lead": _leads_in(layout), "lead_out": _runs_out(layout)}
    for role, some in wanted.items():
        yield from _drawn_as_planned(layout, [c for _, c in some], drawn.curves[role])
    for cut in layout.of_pieces:
        yield from _starts_on_contour(plan, layout, cut)
        yield from _ends_as_wanted(plan, layout, cut)
    led = [one for some in wanted.values() for one in some]
    yield from _apart(plan, layout, led)
    curves = [*drawn.curves["lead"], *drawn.curves["lead_out"]]
    yield from _on_sheet(layout, curves)
    near = _neighbours(curves, metal, _SLOTS * plan.spacing.kerf)
    belongs = _belonging(led, curves)
    for i, j in near:
        line, piece = line_of(curves[i]), metal[j]
        own = j in owner and owner[j] in belongs.get(i, ())
        place = _point(curves[i].start[0])
        if _depth(line, piece) > _GRAZE:
            text = f"a lead runs {_depth(line, piece):.3f} mm into a piece"
            yield Violation("lead-enters-part", layout.dxf, text, place)
        elif not own and line.distance(piece) < _SLOTS * plan.spacing.kerf - _GRAZE:
            text = f"a lead comes within {line.distance(piece):.3f} mm of another piece: its slot"
            yield Violation("lead-too-close", layout.dxf, text, place)


def _leads_in(layout: WrittenLayout) -> list[tuple[WrittenCut, Curve]]:
    return [(c, Curve.of(c.lead)) for c in layout.path if c.lead is not None]


def _runs_out(layout: WrittenLayout) -> list[tuple[WrittenCut, Curve]]:
    """Over-cuts and leads out, each as one curve."""
    found = [(cut, run_out(Curve.of(cut.contour), cut)) for cut in layout.path]
    return [(cut, chain(curves)) for cut, curves in found if curves]


def _ends_as_wanted(
    plan: WrittenPlan, layout: WrittenLayout, cut: WrittenCut
) -> Iterator[Violation]:
    """Over-cut and gap as the job wants them, or a share of a short contour; marks have none."""
    key = (cut.placement, cut.role, cut.index)
    contour = Curve.of(cut.contour)
    for what, said, asked in (
        ("over-cut", cut.over_cut, plan.entry.over_cut),
        ("gap", cut.end_gap, plan.entry.end_gap),
    ):
        wanted = 0.0 if cut.role in ("mark", "shared") else min(asked, _SHARE * contour.length)
        if abs(said - wanted) > _ON_CONTOUR:
            text = f"ends with a {what} of {said:.3f} mm, and {wanted:.3f} mm is wanted"
            yield _cut_violation("end-differs", layout, key, text, cut.start)
    if cut.lead_out is None:
        return
    if cut.role in ("mark", "shared") or plan.entry.lead_out == "none":
        text = "has a lead-out, and none is wanted"
        yield _cut_violation("end-differs", layout, key, text, cut.start)
    leaves = part_of(contour, 0.0, cut.over_cut).end[-1] if cut.over_cut else contour.start[0]
    apart = abs(complex(*cut.lead_out.points[0]) - complex(leaves))
    if apart > _ON_CONTOUR:
        text = f"has a lead-out that begins {apart:.6f} mm from where it ends"
        yield _cut_violation("lead-off-contour", layout, key, text, cut.start)


def _apart(
    plan: WrittenPlan, layout: WrittenLayout, led: Sequence[tuple[WrittenCut, Curve]]
) -> Iterator[Violation]:
    """Leads of different cuts leave a slot's width between their middles."""
    kerf = plan.spacing.kerf
    if not led or kerf <= _GRAZE:
        return
    lines = [line_of(curve) for _, curve in led]
    near = shapely.STRtree(lines).query(lines, predicate="dwithin", distance=kerf - _GRAZE)
    for i, j in near.T.tolist():
        if i < j and led[i][0] is not led[j][0]:
            text = f"the leads of cuts {led[i][0].order} and {led[j][0].order} touch"
            yield Violation("leads-touch", layout.dxf, text, _point(led[i][1].start[0]))


def _drawn_as_planned(
    layout: WrittenLayout, wanted: Sequence[Curve], drawn: Sequence[Curve]
) -> Iterator[Violation]:
    _, missing, extra = pair(wanted, drawn)
    for i in missing:
        text = "a lead is not drawn as the plan has it"
        yield Violation("lead-differs", layout.dxf, text, _point(wanted[i].start[0]))
    for j in extra:
        text = "a lead is drawn that the plan does not have"
        yield Violation("lead-differs", layout.dxf, text, _point(drawn[j].start[0]))


def _starts_on_contour(
    plan: WrittenPlan, layout: WrittenLayout, cut: WrittenCut
) -> Iterator[Violation]:
    """The beam has to reach the contour, an open one at its end, and to begin with the lead."""
    placement = layout.placements[cut.placement]
    if cut.role in ("shared", "around"):
        contour = Curve.of(cut.contour)
    else:
        contours = contours_of(plan.parts[placement.part].part, cut.role)
        if cut.index >= len(contours):
            return
        contour = Curve.of(contours[cut.index]).placed(placement)
    path = [cut.start] if cut.lead is None else [cut.lead.points[-1], cut.start]
    apart = point_distances(np.array([complex(*p) for p in path]), contour).max()
    if not contour.closed:
        ends = np.array([contour.start[0], contour.end[-1]])
        apart = max(apart, np.abs(ends - complex(*cut.start)).min())
    begin = cut.start if cut.lead is None else cut.lead.points[0]
    apart = max(apart, abs(complex(*begin) - complex(*cut.pierce)))
    if apart > _ON_CONTOUR:
        key = (cut.placement, cut.role, cut.index)
        text = f"does not begin on its contour, by {apart:.6f} mm"
        yield _cut_violation("start-off-contour", layout, key, text, cut.start)


def _on_sheet(layout: WrittenLayout, leads: Sequence[Curve]) -> Iterator[Violation]:
    sheet = layout.sheet
    free = polygon_of(Curve.of(sheet.outline)).buffer(_GRAZE)
    for contour in (*sheet.holes, *sheet.keep_outs):
        free = free.difference(polygon_of(Curve.of(contour)).buffer(-_GRAZE))
    shapely.prepare(free)
    for curve in leads:
        if not free.covers(line_of(curve)):
            text = "a lead leaves the sheet or its free metal"
            yield Violation("lead-off-sheet", layout.dxf, text, _point(curve.start[0]))


def _neighbours(
    leads: Sequence[Curve], metal: Sequence[BaseGeometry], distance: float
) -> list[tuple[int, int]]:
    """Pairs of a lead and a piece that it comes near."""
    if not leads or not metal:
        return []
    lines = [line_of(c) for c in leads]
    found = shapely.STRtree(metal).query(lines, predicate="dwithin", distance=distance)
    return [(int(i), int(j)) for i, j in found.T]


def _belonging(
    led: Sequence[tuple[WrittenCut, Curve]], leads: Sequence[Curve]
) -> dict[int, tuple[int, ...]]:
    """Index of a drawn lead -> the placements of the pieces that it leads to."""
    pairs, _, _ = pair([curve for _, curve in led], leads)
    return {j: led[i][0].pieces or (led[i][0].placement,) for i, (j, _) in pairs.items()}


def _depth(line: BaseGeometry, piece: BaseGeometry) -> float:
    """How deep a line runs into a piece, in mm."""
    within = line.intersection(piece)
    if within.length <= _GRAZE:
        return 0.0
    points = shapely.points(shapely.get_coordinates(shapely.segmentize(within, 0.25)))
    return float(shapely.distance(points, piece.boundary).max())


def _cut_violation(
    code: str,
    layout: WrittenLayout,
    key: _Cut,
    text: str,
    place: tuple[float, float] | None = None,
) -> Violation:
    number, role, index = key
    part = layout.placements[number].part
    return Violation(
        code, layout.dxf, f"{role} contour {index} of '{part}' (placement {number}) {text}", place
    )


def _point(z: complex) -> tuple[float, float]:
    return float(z.real), float(z.imag)
