"""Remnants cut off and skeletons cut up: worked by hand, and against shapely's polygons."""

from dataclasses import replace

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import LineString, Point, box
from shapely.ops import polygonize, unary_union

from nestlib.costing import work
from nestlib.cutting import cut_path, with_unloading
from nestlib.cutting.cut_off import run_on
from nestlib.geometry import placed
from nestlib.model import Bound, Contour, Layout, Part, Placement, Plan, Sheet, Unloading
from nestlib.packing import leftover
from nestlib.packing.leftovers import staircase
from tests.layouts import LASER, job_of

PLATE = Part("plate", Contour.rectangle(200, 200))
DISC = Part("disc", Contour.circle((40, 40), 40))
SHEET = Sheet("sheet", Contour.rectangle(1000, 500), cost=50.0)
KERF, SPACING = 0.2, 3.0


def taken_apart(placements, unloading, sheet=SHEET, remnant_size=100.0):
    """A layout of these placements with its last cuts, and its job."""
    job = replace(job_of((PLATE, DISC), (sheet,)), unloading=unloading)
    layout = Layout(sheet, tuple(placements))
    path = cut_path(layout, job)
    used = [placed(job.part(p.part).outer, p) for p in placements]
    used += [cut.lead_in for cut in path.cuts if cut.lead_in is not None]
    stepped = unloading.cut_off == "stepped"
    kept = leftover(sheet, used, job.spacing, remnant_size, "kept", stepped=stepped)
    layout = replace(layout, path=path, remnants=(kept,) if kept else ())
    return replace(layout, path=with_unloading(layout, job)), job


def lines(layout, role):
    """Cuts of one kind as shapely has them."""
    return [LineString(c.contour.points) for c in layout.path.cuts if c.role == role]


def grid(columns, rows):
    """Plates and discs in turn, as dense as the spacing allows."""
    step = 200 + SPACING + 2 * KERF
    cells = [(i, j) for i in range(columns) for j in range(rows)]
    return [
        Placement("disc" if (i + j) % 3 == 2 else "plate", 0, False, 12 + i * step, 12 + j * step)
        for i, j in cells
    ]


def test_a_straight_cut_off_by_hand():
    """Plate to x = 210, slot to 210.2, 3 mm of metal, then a slot of 0.2 about 213.3 (or
    further, where the lead-in reaches); right of it more is left than above."""
    layout, _ = taken_apart([Placement("plate", 0, False, 10, 10)], Unloading("straight"))
    (cut,) = lines(layout, "cut_off")
    lead = max(c.lead_in.bounds[2] for c in layout.path.cuts if c.lead_in is not None)
    x = max(210.0, lead) + SPACING + 2 * KERF - KERF / 2
    np.testing.assert_allclose(sorted(cut.coords), [(x, 0), (x, 500)], atol=1e-9)
    assert layout.remnants[0].area == pytest.approx((1000 - x - KERF / 2) * 500)
    assert layout.path.cuts[-1].role == "cut_off"


def test_cuts_run_on_beyond_the_edge_by_hand():
    """4 mm below and above the sheet, along the same line; the remnant stays what it is."""
    places = [Placement("plate", 0, False, 10, 10)]
    layout, _ = taken_apart(places, Unloading("straight", None, 400.0))
    longer, _ = taken_apart(places, Unloading("straight", None, 400.0, 4.0))
    (cut,), (beyond,) = lines(layout, "cut_off"), lines(longer, "cut_off")
    assert beyond.length == pytest.approx(cut.length + 8)
    assert beyond.bounds[1::2] == pytest.approx((-4, 504))
    assert longer.remnants[0].area == layout.remnants[0].area
    assert longer.path.skeleton == layout.path.skeleton
    ends = [Point(p) for line in lines(longer, "skeleton") for p in line.coords]
    edge = box(0, 0, 1000, 500)
    assert not [p for p in ends if edge.exterior.distance(p) < 1]
    assert [p for p in ends if edge.distance(p) == pytest.approx(4)]


