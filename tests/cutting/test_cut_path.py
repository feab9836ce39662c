"""Order and leads, checked by shapely on a flattening of the test's own."""

import itertools
import math
from dataclasses import replace

import numpy as np
import pytest
import shapely
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from nestlib.cutting import cut_path
from nestlib.geometry import placed
from nestlib.model import Contour, Job, Layout, Part, Placement, Sheet
from tests.layouts import BRACKET, DISC, JOB, RING, SHEET, job_of, mixed_layout, shifted
from tests.shapes import parts, slot

#: Chord of the flattening below, in mm: what the distances may be off by.
CHORD = 1e-4


def points_along(contour: Contour) -> list[tuple[float, float]]:
    """Vertices of lines within CHORD of a contour, by centre and angle."""
    found = []
    for a, b, bulge in zip(*contour.segments, strict=True):
        found.append(tuple(a))
        if abs(bulge) < 1e-12:
            continue
        a, b = complex(*a), complex(*b)
        centre = (a + b) / 2 + 1j * (b - a) * (1 - bulge**2) / (4 * bulge)
        angle = 4 * math.atan(bulge)
        n = math.ceil(abs(angle) / (2 * math.acos(1 - min(1, CHORD / abs(a - centre))))) + 1
        for k in range(1, n):
            z = centre + (a - centre) * complex(math.cos(angle * k / n), math.sin(angle * k / n))
            found.append((z.real, z.imag))
    return found if contour.closed else [*found, tuple(contour.points[-1])]


def metal_of(part: Part, placement: Placement) -> shapely.Polygon:
    """The piece without its holes."""
    outer, *inners = (points_along(placed(c, placement)) for c in (part.outer, *part.inners))
    return shapely.Polygon(outer, inners)


def assert_leads_touch_nothing(layout: Layout, job: Job) -> None:
    """Every lead meets its contour, and lies in the waste off the slots of other pieces."""
    metal = [metal_of(job.part(p.part), p) for p in layout.placements]
    sheet = shapely.Polygon(points_along(layout.sheet.outline))
    closed = [
        shapely.Polygon(points_along(c)) for c in (*layout.sheet.holes, *layout.sheet.keep_outs)
    ]
    for cut in layout.path.cuts:
        if cut.lead_in is not None:
            assert cut.lead_in.points[-1].tolist() == cut.contour.points[0].tolist()
        own = metal[cut.placement]
        others = shapely.union_all([m for i, m in enumerate(metal) if i != cut.placement])
        for lead, far in ((cut.lead_in, cut.pierce), (cut.lead_out, cut.end)):
            if lead is None:
                continue
            line = shapely.LineString(points_along(lead))
            assert others.is_empty or line.distance(others) >= 1.5 * job.spacing.kerf - CHORD
            assert line.intersection(own).length <= 0.02 * line.length
            assert shapely.Point(far).distance(own) > 0.1 * line.length
            assert sheet.covers(line)
            assert all(line.disjoint(c) for c in closed)


def assert_order_holds(layout: Layout, job: Job) -> None:
    """Marks first; holes before outer contours; nothing lies in a hole that is cut."""
    cuts = layout.path.cuts
    when = {(c.placement, c.role, c.index): i for i, c in enumerate(cuts)}
    wanted = [
        (n, role, i)
        for n, p in enumerate(layout.placements)
        for role, group in (
            ("mark", job.part(p.part).marks),
            ("inner", job.part(p.part).inners),
            ("outer", (job.part(p.part).outer,)),
        )
        for i in range(len(group))
    ]
    assert set(when) == set(wanted)
    assert len(cuts) == len(wanted)
    roles = [c.role for c in cuts]
    assert "mark" not in roles[roles.count("mark") :]
    holes = [c for c in cuts if c.role == "inner"]
    for hole in holes:
        at = when[hole.placement, "inner", hole.index]
        assert at < when[hole.placement, "outer", 0]
        inside = shapely.Polygon(points_along(hole.contour))
        for cut in cuts:
            if cut.placement != hole.placement and inside.covers(
                shapely.Point(cut.contour.points[0])
            ):
                assert when[cut.placement, cut.role, cut.index] < at


