"""Joints: whole contours but for them, none in a corner, far apart around the weight."""

import math
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
import shapely

from nestlib.cutting import cut_path
from nestlib.cutting.joints import held, joint_width, place_joints
from nestlib.geometry.along import Along, cut_stretches, joint_contours
from nestlib.model import Contour, Cut, Holding, Layout, Part, Placement, Sheet, Support
from tests.cutting.test_cut_path import points_along
from tests.layouts import BRACKET, DISC, JOB, LASER, RING, job_of, mixed_layout, shifted
from tests.shapes import rounded_rectangle, slot

SLATS = replace(LASER, support=Support("slats", (60.0, 60.0)))


def holding(job, joints: str, **more):
    """The job on slats, with joints."""
    return replace(job, machine=SLATS, holding=Holding(joints, **more))


def turns_of(contour: Contour) -> list[tuple[tuple[float, float], float]]:
    """Every vertex with its change of direction in degrees, on a flattening of the test's own."""
    points = points_along(contour)
    around = [points[-1], *points, points[0]]
    found = []
    for (ax, ay), (bx, by), (cx, cy) in zip(around, around[1:], around[2:], strict=False):
        turn = math.atan2(cy - by, cx - bx) - math.atan2(by - ay, bx - ax)
        found.append(((bx, by), abs(math.degrees(math.remainder(turn, 2 * math.pi)))))
    return found


def assert_joints_are_sound(cut: Cut, kerf: float) -> None:
    """By shapely: pieces and joints make up the contour, in order, away from corners."""
    pieces, gaps = cut_stretches(cut), joint_contours(cut)
    assert sum(c.length for c in (*pieces, *gaps)) == pytest.approx(cut.contour.length, abs=1e-6)
    assert sum(c.length for c in pieces) == pytest.approx(cut.length, abs=1e-6)
    ring = shapely.LinearRing(points_along(cut.contour))
    for joint, gap in zip(cut.joints, gaps, strict=True):
        assert gap.length == pytest.approx(joint.width + kerf, abs=1e-6)
        line = shapely.LineString(points_along(gap))
        assert max(ring.distance(shapely.Point(p)) for p in line.coords) < 1e-3
        corners = [p for p, turn in turns_of(cut.contour) if turn > 20]
        away = min((line.distance(shapely.Point(p)) for p in corners), default=1e9)
        assert away > 0.9 * gap.length  # along the contour it is the whole length
        assert line.distance(shapely.Point(cut.contour.points[0])) > gap.length
    for one, other in pairwise(gaps):
        lines = [shapely.LineString(points_along(c)) for c in (one, other)]
        assert lines[0].distance(lines[1]) > 0


@pytest.mark.parametrize("seed", range(60))
def test_random_layouts_are_cut_whole_but_for_their_joints(seed):
    """60 layouts of parts turned, flipped and of any kind; each contour is made up exactly."""
    rng = np.random.default_rng(seed)
    t = np.sort(rng.uniform(0, 2 * np.pi, 7))
    star = 90 + rng.uniform(20, 90, 7)[:, None] * np.stack([np.cos(t), np.sin(t)], axis=1)
    plate = Part(
        "plate",
        rounded_rectangle(*rng.uniform(60, 150, 2), rng.uniform(1, 20)),
        (shifted(slot(rng.uniform(12, 30), rng.uniform(4, 10)), 18, 24).reversed(),),
    )
    job = job_of((BRACKET, DISC, RING, plate, Part("star", Contour(star).oriented(ccw=True))))
    names = [part.name for part in job.parts]
    places = [
        Placement(
            str(rng.choice(names)), rng.uniform(0, 360), bool(rng.integers(2)), 300 + 500 * i, 300
        )
        for i in range(5)
    ]
    job = holding(job, "all" if seed % 2 else "tipping")
    sheet = Sheet("yard", Contour.rectangle(3000, 700))
    path = cut_path(Layout(sheet, tuple(places)), job)
    wanted = [c for c in path.cuts if c.role != "mark" and (seed % 2 or c.fate == "tips")]
    assert all(cut.joints for cut in wanted if cut.contour.length > 30)
    for cut in path.cuts:
        assert_joints_are_sound(cut, job.spacing.kerf)
    beam = sum(
        c.contour.length - sum(j.gap for j in c.joints) for c in path.cuts if c.role != "mark"
    )
    leads = sum(c.lead_in.length for c in path.cuts if c.lead_in)
    assert path.cut_length == pytest.approx(beam + leads, abs=1e-6)
    assert path.pierces == sum(1 + len(c.joints) for c in path.cuts if c.role != "mark")