def test_a_cut_does_not_run_back_onto_the_sheet():
    """In the corner of a slit that is 3 mm wide it ends at the edge, at its other end not."""
    slit = [(0, 0), (100, 0), (100, 48), (60, 48), (60, 51), (100, 51), (100, 100), (0, 100)]
    line = Contour([(80, 0), (80, 48)], closed=False)
    found = run_on(line, Sheet("slit", Contour(slit)), 4.0)
    np.testing.assert_allclose(found.points, [(80, -4), (80, 48)])


def test_a_stepped_cut_off_by_hand():
    """An L around the plate: the sheet less a corner as large as plate, slots and metal."""
    sheet = replace(SHEET, outline=Contour.rectangle(1000, 500))
    used = [Contour.rectangle(200, 200)]
    spacing = job_of((PLATE,)).spacing
    kept = leftover(sheet, used, spacing, 100, "kept", stepped=True)
    assert kept.area == pytest.approx(1000 * 500 - 203.4 * 203.4)
    layout = replace(Layout(sheet, (Placement("plate", 0, False, 0, 0),)), remnants=(kept,))
    job = replace(job_of((PLATE,), (sheet,)), unloading=Unloading("stepped"))
    (cut,) = lines(replace(layout, path=with_unloading(layout, job)), "cut_off")
    corners = {(0.0, 203.3), (203.3, 203.3), (203.3, 0.0)}
    assert {(round(x, 6), round(y, 6)) for x, y in cut.coords} == corners
    assert cut.distance(box(0, 0, 200, 200)) == pytest.approx(SPACING + 1.5 * KERF)


points = st.tuples(st.floats(0, 1000).map(round), st.floats(0, 600).map(round))


@settings(max_examples=60, deadline=None, derandomize=True)
@given(st.lists(points, min_size=1, max_size=12), st.sampled_from([50.0, 120.0, 300.0]))
def test_beyond_a_staircase_nothing_is_used_and_nothing_is_narrow(ends, least):
    """What is left covers none of the boxes, and an opening by a square (mathematical
    morphology, by shapely's mitred buffers) changes nothing of it."""
    used = [box(0, 0, x, y) for x, y in ends]
    steps = [box(0, 0, x, y) for x, y in staircase((0, 0, 1000, 600), ends, least)]
    left = box(0, 0, 1000, 600).difference(unary_union(steps))
    assert left.intersection(unary_union(used)).area == pytest.approx(0, abs=1e-6)
    half = least / 2 * (1 - 1e-9)
    opened = left.buffer(-half, join_style="mitre").buffer(half, join_style="mitre", mitre_limit=9)
    assert opened.intersection(left).area == pytest.approx(left.area, rel=1e-6)


@pytest.mark.parametrize(
    "unloading",
    [
        Unloading("straight", 0.6),
        Unloading("stepped", None, 250.0),
        Unloading("straight", 0.4, 300.0),
    ],
)
def test_pieces_are_below_the_limit_and_those_that_shapely_polygonizes(unloading):
    """The faces of the drawing of all slots, but parts and remnants, are the pieces."""
    layout, job = taken_apart(grid(3, 2), unloading)
    slots = [placed(job.part(p.part).outer, p) for p in layout.placements]
    shapes = [
        Point(*c.points.mean(axis=0)).buffer(40 + KERF / 2, quad_segs=64)
        if c.is_circle
        else shapely.Polygon(c.points).buffer(KERF / 2)
        for c in slots
    ]
    edges = [box(0, 0, 1000, 500).exterior, *(s.exterior for s in shapes)]
    cuts = lines(layout, "skeleton") + lines(layout, "cut_off")
    longer = [_longer(line, 3 * KERF) for line in cuts]
    faces = [f for f in polygonize(unary_union([*edges, *longer])) if f.area > 1]
    kept = [shapely.Polygon(r.outline.points) for r in layout.remnants]
    faces = [
        f for f in faces if not any(f.representative_point().within(p) for p in (*shapes, *kept))
    ]
    inside = [f for f in faces if f.within(box(0, 0, 1000, 500).buffer(1e-6))]
    assert len(inside) == len(layout.path.skeleton) > 1
    # Drawn through the middle of each slot, a face is at most half a slot larger all around.
    for face, piece in zip(
        sorted(inside, key=lambda f: -f.area),
        sorted(layout.path.skeleton, key=lambda p: -p.area),
        strict=True,
    ):
        assert 0 <= face.area - piece.area < KERF * face.length
    for piece in layout.path.skeleton:
        assert job.metal.weight(piece.area) <= (unloading.piece_weight or 99)
        assert max(piece.size) <= (unloading.piece_size or 9e9)
    assert not [w for w in layout.path.warnings if "larger than wished" in w]