def with_path(layout: Layout, job: Job) -> Layout:
    """The same layout with its path."""
    return Layout(layout.sheet, layout.placements, layout.runs, cut_path(layout, job))


def test_a_mixed_layout_is_cut_in_a_safe_order():
    """Marks, then pieces in a hole before the hole, then holes before outer contours."""
    layout = with_path(mixed_layout(), JOB)
    assert_order_holds(layout, JOB)
    ring_hole = next(
        i for i, c in enumerate(layout.path.cuts) if (c.placement, c.role) == (0, "inner")
    )
    inside = [i for i, c in enumerate(layout.path.cuts) if c.placement in (1, 2)]
    assert max(inside) < ring_hole


def test_leads_of_a_mixed_layout_touch_no_part():
    """Each contour has one; independent distances keep the kerf, chord 1e-4 mm."""
    layout = with_path(mixed_layout(), JOB)
    assert layout.path.warnings == ()
    assert all(c.lead_in for c in layout.path.cuts if c.role != "mark")
    assert all(c.lead_in is None for c in layout.path.cuts if c.role == "mark")
    assert_leads_touch_nothing(layout, JOB)


def test_pieces_three_deep_are_cut_from_the_inside():
    """A disc in a ring in a ring: the innermost outer contour comes first."""
    wide = Part(
        "wide", Contour.circle((150, 150), 150), (Contour.circle((150, 150), 130).reversed(),)
    )
    job = job_of((wide, RING, DISC))
    spots = ("wide", 20.0), ("ring", 70.0), ("disc", 155.0)
    layout = with_path(
        Layout(job.sheets[0], tuple(Placement(n, 0.0, False, at, at) for n, at in spots)), job
    )
    order = [(layout.placements[c.placement].part, c.role) for c in layout.path.cuts]
    assert order == [
        ("disc", "outer"),
        ("ring", "inner"),
        ("ring", "outer"),
        ("wide", "inner"),
        ("wide", "outer"),
    ]
    assert_leads_touch_nothing(layout, job)


@pytest.mark.parametrize("flip", [False, True])
def test_the_piece_lies_to_the_right_of_the_travel(flip):
    """Outer contours run clockwise and holes counter-clockwise, flipped or not."""
    layout = Layout(JOB.sheets[0], (Placement("bracket", 30.0, flip, 300, 200),))
    for cut in cut_path(layout, JOB).cuts:
        if cut.role != "mark":
            assert (cut.contour.signed_area > 0) == (cut.role == "inner")


def test_contours_stay_what_they_are():
    """Length and area within 1e-9 of the part's; circles stay circles."""
    layout = with_path(mixed_layout(), JOB)
    for cut in layout.path.cuts:
        part = JOB.part(layout.placements[cut.placement].part)
        drawn = {"mark": part.marks, "inner": part.inners, "outer": (part.outer,)}[cut.role][
            cut.index
        ]
        assert cut.contour.length == pytest.approx(drawn.length, rel=1e-9)
        assert cut.contour.area == pytest.approx(drawn.area, rel=1e-9)
        assert cut.contour.is_circle == drawn.is_circle
        assert cut.contour.closed == drawn.closed


def test_a_small_hole_is_pierced_in_its_middle():
    """A hole of 3 mm across: the pierce point is its centre, within 1e-9 mm."""
    part = Part("tag", Contour.rectangle(40, 20), (Contour.circle((10, 10), 1.5).reversed(),))
    job = job_of((part,))
    path = cut_path(Layout(job.sheets[0], (Placement("tag", 0.0, False, 100, 100),)), job)
    np.testing.assert_allclose(path.cuts[0].pierce, (110, 110), atol=1e-9)


