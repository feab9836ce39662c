"""Cut paths of pieces that share cuts: order, leads, what is loose, times and costs."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from shapely import LineString, Point, Polygon

from nestlib.bundling import patterns, plain_things, single, with_others
from nestlib.cutting import cut_path
from nestlib.model import Contour, Job, Part, Plan, Sheet, Support
from nestlib.model.work import KINDS
from tests.layouts import job_of
from tests.sharing import RIGHT_TRIANGLE, layout_of, metal, sharing_plan

KERF = 0.2
SHEET = Sheet("plate", Contour.rectangle(1000, 500), cost=40.0)
TILE = Part(
    "tile",
    Contour.rectangle(80, 60),
    (Contour.circle((20, 20), 8).reversed(), Contour.circle((60, 40), 8).reversed()),
    quantity=8,
    common_lines=True,
)
GUSSET = Part("gusset", RIGHT_TRIANGLE, quantity=8, common_lines=True)
LONE = Part("lone", Contour.rectangle(70, 50))
JOB = job_of((TILE, GUSSET, LONE), (SHEET,), KERF)


def plan_of(job: Job = JOB, most: int = 4) -> Plan:
    """Tiles two by two, gussets, and a piece by itself."""
    found = [patterns(part, job.spacing, most)[-1] for part in (TILE, GUSSET)]
    layout = layout_of(*found, single("lone", LONE.outer), kerf=KERF, sheet=SHEET)
    return sharing_plan(job, layout)


@pytest.mark.parametrize("order", ["part by part", "sheet by sheet"])
def test_holes_come_first_then_shared_lines_then_the_way_around(order):
    """For each bundle; every hole is cut once, every line once, each piece's contour never."""
    (layout,) = plan_of(replace(JOB, cut_order=order)).layouts
    cuts = layout.path.cuts
    for bundle in layout.bundles:
        when = {role: [i for i, c in enumerate(cuts) if c.role == role
                       and (c.pieces == bundle.placements or c.placement in bundle.placements)]
                for role in ("inner", "shared", "around", "outer")}  # fmt: skip
        part = JOB.part(layout.placements[bundle.placements[0]].part)
        assert len(when["inner"]) == len(part.inners) * len(bundle.placements)
        assert len(when["shared"]) == len(bundle.lines)
        assert len(when["around"]) == 1
        assert not when["outer"]
        assert max([-1, *when["inner"]]) < min(when["shared"])
        assert max(when["shared"]) < when["around"][0]
    assert [c.role for c in cuts].count("outer") == 1
    holes = [(c.placement, c.index) for c in cuts if c.role == "inner"]
    assert len(set(holes)) == len(holes)


def test_holes_of_a_bundle_keep_their_piece_and_number():
    """Each is a circle about where its piece has that hole, by moving its centre by hand."""
    (layout,) = plan_of().layouts
    for cut in (c for c in layout.path.cuts if c.role == "inner"):
        p = layout.placements[cut.placement]
        x, y = ((20, 20), (60, 40))[cut.index]
        turned = (x, y) if p.rotation == 0 else (-x, -y)
        assert cut.contour.points.mean(axis=0) == pytest.approx(
            (turned[0] + p.x, turned[1] + p.y), abs=1e-9
        )


def test_shared_cuts_are_led_in_from_the_waste_and_touch_no_piece():
    """What beam and lead sweep, by shapely, takes nothing from any piece."""
    (layout,) = plan_of().layouts
    pieces = [metal(JOB.part(p.part), p) for p in layout.placements]
    outlines = [Polygon(b.outline.points) for b in layout.bundles]
    shared = [c for c in layout.path.cuts if c.role == "shared"]
    assert shared
    for cut in shared:
        assert cut.lead_in is not None
        assert all(o.distance(Point(cut.pierce)) > KERF for o in outlines)
        run = LineString([*cut.lead_in.points, *cut.contour.points]).buffer(KERF / 2)
        assert all(run.intersection(p).area < 1e-6 for p in pieces)


def test_a_shared_cut_ends_in_the_slot_around_or_in_the_waste():
    """Its end lies half a kerf or more beyond the outline, in what the way around takes away."""
    (layout,) = plan_of().layouts
    for cut in (c for c in layout.path.cuts if c.role == "shared"):
        bundle = next(b for b in layout.bundles if b.placements == cut.pieces)
        outline = Polygon(bundle.outline.points)
        assert outline.distance(Point(cut.end)) == pytest.approx(KERF / 2, abs=1e-9)