def _longer(line, by):
    """A line that reaches into the slots at its ends."""
    points = np.array(line.coords)
    first = (points[0] - points[1]) / np.hypot(*(points[0] - points[1]))
    last = (points[-1] - points[-2]) / np.hypot(*(points[-1] - points[-2]))
    return LineString([points[0] + by * first, *points[1:-1], points[-1] + by * last])


def test_skeleton_cuts_keep_off_all_parts_but_those_in_whose_slots_they_end():
    """A whole slot from these, the metal between two slots from all others."""
    layout, job = taken_apart(grid(4, 2), Unloading("straight", 0.3))
    metal = [shapely.Polygon(_flat(placed(job.part(p.part).outer, p))) for p in layout.placements]
    cuts = lines(layout, "skeleton")
    assert len(cuts) > 3
    for cut in cuts:
        for part in metal:
            ends = min(Point(p).distance(part) for p in cut.coords)
            needed = KERF if ends < KERF * 1.1 else SPACING + 1.5 * KERF
            assert cut.distance(part) > needed - 0.02


@pytest.mark.parametrize(
    "unloading", [Unloading("straight", 0.6), Unloading("stepped", None, 250.0)]
)
def test_skeleton_cuts_pierce_off_finished_parts_and_say_where_they_cannot(unloading):
    """The beam comes on at the end farther from all parts, by shapely; a pierce spatters
    (common practice, no source)."""
    layout, job = taken_apart(grid(3, 2), unloading)
    outlines = [_flat(placed(job.part(p.part).outer, p)) for p in layout.placements]
    parts = unary_union([shapely.Polygon(outline) for outline in outlines])
    cuts = lines(layout, "skeleton")
    begins, ends = ([parts.distance(Point(c.coords[k])) for c in cuts] for k in (0, -1))
    assert len(cuts) > 1
    assert all(a >= b - 0.01 for a, b in zip(begins, ends, strict=True))
    near = sum(a < 2 * KERF for a in begins)
    told = [w for w in layout.path.warnings if "pierce beside a finished piece" in w]
    assert len(told) == (near > 0)
    assert all(f": {near};" in w for w in told)


def _flat(contour):
    if not contour.is_circle:
        return contour.points
    return shapely.get_coordinates(Point(*contour.points.mean(axis=0)).buffer(40, quad_segs=64))


def test_what_cannot_be_made_smaller_is_said():
    """A rim that is thinner than the distance that a cut has to keep on both sides."""
    sheet = Sheet("tight", Contour.rectangle(202, 202))
    tight = [Placement("plate", 0, False, 1, 1)]
    wishes = Unloading("straight", None, 100.0)
    layout, _ = taken_apart(tight, wishes, sheet, remnant_size=1000.0)
    pieces = layout.path.skeleton
    smaller = all(max(p.size) <= 100 for p in pieces)
    assert smaller != any("stay larger than wished" in w for w in layout.path.warnings)


