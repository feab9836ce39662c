"""The whole check of a written plan, rule by rule."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

from nestlib.model import Verification, Violation
from nestlib.verifying.bundles import (
    bundles_of,
    check_bundles,
    check_saving,
    check_shared_order,
    note_shared,
)
from nestlib.verifying.conditions import check_conditions, check_dates, check_kits
from nestlib.verifying.contours import Matched, match_contours
from nestlib.verifying.costs import check_costs
from nestlib.verifying.counts import check_bound, check_counts, check_figures
from nestlib.verifying.distances import between_pieces, to_sheet
from nestlib.verifying.drawings import check_drawings
from nestlib.verifying.drawn import DrawnLayout, read_drawn
from nestlib.verifying.heat import check_heat
from nestlib.verifying.joints import check_joints
from nestlib.verifying.leads import check_inside_first, check_leads, check_order
from nestlib.verifying.openings import check_openings
from nestlib.verifying.path_figures import check_path_figures
from nestlib.verifying.program_check import check_program, note
from nestlib.verifying.read_written import read_plan
from nestlib.verifying.regions import check_regions
from nestlib.verifying.remnants import check_remnant_figures, check_remnants
from nestlib.verifying.rests import check_rests
from nestlib.verifying.shapes import pieces_of
from nestlib.verifying.shown import check_shown_order
from nestlib.verifying.times import check_times
from nestlib.verifying.turns import check_turns
from nestlib.verifying.unloading import check_unloading
from nestlib.verifying.written import WrittenLayout, WrittenPlan


@dataclass(frozen=True)
class _LayoutResult:
    """What the checks of one layout found."""

    violations: tuple[Violation, ...]
    between_parts: float | None
    to_edge: float | None
    deviation: float
    pieces: int


def verify(folder: str | Path) -> Verification:
    """Check a written plan from its `plan.json` and DXF files alone.

    Parameters
    ----------
    folder : path-like
        The folder of a plan. Drawings that its parts came from are looked for too, and
        a note is made of those that are gone or were changed.

    Returns
    -------
    Verification
        Every violation found, and the smallest distances.

    Raises
    ------
    InputError
        If the folder holds no plan, or its files cannot be understood.
    """
    plan = read_plan(Path(folder))
    results = [_layout(plan, layout) for layout in plan.layouts]
    programs = [check_program(plan, number) for number in range(len(plan.layouts))]
    compared = check_drawings(plan)
    violations = [
        *check_counts(plan),
        *check_figures(plan),
        *check_bound(plan),
        *check_costs(plan),
        *check_saving(plan),
        *check_regions(plan),
        *check_remnant_figures(plan),
        *check_dates(plan),
        *check_kits(plan),
    ]
    for found in [r.violations for r in results] + [p.violations for p in programs]:
        violations += found
    return Verification(
        violations=(*violations, *compared.violations),
        between_parts=_least([r.between_parts for r in results]),
        to_edge=_least([r.to_edge for r in results]),
        largest_deviation=max([compared.largest, *(r.deviation for r in results)]),
        pieces=sum(r.pieces * la.runs for r, la in zip(results, plan.layouts, strict=True)),
        notes=(*compared.notes, *note_shared(plan), *note(plan, programs)),
    )


def _layout(plan: WrittenPlan, layout: WrittenLayout) -> _LayoutResult:
    """Check one layout and its file."""
    path = plan.folder / layout.dxf
    said = (
        *check_turns(plan, layout),
        *check_conditions(plan, layout),
        *check_order(plan, layout),
        *check_inside_first(plan, layout),
        *check_shared_order(plan, layout),
        *check_path_figures(plan, layout),
        *check_heat(plan, layout),
        *check_times(plan, layout),
        *check_openings(plan, layout),
        *check_rests(plan, layout),
    )
    if not path.exists():
        text = "the file of this layout is missing: nothing on it could be checked"
        missing = Violation("layout-missing", layout.dxf, text)
        return _LayoutResult((missing, *said), None, None, 0.0, 0)
    return _with_file(plan, layout, read_drawn(path, plan.layers), said)


def _with_file(
    plan: WrittenPlan, layout: WrittenLayout, drawn: DrawnLayout, said: tuple[Violation, ...]
) -> _LayoutResult:
    """Check one layout's file, given what is wrong with what the plan says of it."""
    pieces, astray = pieces_of(drawn.outers, drawn.curves["inner"])
    matched = match_contours(plan, layout, drawn)
    name = _namer(layout, matched)
    together = bundles_of(layout, matched.owner)
    apart = between_pieces(pieces, plan.spacing, layout.dxf, name, together)
    edge = to_sheet(pieces, layout.sheet, plan.spacing, layout.dxf, name)
    metal = [p.polygon for p in pieces]
    violations = (
        *_file(layout, drawn, len(astray)),
        *matched.violations,
        *apart.violations,
        *edge.violations,
        *said,
        *check_leads(plan, layout, drawn, metal, matched.owner),
        *check_joints(plan, layout, drawn),
        *check_bundles(plan, layout, drawn, pieces, matched.owner),
        *check_shown_order(plan, layout, drawn),
        *check_remnants(plan, layout, drawn),
        *check_unloading(plan, layout, drawn),
    )
    return _LayoutResult(violations, apart.smallest, edge.smallest, matched.largest, len(pieces))


def _namer(layout: WrittenLayout, matched: Matched) -> Callable[[int], str]:
    """Names of the drawn pieces for people."""

    def name(piece: int) -> str:
        if piece not in matched.owner:
            return f"a piece not in the plan (number {piece})"
        placement = matched.owner[piece]
        return f"'{layout.placements[placement].part}' (placement {placement})"

    return name


def _file(layout: WrittenLayout, drawn: DrawnLayout, astray: int) -> Iterator[Violation]:
    """What is wrong with a layout's file as such."""
    for code, text in drawn.faults:
        yield Violation(code, layout.dxf, text)
    for role in ("sheet", "keep_out", "outer", "inner", "remnant", "around", "bundled"):
        if any(not curve.closed for curve in drawn.curves[role]):
            yield Violation("contour-open", layout.dxf, f"a contour drawn as {role} is not closed")
    if astray:
        text = f"{astray} inner contours lie in no outer contour"
        yield Violation("hole-without-part", layout.dxf, text)


def _least(found: list[float | None]) -> float | None:
    return min((f for f in found if f is not None), default=None)