def test_a_narrow_slot_is_pierced_on_its_middle_line():
    """A slot 1 mm wide has room for a lead of almost half its width, within 0.1 mm."""
    part = Part("tag", Contour.rectangle(60, 20), (shifted(slot(30, 1), 15, 9.5).reversed(),))
    job = job_of((part,))
    layout = with_path(Layout(job.sheets[0], (Placement("tag", 0.0, False, 100, 100),)), job)
    assert layout.path.cuts[0].pierce[1] == pytest.approx(110, abs=0.1)
    assert_leads_touch_nothing(layout, job)


def test_close_neighbours_get_shorter_leads():
    """Squares 1.5 mm apart on all sides: leads fit and keep a kerf from the neighbours."""
    job = job_of((Part("tag", Contour.rectangle(40, 40)),))
    cells = itertools.product(range(5), range(5))
    spots = [Placement("tag", 0.0, False, 50 + 41.5 * i, 50 + 41.5 * j) for i, j in cells]
    layout = with_path(Layout(job.sheets[0], tuple(spots)), job)
    assert layout.path.warnings == ()
    assert_leads_touch_nothing(layout, job)


def test_without_room_there_is_no_lead_but_a_warning():
    """A disc that fills the hole it lies in: both begin on the contour, and both are named."""
    job = job_of((RING, Part("plug", Contour.circle((84.9, 84.9), 84.9))))
    placements = Placement("ring", 0.0, False, 50, 50), Placement("plug", 0.0, False, 65.1, 65.1)
    path = cut_path(Layout(job.sheets[0], placements), job)
    assert [c.lead_in is None for c in path.cuts] == [True, True, False]
    assert [w.split(" at ")[0] for w in path.warnings] == ["plug, outer contour", "ring, hole 1"]
    assert "(150.0, 150.0)" in path.warnings[0]


def test_leads_stay_off_keep_outs_and_on_the_sheet():
    """A piece in the corner of a sheet, beside a keep-out zone: its lead goes elsewhere."""
    sheet = Sheet(
        "corner",
        Contour.rectangle(80, 80),
        keep_outs=(shifted(Contour.rectangle(20, 79), 60, 0.5),),
    )
    job = job_of((Part("tag", Contour.rectangle(57, 40)),), (sheet,))
    layout = with_path(Layout(sheet, (Placement("tag", 0.0, False, 1.0, 1.0),)), job)
    assert layout.path.warnings == ()
    assert_leads_touch_nothing(layout, job)


def test_marks_begin_at_their_nearest_end():
    """A line that ends next to the sheet's corner is etched backwards."""
    mark = Contour([(90, 10), (10, 10)], closed=False)
    job = job_of((Part("tag", Contour.rectangle(100, 20), marks=(mark,)),))
    path = cut_path(Layout(job.sheets[0], (Placement("tag", 0.0, False, 0, 0),)), job)
    assert path.cuts[0].contour.points.tolist() == [[10, 10], [90, 10]]


def test_the_same_layout_gives_the_same_path():
    """Two runs agree to the last digit."""
    first, second = (cut_path(mixed_layout(), JOB) for _ in range(2))
    for a, b in zip(first.cuts, second.cuts, strict=True):
        assert (a.placement, a.role, a.index, a.pierce) == (b.placement, b.role, b.index, b.pierce)
        assert a.contour.points.tolist() == b.contour.points.tolist()


def test_an_empty_layout_has_an_empty_path():
    """No pieces, no cuts."""
    assert cut_path(Layout(JOB.sheets[0], ()), JOB).cuts == ()


