"""Starts, leads, over-cuts and gaps as a job wants them; distances by shapely."""

import itertools
import math
from dataclasses import replace

import numpy as np
import pytest
import shapely

from nestlib.cutting import cut_path
from nestlib.model import Contour, Cut, Entry, Holding, Job, Layout, Part, Placement
from tests.cutting.test_cut_path import assert_leads_touch_nothing, points_along
from tests.layouts import JOB, SHEET, job_of, mixed_layout
from tests.shapes import rounded_rectangle

TAG = Part("tag", Contour.rectangle(80, 50), quantity=4)


def led(job: Job, layout: Layout | None = None, **entry) -> Layout:
    """The layout with its path under some wishes."""
    layout = layout or mixed_layout()
    return replace(layout, path=cut_path(layout, replace(job, entry=Entry(**entry)), rounds=0))


def one(part: Part, **entry) -> Cut:
    """The only cut of a part without holes."""
    layout = Layout(SHEET, (Placement(part.name, 0.0, False, 200.0, 200.0),))
    (cut,) = led(job_of((part,)), layout, **entry).path.cuts
    return cut


def through(layout: Layout) -> list[Cut]:
    """All cuts but marks."""
    return [c for c in layout.path.cuts if c.role != "mark"]


def test_starts_lie_where_they_are_wanted():
    """A rectangle: at a corner, or halfway between two, exactly."""
    corner, middle = (one(TAG, start_at=s).contour.points[0] - 200 for s in ("corner", "mid-edge"))
    assert corner.tolist() in [[0, 0], [80, 0], [80, 50], [0, 50]]
    assert middle.tolist() in [[40, 0], [80, 25], [40, 50], [0, 25]]


def test_anywhere_means_less_travel():
    """Two long strips side by side, whose corners lie far from each other: 25 mm less."""
    strip = Part("strip", Contour.rectangle(20, 220))
    places = Placement("strip", 0.0, False, 200, 10), Placement("strip", 0.0, False, 280, 120)
    layout = Layout(SHEET, places)
    job = replace(job_of((strip,)), holding=Holding(over_openings=True))
    jobs = [replace(job, entry=Entry(start_at=s)) for s in ("corner", "anywhere")]
    layouts = [replace(layout, path=cut_path(layout, job)) for job in jobs]
    corner, anywhere = (layout.path.rapid_length for layout in layouts)
    assert anywhere < corner - 25
    assert_leads_touch_nothing(layouts[1], job)


@pytest.mark.parametrize("start_at", ["corner", "mid-edge", "anywhere"])
@pytest.mark.parametrize("turn", [0.0, 90.0])
@pytest.mark.parametrize("flip", [False, True])
def test_critical_edges_are_not_entered(start_at, turn, flip):
    """Top and left of the part as drawn: its start lies on one of the other two edges."""
    part = replace(TAG, critical=("top", "left"), flip=True)
    layout = Layout(SHEET, (Placement("tag", turn, flip, 300.0, 200.0),))
    layout = led(job_of((part,)), layout, start_at=start_at)
    (cut,) = layout.path.cuts
    z = complex(*(cut.contour.points[0] - (300.0, 200.0))) * np.exp(-1j * math.radians(turn))
    x, y = (-z.real if flip else z.real), z.imag
    assert min(abs(x), abs(50 - y)) > 1e-6
    assert layout.path.warnings == ()


def test_where_every_edge_is_critical_it_says_where_it_begins():
    """All four sides: there is a warning with name and place."""
    part = replace(TAG, critical=("top", "left", "right", "bottom"))
    layout = led(job_of((part,)), Layout(SHEET, (Placement("tag", 0.0, False, 200, 200),)))
    (warning,) = layout.path.warnings
    assert "tag, outer contour at (240.0, 225.0)" in warning
    assert "critical" in warning


@pytest.mark.parametrize("shape", ["line", "arc"])
def test_leads_have_the_wanted_shape(shape):
    """A rounded plate alone on a sheet: both leads are lines, or arcs with a straight end."""
    plate = Part("plate", rounded_rectangle(80, 50, 15))
    cut = one(plate, lead_in=shape, lead_out=shape, lead_in_length=6.0, lead_out_length=4.0)
    assert (cut.lead_in.length, cut.lead_out.length) == pytest.approx((6.0, 4.0), abs=1e-9)
    for lead, straight in ((cut.lead_in, 0), (cut.lead_out, -2)):
        assert bool(lead.bulges.any()) == (shape == "arc")
        assert lead.bulges[straight] == 0
        # A control needs half a slot to go aside; ISO 6983 leaves the move to its maker.
        ends = lead.points[[0, 1] if straight == 0 else [-2, -1]]
        assert math.dist(*ends) >= 0.1


def smooth(one_way: Contour, other: Contour) -> float:
    """Angle in degrees between the end of a curve and the begin of the next, by fine steps."""
    a, b = points_along(one_way)[-2:]
    c, d = points_along(other)[:2]
    turn = complex(d[0] - c[0], d[1] - c[1]) / complex(b[0] - a[0], b[1] - a[1])
    return abs(math.degrees(math.atan2(turn.imag, turn.real)))