def test_the_weight_hangs_between_the_joints():
    """By shapely: the centre of mass lies inside the hull of the middles of the joints."""
    job = holding(JOB, "all")
    layout = mixed_layout()
    for cut in cut_path(layout, job).cuts:
        if cut.role == "outer":
            part = job.part(layout.placements[cut.placement].part)
            metal = shapely.Polygon(points_along(cut.contour))
            holes = [c for c in cut_path(layout, job).cuts
                     if c.placement == cut.placement and c.role == "inner"]  # fmt: skip
            for hole in holes:
                metal = metal.difference(shapely.Polygon(points_along(hole.contour)))
            middles = [c.points.mean(axis=0) for c in joint_contours(cut)]
            assert shapely.MultiPoint(middles).convex_hull.contains(metal.centroid), part.name


@pytest.mark.parametrize("seed", range(10))
def test_three_joints_are_as_good_as_any_three(seed):
    """A triangle's best joints against an exhaustive search along its edges.

    What counts is how far inside their triangle the centre of mass lies; the search by
    shapely over 60 places finds none that is better by more than a tenth.
    """
    rng = np.random.default_rng(seed)
    contour = Contour(
        [(0, 0), (rng.uniform(10, 60), rng.uniform(60, 120)), (rng.uniform(90, 160), 0)]
    )
    polygon = shapely.Polygon(contour.points)
    centre = polygon.centroid.x, polygon.centroid.y
    along = Along(contour)
    joints = place_joints(along, centre, 3, 0.4, 0.2)
    assert held(along, joints, centre)

    def margin(points) -> float:
        triangle = shapely.Polygon(points)
        inside = triangle.contains(polygon.centroid)
        return triangle.exterior.distance(polygon.centroid) if inside else -1.0

    line = shapely.LinearRing(contour.points)
    free = [line.interpolate(s) for s in np.linspace(4, line.length - 4, 60)]
    free = [p for p in free if min(p.distance(shapely.Point(c)) for c in contour.points) > 2]
    best = max(
        margin([free[i], free[j], free[k]])
        for i in range(0, len(free), 2) for j in range(i + 1, len(free), 2)
        for k in range(j + 1, len(free), 2)
    )  # fmt: skip
    points, _ = along.places(np.array([j.at for j in joints]))
    assert margin(points) > 0.9 * best


def test_widths_follow_the_thickness_between_the_usual_limits():
    """0.2 to 1 mm: common practice, no source."""
    widths = [joint_width(t) for t in (0.1, 0.5, 1, 2, 4, 8, 20)]
    assert widths == sorted(widths)
    assert 0.2 <= widths[0] < widths[-1] == 1.0


def test_joints_are_as_wide_as_the_job_says():
    """0.7 mm of metal and a kerf of 0.2 make a gap of 0.9 mm."""
    path = cut_path(mixed_layout(), holding(JOB, "all", joint_width=0.7))
    found = {(j.width, round(j.gap, 9)) for c in path.cuts for j in c.joints}
    assert found == {(0.7, 0.9)}


@pytest.mark.parametrize("flip", [False, True])
@pytest.mark.parametrize("rotation", [0.0, 90.0, 37.0])
def test_critical_edges_carry_none(rotation, flip):
    """Of a plate 200 x 50 whose top and left are critical: only the other two carry joints."""
    window = shifted(Contour.rectangle(90, 20), 40, 15).reversed()
    critical = ("top", "left", "holes")
    part = Part("plate", Contour.rectangle(200, 50), (window,), critical=critical)
    job = holding(job_of((part,)), "all")
    place = Placement("plate", rotation, flip, 500, 250)
    path = cut_path(Layout(job.sheets[0], (place,)), job)
    assert [len(c.joints) for c in path.cuts] == [0, 3]
    angle = math.radians(rotation)
    for joint in joint_contours(path.cuts[1]):
        dx, dy = joint.points.mean(axis=0) - (500, 250)
        x, y = (
            dx * math.cos(angle) + dy * math.sin(angle),
            dy * math.cos(angle) - dx * math.sin(angle),
        )
        x = -x if flip else x
        assert y == pytest.approx(0, abs=1e-9) or x == pytest.approx(200, abs=1e-9)