def test_what_the_last_cuts_take_is_shared_by_area():
    """A disc of π 40² mm² and a plate of 200² mm² pay in this proportion, and the sum is
    exact; worked out here from the times of the cuts alone."""
    places = [Placement("plate", 0, False, 12, 12), Placement("disc", 0, False, 230, 12)]
    layout, job = taken_apart(places, Unloading("straight", 0.5))
    # Expensive enough that a hundredth is nothing.
    job = replace(job, machine=replace(LASER, hourly_rate=36000.0))
    plan = Plan(job, (layout,), (), Bound(1, 50.0, ""))
    made = work(plan)
    shared = sum(
        e.beam for c, e in zip(layout.path.cuts, made.cuts[0], strict=True) if not c.of_piece
    )
    assert shared > 1
    areas = {"plate": 200.0**2, "disc": np.pi * 40**2}
    for name, area in areas.items():
        seconds = made.parts[name].beam + shared * area / sum(areas.values())
        assert made.part_costs[name].cutting == pytest.approx(10.0 * 100 * seconds, abs=1.01)
    assert sum(c.total for c in made.part_costs.values()) == made.cost.total


def test_nothing_changes_unless_it_is_asked_for():
    """The path of a job that says nothing of skeleton or remnant is that of its parts."""
    layout, job = taken_apart(grid(2, 2), Unloading())
    assert layout.path.skeleton == ()
    assert all(cut.of_piece for cut in layout.path.cuts)
    assert with_unloading(layout, job) is layout.path


WEDGE = Part("wedge", Contour([(0, 0), (150, 0), (75, 75), (150, 150), (75, 225), (-75, 75)]))


def wedges():
    """Hooks that lie askew, whose openings narrow down, beside plates and discs."""
    hooks = [(90, 12), (90, 250), (330, 12), (330, 250)]
    plates = [(560, 12), (560, 260)]
    return [Placement("wedge", 0, False, x, y) for x, y in hooks] + [
        Placement("plate", 0, False, x, y) for x, y in plates
    ]


@pytest.mark.parametrize("size", [120.0, 200.0, 450.0])
@pytest.mark.parametrize("heavy", [None, 0.2])
def test_each_cut_of_the_skeleton_is_worth_making(size, heavy):
    """Made one by one by shapely, each that divides a region takes at least a tenth of its area
    or of a side too long, or leaves nothing of it too large: our own rule, told in the guide."""
    parts = (PLATE, WEDGE)
    job = replace(job_of(parts, (SHEET,)), unloading=Unloading("straight", heavy, size))
    layout = Layout(SHEET, tuple(wedges()))
    layout = replace(layout, path=cut_path(layout, job))
    layout = replace(layout, path=with_unloading(layout, job))
    outers = [shapely.Polygon(placed(job.part(p.part).outer, p).points) for p in wedges()]
    left = [box(0, 0, 1000, 500).difference(unary_union(outers).buffer(KERF))]
    divided = 0
    for cut in lines(layout, "skeleton"):
        slot = cut.buffer(KERF / 2 + 0.01)
        after = [g for piece in left for g in shapely.get_parts(piece.difference(slot))]
        for piece in left:
            within = [g for g in after if g.area > 1 and piece.covers(g.representative_point())]
            if len(within) > 1:
                divided += 1
                over = [g for g in within if _over(g, job)]
                assert not over or _smaller(within, piece, size)
        left = [g for g in after if g.area > 1]
    assert divided >= 1


def _smaller(found, whole, size):
    """Whether all that is left of a region lacks a tenth of its area or of a side too long."""
    slack = 0.901
    sides = [max(_sides(g)[axis] for g in found) for axis in (0, 1)]
    shorter = any(
        was > size and now < slack * was for was, now in zip(_sides(whole), sides, strict=True)
    )
    return shorter or max(g.area for g in found) < slack * whole.area


def _sides(metal):
    x0, y0, x1, y1 = metal.bounds
    return x1 - x0, y1 - y0


def _over(metal, job):
    """Whether a piece weighs or measures more than wished."""
    wished = job.unloading
    heavy = job.metal.weight(metal.area) > (wished.piece_weight or 1e9)
    return heavy or max(_sides(metal)) > wished.piece_size