def test_an_arc_runs_in_and_out_along_the_tangent():
    """Within the degree by which fine steps stray from a tangent."""
    disc = Part("disc", Contour.circle((40, 40), 40))
    cut = one(disc, lead_in="arc", lead_out="arc")
    whole = Contour([*cut.contour.points, cut.contour.points[0]],
                    [*cut.contour.bulges, 0.0], closed=False)  # fmt: skip
    assert smooth(cut.lead_in, whole) < 1.0
    assert smooth(whole, cut.lead_out) < 1.0


def test_every_lead_keeps_off_parts_slots_and_other_leads():
    """Tight rows: one and a half slots to other pieces, a slot to others' leads (chord 1e-4)."""
    job = job_of((TAG,))
    spots = itertools.product(range(4), range(3))
    placements = [Placement("tag", 0.0, False, 50 + 83.4 * i, 50 + 53.4 * j) for i, j in spots]
    layout = led(job, Layout(SHEET, tuple(placements)), lead_out="line", over_cut=1.0)
    assert layout.path.warnings == ()
    pieces = [shapely.Polygon(TAG.outer.points + np.array((p.x, p.y))) for p in placements]
    leads = [(c, shapely.LineString(points_along(lead)))
             for c in layout.path.cuts for lead in (c.lead_in, c.lead_out)]  # fmt: skip
    assert len(leads) == 24
    for cut, line in leads:
        for number, piece in enumerate(pieces):
            if number == cut.placement:
                assert line.intersection(piece).length <= 0.02 * line.length
            else:
                assert line.distance(piece) >= 1.5 * 0.2 - 1e-4
        for other, its in leads:
            assert other is cut or line.distance(its) >= 0.2 - 1e-4


def test_a_lead_out_without_room_is_named():
    """A disc that fills the hole it lies in: no room for any lead, and both say so."""
    ring = Part("ring", Contour.circle((100, 100), 100), (Contour.circle((100, 100), 85),))
    job = job_of((ring, Part("plug", Contour.circle((84.9, 84.9), 84.9))))
    placements = Placement("ring", 0.0, False, 50, 50), Placement("plug", 0.0, False, 65.1, 65.1)
    path = led(job, Layout(SHEET, placements), lead_out="line").path
    assert [c.lead_out is None for c in path.cuts] == [True, True, False]
    told = [w for w in path.warnings if "lead-out" in w]
    assert [w.split(" at ")[0] for w in told] == ["plug, outer contour", "ring, hole 1"]


@pytest.mark.parametrize(
    ("width", "wide", "middle"),
    [(11, 12.0, True), (13, 12.0, False), (4, 0.0, False), (30, 31.0, True)],
)
def test_holes_up_to_a_width_are_pierced_in_the_middle(width, wide, middle):
    """Round holes of some widths: at the centre within 1e-9 mm, or clearly elsewhere."""
    part = Part("tag", TAG.outer, (Contour.circle((40, 25), width / 2).reversed(),))
    layout = Layout(SHEET, (Placement("tag", 0.0, False, 0, 100),))
    cut = led(job_of((part,)), layout, centre_pierce=wide).path.cuts[0]
    away = math.dist(cut.pierce, (40, 125))
    assert (away < 1e-9) == middle
    assert middle or away > 0.3


@pytest.mark.parametrize("joints", ["none", "all"])
def test_over_cut_and_gap_count_in_every_length(joints):
    """By hand, for each cut: the contour, its joints, leads, and 1.5 mm more or less."""
    job = replace(JOB, holding=Holding(joints))
    for entry in ({"over_cut": 1.5, "lead_out": "arc"}, {"end_gap": 1.5}):
        layout = led(job, **entry)
        for cut in through(layout):
            line = shapely.LinearRing(points_along(cut.contour))
            at = {"over_cut": 1.5}.get(next(iter(entry)), line.length - 1.5)
            end = cut.lead_out.points[0] if cut.lead_out else cut.end
            assert shapely.Point(end).distance(line.interpolate(at)) < 1e-3
            ends = [(j.at - j.gap / 2, j.at + j.gap / 2) for j in cut.joints]
            low, high = (1.5, line.length) if cut.over_cut else (0.0, line.length - 1.5)
            assert all(low < a and b < high for a, b in ends)
        cut_length = sum(
            shapely.LinearRing(points_along(c.contour)).length - sum(j.gap for j in c.joints)
            + sum(shapely.LineString(points_along(x)).length for x in (c.lead_in, c.lead_out) if x)
            + (1.5 if "over_cut" in entry else -1.5)
            for c in through(layout)
        )  # fmt: skip
        assert layout.path.cut_length == pytest.approx(cut_length, rel=1e-5)


def test_marks_are_left_as_they_are():
    """Whatever is wished, what is etched has no leads, over-cuts or gaps."""
    for entry in ({"over_cut": 1.0, "lead_out": "line"}, {"end_gap": 1.0}):
        marks = [c for c in led(JOB, **entry).path.cuts if c.role == "mark"]
        assert len(marks) > 3
        assert all((c.lead_out, c.over_cut, c.end_gap) == (None, 0, 0) for c in marks)