def test_a_part_may_say_for_itself():
    """Nothing is held in the job, but the ring and its slug are; and the other way round."""
    parts = (BRACKET, replace(RING, joints="all"), DISC)
    path = cut_path(mixed_layout(), holding(replace(JOB, parts=parts), "none"))
    assert {c.placement for c in path.cuts if c.joints} == {0}
    parts = (replace(BRACKET, joints="none"), RING, replace(DISC, joints="none"))
    path = cut_path(mixed_layout(), holding(replace(JOB, parts=parts), "all"))
    assert {c.placement for c in path.cuts if c.joints} == {0}


def test_only_what_tips_is_held_and_the_rest_is_told():
    """Held or told, but not both: parts and slugs that can tip."""
    loose = cut_path(mixed_layout(), holding(JOB, "none"))
    assert loose.joints == 0
    assert "bracket × 3" in loose.warnings[0]
    tight = cut_path(mixed_layout(), holding(JOB, "tipping"))
    assert [bool(c.joints) for c in tight.cuts] == [c.fate == "tips" for c in tight.cuts]
    assert tight.warnings == ()


def test_without_a_known_support_tipping_cannot_be_told():
    """No slats in the machine file: no fates, and a line that says what to add."""
    path = cut_path(mixed_layout(), replace(JOB, holding=Holding("tipping")))
    assert {c.fate for c in path.cuts} == {None}
    assert path.joints == 0
    assert "[support]" in path.warnings[0]


def test_a_stretch_of_a_contour_lies_on_it():
    """Any two lengths along a rounded rectangle: as shapely's substring, within 1e-3 mm."""
    contour = rounded_rectangle(80, 50, 9)
    line = shapely.LinearRing(points_along(contour))
    along = Along(contour)
    for low, high in ((0, 5), (20, 140), (71.5, 73), (200, contour.length)):
        part = along.stretch(low, high)
        assert part.length == pytest.approx(high - low, abs=1e-9)
        wanted = shapely.ops.substring(line, low, high)
        assert shapely.LineString(points_along(part)).hausdorff_distance(wanted) < 1e-3


def test_what_joints_cannot_hold_is_told_and_stays_loose():
    """Three of four sides critical: joints on one side alone do not hold the weight.

    The head does not come down over the plate that was cut before.
    """
    part = Part("plate", Contour.rectangle(50, 200), critical=("top", "left", "bottom"))
    job = holding(job_of((part,)), "all")
    job = replace(job, machine=replace(SLATS, lift=0.0))
    places = tuple(Placement("plate", 0, False, 100 + 100 * i, 100) for i in range(2))
    path = cut_path(Layout(job.sheets[0], places), job)
    assert all(c.joints for c in path.cuts)
    assert path.warnings[0].endswith("plate × 2")
    first = shapely.Polygon(points_along(path.cuts[0].contour)).buffer(-0.3)
    way = shapely.LineString([path.cuts[0].end, path.cuts[1].pierce])
    assert path.cuts[1].lifted == way.intersects(first)


def test_a_vertex_drawn_twice_hides_no_corner():
    """A corner of 30 degrees whose vertex is there twice: no joint within its gap of it."""
    rise = 100 * math.tan(math.radians(15))
    points = [(0, 0), (100, -rise), (100, -rise), (200, 0), (100, 80)]
    along = Along(Contour(points).oriented(ccw=False))
    joints = place_joints(along, (100.0, 20.0), 4, 0.5, 0.2)
    placed_at, _ = along.places(np.array([j.at for j in joints]))
    assert len(joints) == 4
    for corner in points:
        assert np.hypot(*(placed_at - corner).T).min() > 1.0