@st.composite
def scattered(draw: st.DrawFn) -> tuple[Layout, Job]:
    """Random parts on a grid so wide that they cannot touch."""
    found = [draw(parts(f"part-{i}")) for i in range(draw(st.integers(1, 3)))]
    spots = [
        Placement(
            draw(st.sampled_from(found)).name,
            draw(st.sampled_from([0.0, 90.0, 37.5])),
            draw(st.booleans()),
            500.0 + 900 * column,
            500.0,
        )
        for column in range(draw(st.integers(1, 4)))
    ]
    sheet = Sheet("yard", Contour.rectangle(4000, 1000))
    return Layout(sheet, tuple(spots)), job_of(found, (sheet,), draw(st.sampled_from([0.1, 0.3])))


@settings(max_examples=25, deadline=None, suppress_health_check=list(HealthCheck))
@given(scattered())
def test_random_pieces_are_cut_in_a_safe_order_and_unscarred(found):
    """Order and leads hold for any shape, turn and flip; with all room, no lead is missing."""
    layout, job = found
    layout = with_path(layout, job)
    assert_order_holds(layout, job)
    assert_leads_touch_nothing(layout, job)
    assert layout.path.warnings == ()


def test_travel_is_short():
    """49 brackets in a grid: the rapids are no more than a third of going in list order."""
    cells = [(i * 20) % 49 for i in range(49)]  # 20 has no factor in common with 49
    placements = [
        Placement("bracket", 0.0, False, 30 + 130 * (cell % 7), 30 + 70 * (cell // 7))
        for cell in cells
    ]
    sheet = Sheet("big", Contour.rectangle(1500, 800))
    job = job_of((BRACKET,), (sheet,))
    path = cut_path(Layout(sheet, tuple(placements)), job)
    listed = sum(math.dist((a.x, a.y), (b.x, b.y)) for a, b in itertools.pairwise(placements))
    inside = sum(c.role != "outer" for c in path.cuts) * 60
    assert path.rapid_length < listed / 3 + inside


def test_a_piece_that_touches_the_hole_it_lies_in_is_cut_before_it():
    """Without kerf and spacing contours may touch; the rule is the same."""
    opening = shifted(Contour.rectangle(80, 80), 10, 10).reversed()
    ring = Part("ring", Contour.rectangle(100, 100), (opening,))
    block = Part("block", Contour.rectangle(40, 40))
    at_the_edge = Placement("block", 0.0, False, 10.0, 10.0)
    layout = Layout(SHEET, (Placement("ring", 0.0, False, 0, 0), at_the_edge))
    job = job_of((ring, block), kerf=0.0)
    order = [(cut.placement, cut.role) for cut in cut_path(layout, job).cuts]
    assert order == [(1, "outer"), (0, "inner"), (0, "outer")]


def test_the_whole_sheet_may_be_ordered_at_once():
    """The same rules hold as part by part."""
    whole = replace(JOB, cut_order="sheet by sheet")
    layout = with_path(mixed_layout(), whole)
    assert_order_holds(layout, whole)


def test_heat_is_told_in_plain_words():
    """A row of squares: the order leaps over neighbours; what it costs is told."""
    job = replace(job_of((Part("tag", Contour.rectangle(10, 10)),)), heat_distance=30.0)
    spots = [Placement("tag", 0.0, False, 50 + 20.0 * i, 50) for i in range(12)]
    layout = Layout(job.sheets[0], tuple(spots))
    path = cut_path(layout, job)
    steps = [math.dist(a.end, b.pierce) for a, b in itertools.pairwise(path.cuts)]
    usual = cut_path(layout, replace(job, heat_distance=0.0))
    more = path.rapid_length - usual.rapid_length
    near = sum(step < 30 for step in steps)
    assert near < 4
    assert path.warnings[0] == f"heat: keeping 30 mm between cuts takes {more:.0f} mm more travel"
    assert len(path.warnings) == 1 + (near > 0)
    assert usual.warnings == ()


def test_seconds_of_travel_are_a_distance():
    """At 20000 mm/min, 0.3 s are 100 mm."""
    job = replace(JOB, machine=replace(JOB.machine, rapid=20000.0), heat_seconds=0.3)
    assert job.heat_apart == pytest.approx(100.0)
