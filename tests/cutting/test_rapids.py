"""Rapids: never down over what is open or loose, by shapely on a flattening of the test's own."""

import itertools
import math
from dataclasses import replace

import numpy as np
import pytest
import shapely

from nestlib.cutting import cut_path
from nestlib.cutting.rapids import Obstacles, Way, ways
from nestlib.geometry.transform import placed
from nestlib.model import Contour, Holding, Job, Layout, Part, Placement, Sheet, Support
from tests.cutting.test_cut_path import points_along
from tests.layouts import BRACKET, DISC, JOB, LASER, RING, job_of, mixed_layout, shifted

SHEET = Sheet("plain", Contour.rectangle(1000, 500))
BOX = shapely.box(100, 100, 200, 200)


def assert_never_down_over_openings(layout: Layout, job: Job) -> None:
    """Each rapid that is not lifted keeps out of all that was cut free before it."""
    path = cut_path(layout, job)
    open_areas = [
        shapely.Polygon(points_along(c)) for c in (*layout.sheet.holes, *layout.sheet.keep_outs)
    ]
    for cut, way in path.rapids:
        line = shapely.LineString(way)
        if not cut.lifted and line.length:
            assert all(line.intersection(a.buffer(-0.3)).is_empty for a in open_areas)
            assert shapely.Polygon(points_along(layout.sheet.outline)).buffer(0.3).covers(line)
        if cut.role != "mark" and not cut.joints:
            open_areas.append(shapely.Polygon(points_along(cut.contour)))
    straight = sum(math.dist(way[0], way[-1]) for _, way in path.rapids)
    assert path.rapid_length >= straight - 1e-9
    speed = job.machine.rapid / 60
    for cut, way in path.rapids:
        more = sum(map(math.dist, way, way[1:])) - math.dist(way[0], way[-1])
        assert more <= job.machine.lift_time * speed + 1e-9
        assert not (cut.lifted and cut.via)


def apart(places: tuple[Placement, ...], job: Job) -> tuple[Placement, ...]:
    """Those that do not overlap one before: pieces that do could lie in each other's holes."""
    kept, outlines = [], []
    for p in places:
        outline = shapely.Polygon(points_along(placed(job.part(p.part).outer, p)))
        if not any(outline.intersects(other) for other in outlines):
            kept.append(p)
            outlines.append(outline)
    return tuple(kept)


@pytest.mark.parametrize("seed", range(12))
@pytest.mark.parametrize("lift", [0.02, 0.5])
def test_no_rapid_is_down_over_an_opening(seed, lift):
    """Random grids of parts, some held; a lift of 20 ms is worth no detour to speak of."""
    rng = np.random.default_rng(seed)
    machine = replace(LASER, lift=lift, support=Support("slats", (60.0, 60.0)))
    job = replace(job_of((BRACKET, DISC, replace(RING, joints="all"))), machine=machine)
    cells = list(itertools.product(range(5), range(3)))
    places = tuple(
        Placement(
            str(rng.choice(["bracket", "disc", "ring"])),
            90.0 * rng.integers(4),
            False,
            250 + 230 * i,
            250 + 230 * j,
        )
        for i, j in cells
        if rng.random() < 0.8
    )
    layout = Layout(Sheet("s", Contour.rectangle(1600, 1000)), apart(places, job))
    assert_never_down_over_openings(layout, job)


def test_a_mixed_layout_keeps_off_holes_and_clamps():
    """The sheet's own hole and its keep-out zone are crossed by nothing that is down."""
    assert_never_down_over_openings(mixed_layout(), JOB)


def test_a_short_detour_is_taken_and_a_long_one_is_not():
    """Past a corner of a square: around it. Across its middle: the head is lifted.

    No way around is shorter than a taut string through the corner; it keeps 3 mm off it.
    """
    obstacles = Obstacles(SHEET, [BOX], [0])
    past, across = ((40.0, 110.0), (110.0, 40.0)), ((50.0, 150.0), (250.0, 150.0))
    far, through = ways([((95.0, 60.0), (160.0, 110.0)), across], obstacles, 30.0)
    assert far == Way(lifted=True)
    assert through == Way(lifted=True)
    assert ways([past], obstacles, 30.0) == [Way()]
    corner = ((60.0, 190.0), (150.0, 204.0))
    (way,) = ways([corner], obstacles, 30.0)
    assert not way.lifted
    length = sum(map(math.dist, (corner[0], *way.via), (*way.via, corner[1])))
    taut = math.dist(corner[0], (100, 200)) + math.dist((100, 200), corner[1])
    assert taut <= length <= taut + 8
    assert not shapely.LineString([corner[0], *way.via, corner[1]]).crosses(BOX)


def test_a_detour_around_one_obstacle_must_not_meet_another():
    """A second square stands where the detour would run."""
    others = [shapely.box(70, 199, 130, 300), shapely.box(60, 40, 99.9, 100)]
    corner = ((60.0, 190.0), (150.0, 203.0))
    assert ways([corner], Obstacles(SHEET, [BOX, *others], [0, 0, 0]), 60.0)[0].lifted


def test_what_is_cut_later_is_no_obstacle_yet():
    """The square counts from the second rapid on."""
    across = ((50.0, 150.0), (250.0, 150.0))
    found = ways([across, across], Obstacles(SHEET, [BOX], [1]), 0.0)
    assert [w.lifted for w in found] == [False, True]


def test_ways_off_the_sheet_are_lifted():
    """Across the bay of an L-shaped remnant."""
    sheet = Sheet("L", Contour([(0, 0), (300, 0), (300, 100), (100, 100), (100, 300), (0, 300)]))
    (way,) = ways([((280.0, 90.0), (90.0, 280.0))], Obstacles(sheet, [], []), 1e9)
    assert way.lifted


def test_the_job_may_allow_what_lies_still():
    """Plates of 400 mm rest on the slats: allowed, the head stays down over them."""
    plate = Part(
        "plate",
        Contour.rectangle(400, 400),
        (shifted(Contour.rectangle(150, 150), 40, 40).reversed(),),
    )
    sheet = Sheet("s", Contour.rectangle(1400, 500))
    layout = Layout(sheet, tuple(Placement("plate", 0, False, 20 + 420 * i, 20) for i in range(3)))
    machine = replace(LASER, lift=0.0, support=Support("slats", (60.0, 60.0)))
    job = replace(job_of((plate,), (sheet,)), machine=machine)
    # The nearest contour first, since a search finds ways that cross no opening here.
    careful = cut_path(layout, job, rounds=0)
    allowed = cut_path(layout, replace(job, holding=Holding(over_openings=True)), rounds=0)
    assert {c.fate for c in careful.cuts} == {"stays"}
    assert careful.lifts > 0
    assert allowed.lifts == 0
    assert careful.lifted_length == pytest.approx(
        sum(math.dist(way[0], way[-1]) for cut, way in careful.rapids if cut.lifted)
    )