def test_two_squares_take_seven_sides_and_two_pierces():
    """By hand 7a + 3k and two leads, in two pierces; singly 8a and two leads."""
    square = Part("square", Contour.rectangle(60, 60), quantity=2, common_lines=True)
    job = job_of((square,), (SHEET,), KERF)
    layout = layout_of(patterns(square, job.spacing, 2)[0], kerf=KERF, sheet=SHEET)
    plan = sharing_plan(job, layout)
    path = plan.layouts[0].path
    leads = math.fsum(c.lead_in.length for c in path.cuts if c.lead_in)
    assert path.cut_length == pytest.approx(7 * 60 + 3 * KERF + leads, abs=1e-9)
    assert (path.pierces, path.shared) == (2, 1)
    saved = plan.saved_in_all
    assert saved is not None
    assert saved.pierces == 0
    assert saved.cut_length == pytest.approx(60 - 3 * KERF, abs=2 * 3.2)  # leads of 3.2 mm at most


def test_no_rapid_crosses_freed_pieces_with_the_head_down():
    """Over what the way around has freed the head is lifted, or goes around it (by shapely)."""
    (layout,) = plan_of().layouts
    free: list[Polygon] = []
    for cut, way in layout.path.rapids:
        if not cut.lifted:
            line = LineString(way)
            assert all(line.intersection(f.buffer(-0.2)).length == 0 for f in free)
        if cut.role in ("around", "outer"):
            free.append(Polygon(cut.contour.points))


def test_the_worst_fate_of_its_pieces_is_that_of_the_way_around():
    """Tiles of 80 x 60 rest on slats 20 mm apart anywhere, and on slats 75 mm apart they tip.

    Two pitches across the slats are needed (see `nestlib.cutting.tipping`); each kind is named
    in the warnings with its number.
    """
    for pitch, fate in ((20.0, "stays"), (75.0, "tips")):
        job = replace(JOB, machine=replace(JOB.machine, support=Support("slats", (pitch, pitch))))
        path = cut_path(layout_of(patterns(TILE, job.spacing, 4)[-1], kerf=KERF, sheet=SHEET), job)
        assert [c.fate for c in path.cuts if c.role == "around"] == [fate]
        assert {c.fate for c in path.cuts if c.role == "shared"} == {None}
        assert any("tile × 4" in w for w in path.warnings) == (fate == "tips")


def test_costs_of_the_parts_add_up_to_the_last_hundredth():
    """What bundles take is paid by their own part: beam time and lengths by hand from the cuts."""
    machine = replace(JOB.machine, hourly_rate=90.0, gas_prices=(("oxygen", 2.0),))
    plan = plan_of(replace(JOB, machine=machine))
    assert plan.work is not None
    for kind in KINDS:
        whole = getattr(plan.work.cost, kind)
        parts = [getattr(c, kind) or 0 for c in plan.work.part_costs.values()]
        assert sum(parts) == (whole or 0)
    (layout,) = plan.layouts
    for name in ("tile", "gusset", "lone"):
        own = [c for c in layout.path.cuts if layout.placements[c.placement].part == name]
        length = math.fsum(c.length + (c.lead_in.length if c.lead_in else 0) for c in own)
        assert plan.work.parts[name].cut_length == pytest.approx(length, abs=1e-9)
        assert plan.work.parts[name].pierces == len(own)


def test_what_different_parts_cut_together_they_pay_together():
    """By hand: strips of 300 x 60 and 300 x 40 pay for the bundle as 720 to 680, a pierce each."""
    wide = Part("wide", Contour.rectangle(300, 60), common_lines=True)
    narrow = Part("narrow", Contour.rectangle(300, 40), common_lines=True)
    job = job_of((wide, narrow), (SHEET,), KERF)
    job = replace(job, machine=replace(job.machine, hourly_rate=90.0))
    (thing,) = with_others(job, plain_things(job), (0, 1), 2)
    assert thing.pattern is not None
    plan = sharing_plan(job, layout_of(thing.pattern, kerf=KERF, sheet=SHEET))
    assert plan.work is not None
    total, parts = plan.work.total, plan.work.parts
    assert parts["wide"].cut_length == pytest.approx(total.cut_length * 720 / 1400, abs=1e-9)
    assert parts["narrow"].cut_length == pytest.approx(total.cut_length * 680 / 1400, abs=1e-9)
    assert {name: effort.pierces for name, effort in parts.items()} == {"wide": 1, "narrow": 1}
    for kind in KINDS:
        costs = [getattr(c, kind) or 0 for c in plan.work.part_costs.values()]
        assert sum(costs) == (getattr(plan.work.cost, kind) or 0)


def test_each_part_of_a_bundle_is_warned_of_by_its_own_name():
    """Strips 15 mm wide stand up between slats 75 mm apart; both are named, by their parts."""
    parts = [Part(n, Contour.rectangle(60, w), common_lines=True)
             for n, w in (("wide", 25), ("narrow", 15))]  # fmt: skip
    job = job_of(parts, (SHEET,), KERF)
    job = replace(job, machine=replace(job.machine, support=Support("slats", (75.0, 75.0))))
    (thing,) = with_others(job, plain_things(job), (0, 1), 2)
    assert thing.pattern is not None
    path = cut_path(layout_of(thing.pattern, kerf=KERF, sheet=SHEET), job)
    assert any("narrow × 1" in w and "wide × 1" in w for w in path.warnings)
