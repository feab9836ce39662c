"""Is what a plan promises to be left of a sheet really left of it?"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import combinations

import shapely

from nestlib.model import Violation
from nestlib.tolerances import VERIFY
from nestlib.verifying.contours import pair
from nestlib.verifying.curves import Curve
from nestlib.verifying.distances import piece_distance, reaches_beyond
from nestlib.verifying.drawn import DrawnLayout
from nestlib.verifying.shapes import Piece, exact_distance, joined, line_of, pieces_of, polygon_of
from nestlib.verifying.written import WrittenLayout, WrittenPlan, WrittenRemnant

#: Areas may differ by this share, since plans may round them.
_ROUNDING = 1e-5


def check_remnant_figures(plan: WrittenPlan) -> Iterator[Violation]:
    """Check what a plan says of its remnants besides where they lie.

    Parameters
    ----------
    plan : WrittenPlan
        As written.

    Yields
    ------
    Violation
    """
    for remnant in plan.remnants:
        layout = plan.layouts[remnant.layout]
        what = f"the remnant '{remnant.name}'"
        if (remnant.sheet, remnant.runs) != (layout.sheet.name, layout.runs):
            text = (
                f"{what} is said to be of {remnant.runs} x '{remnant.sheet}', "
                f"its layout cuts {layout.runs} x '{layout.sheet.name}'"
            )
            yield Violation("remnant-differs", layout.dxf, text)
        area = abs(Curve.of(remnant.outline).area)
        if abs(remnant.area - area) > _ROUNDING * max(1.0, area):
            text = f"{what}: the plan says {remnant.area:g} mm², its outline gives {area:g} mm²"
            yield Violation("remnant-area-differs", layout.dxf, text)


def check_remnants(
    plan: WrittenPlan, layout: WrittenLayout, drawn: DrawnLayout
) -> Iterator[Violation]:
    """Check the remnants of one layout against its sheet, pieces, leads and file.

    Parameters
    ----------
    plan : WrittenPlan
        Holds the remnants and the spacing.
    layout : WrittenLayout
        What they are left of.
    drawn : DrawnLayout
        Its file.

    Yields
    ------
    Violation
    """
    kept = [r for r in plan.remnants if plan.layouts[r.layout] is layout]
    yield from _drawn_as_planned(layout, kept, drawn)
    if not kept:
        return
    regions, _ = pieces_of([Curve.of(r.outline) for r in kept], [])
    # What lies in the hole of a piece falls out with it: only outer contours count.
    pieces, _ = pieces_of(drawn.outers, [])
    leads = [*drawn.curves["lead"], *drawn.curves["lead_out"]]
    for remnant, region in zip(kept, regions, strict=True):
        yield from _on_sheet(layout, remnant, region)
        yield from _beside_pieces(plan, layout, remnant, region, pieces)
        yield from _beside_leads(plan, layout, remnant, region, leads)
    for (one, a), (other, b) in combinations(zip(kept, regions, strict=True), 2):
        shared = float(a.polygon.intersection(b.polygon).area)
        if shared > VERIFY * a.outer.length:
            text = f"the remnants '{one.name}' and '{other.name}' share {shared:.4g} mm²"
            yield Violation("remnants-overlap", layout.dxf, text, _place(a))


def _drawn_as_planned(
    layout: WrittenLayout, kept: Sequence[WrittenRemnant], drawn: DrawnLayout
) -> Iterator[Violation]:
    wanted, found = [Curve.of(r.outline) for r in kept], drawn.curves["remnant"]
    _, missing, extra = pair(wanted, found)
    for i in missing:
        text = f"the remnant '{kept[i].name}' is not drawn as the plan has it"
        yield Violation("remnant-differs", layout.dxf, text, _point(wanted[i]))
    for j in extra:
        text = "a remnant is drawn that the plan does not have"
        yield Violation("remnant-differs", layout.dxf, text, _point(found[j]))


def _on_sheet(layout: WrittenLayout, remnant: WrittenRemnant, region: Piece) -> Iterator[Violation]:
    edges = [Curve.of(c) for c in (layout.sheet.outline, *layout.sheet.holes)]
    edges += [Curve.of(c) for c in layout.sheet.keep_outs]
    metal, *blocked = [polygon_of(c) for c in edges]
    for hole in blocked:
        metal = metal.difference(hole)
    if reaches_beyond(region, metal, max(c.flat[1] for c in edges)):
        text = f"the remnant '{remnant.name}' does not lie within the free metal of its sheet"
        yield Violation("remnant-off-sheet", layout.dxf, text, _place(region))


def _beside_pieces(
    plan: WrittenPlan,
    layout: WrittenLayout,
    remnant: WrittenRemnant,
    region: Piece,
    pieces: Sequence[Piece],
) -> Iterator[Violation]:
    needed = plan.spacing.between_parts
    error = max((p.error for p in pieces), default=0.0) + region.error
    near = shapely.STRtree([p.polygon for p in pieces]).query(
        region.polygon, predicate="dwithin", distance=needed + error
    )
    for j in near:
        distance = piece_distance(region, pieces[j])
        if distance < needed - VERIFY:
            text = (
                f"the remnant '{remnant.name}' is {distance:.6f} mm from a piece; "
                f"{needed:.6f} mm are demanded"
            )
            yield Violation("remnant-too-close", layout.dxf, text, _place(pieces[j]))


def _beside_leads(
    plan: WrittenPlan,
    layout: WrittenLayout,
    remnant: WrittenRemnant,
    region: Piece,
    leads: Sequence[Curve],
) -> Iterator[Violation]:
    needed = plan.spacing.kerf
    for lead in leads:
        slack = region.error + lead.flat[1]
        distance = float(region.polygon.distance(line_of(lead)))
        if 0 < distance < needed + slack:
            distance = exact_distance(joined([lead]), region.edge, distance + slack)
        if distance < needed - VERIFY:
            text = (
                f"the remnant '{remnant.name}' is {distance:.6f} mm from a lead; "
                f"{needed:.6f} mm are demanded"
            )
            yield Violation("remnant-too-close", layout.dxf, text, _point(lead))


def _place(piece: Piece) -> tuple[float, float]:
    centre = piece.polygon.representative_point()
    return float(centre.x), float(centre.y)


def _point(curve: Curve) -> tuple[float, float]:
    return float(curve.start[0].real), float(curve.start[0].imag)
