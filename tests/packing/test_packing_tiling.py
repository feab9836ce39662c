"""Jigsaws made by cutting up rooms at random, so that a solution is known to exist."""

import math
from collections import Counter
from collections.abc import Sequence

import numpy as np
import pytest
from shapely import LineString, MultiPoint, MultiPolygon, Polygon, affinity, box
from shapely.ops import split

from nestlib.packing import Container, Iterations, Shape, pack
from nestlib.packing.problem import Problem, prepare
from nestlib.packing.tiling import Tiling, is_tight, tile

ROOM = box(0, 0, 1000, 800)
ELL = Polygon([(0, 0), (1200, 0), (1200, 500), (500, 500), (500, 1000), (0, 1000)])
FRAME = ROOM.difference(box(300, 300, 500, 450))
SKEW = Polygon([(100, 0), (1100, 60), (900, 700), (0, 650)])
QUARTERS = (0.0, 90.0, 180.0, 270.0)

#: Overlaps, in mm², and what may stick out of a room: far below any tolerance of a cut.
AREA = 1e-4


def cut_up(
    room: Polygon, pieces: int, random: np.random.Generator, slanted: float
) -> list[Polygon]:
    """Cut the largest piece in two until there are enough; a share of the cuts is slanted."""
    parts = [room]
    while len(parts) < pieces:
        parts.sort(key=lambda p: -p.area)
        largest = parts.pop(0)
        x0, y0, x1, y1 = largest.bounds
        x, y = x0 + (x1 - x0) * random.uniform(0.3, 0.7), y0 + (y1 - y0) * random.uniform(0.3, 0.7)
        angle = random.integers(2) * math.pi / 2
        if random.random() < slanted:
            angle = random.uniform(0, math.pi)
        dx, dy = 5000 * math.cos(angle), 5000 * math.sin(angle)
        parts += split(largest, LineString([(x - dx, y - dy), (x + dx, y + dy)])).geoms
    return parts


def pinwheel() -> list[Polygon]:
    """Five rectangles that no straight cut from edge to edge separates."""
    boxes = [(0, 0, 613, 291), (613, 0, 1000, 507), (377, 507, 1000, 800), (0, 291, 377, 800)]
    return [box(*b) for b in boxes] + [box(377, 291, 613, 507)]


def welded(parts: list[Polygon], times: int) -> list[Polygon]:
    """Join neighbours, which makes most of them not convex."""
    for _ in range(times):
        first = parts.pop(0)
        k = max(range(len(parts)), key=lambda k: first.intersection(parts[k]).length)
        parts.append(first.union(parts.pop(k)))
    return parts


def scattered(
    parts: Sequence[Polygon],
    random: np.random.Generator,
    turns: tuple[float, ...] = QUARTERS,
    flip: bool = False,
) -> list[Shape]:
    """Turn, move and perhaps mirror each piece, so that nothing tells where it was."""
    shapes = []
    for k, part in enumerate(parts):
        turned = affinity.rotate(part, float(random.choice(turns)), origin=(0, 0))
        if flip and random.random() < 0.5:
            turned = affinity.scale(turned, -1, 1, origin=(0, 0))
        moved = affinity.translate(turned, *random.uniform(-500, 500, 2))
        shapes.append(Shape(f"piece {k}", moved, moved.area, 1, turns, flip))
    return shapes


def jigsaw(rooms: Sequence[Polygon], shapes: Sequence[Shape]) -> Problem:
    """A problem with one container for each room."""
    containers = [Container(f"room {k}", MultiPolygon([r]), r.area, 1) for k, r in enumerate(rooms)]
    return prepare(shapes, containers)


def check(problem: Problem, tiling: Tiling) -> None:
    """Every layout fills its room without overlaps, and the plan takes no piece twice."""
    for sheet in tiling.found:
        pieces = []
        for p in sheet.placements:
            polygon = problem.shapes[p.shape].polygon
            if p.flip:
                polygon = affinity.scale(polygon, -1, 1, origin=(0, 0))
            turned = affinity.rotate(polygon, p.rotation, origin=(0, 0))
            pieces.append(affinity.translate(turned, p.x, p.y))
        room = problem.containers[sheet.container].room
        assert math.isclose(sum(p.area for p in pieces), room.area, rel_tol=1e-9)
        assert all(p.difference(room).area < AREA for p in pieces)
        for k, piece in enumerate(pieces):
            assert all(piece.intersection(other).area < AREA for other in pieces[:k])
    used = Counter(p.shape for s in tiling.plan for p in s.placements for _ in range(s.runs))
    assert all(used[s] <= n for s, n in enumerate(problem.required))
    runs = Counter(s.container for s in tiling.plan for _ in range(s.runs))
    assert all(runs[c] <= q for c, q in enumerate(problem.quantities))


def solve(rooms: Sequence[Polygon], shapes: Sequence[Shape]) -> Tiling:
    """The checked result for a problem that is a jigsaw."""
    problem = jigsaw(rooms, shapes)
    assert is_tight(problem)
    tiling = tile(problem)
    check(problem, tiling)
    return tiling


def assert_all_used(tiling: Tiling, shapes: Sequence[Shape]) -> None:
    """Every piece lies in a room of the plan, that is, all of its rooms are full."""
    assert tiling.complete
    assert sum(len(s.placements) * s.runs for s in tiling.plan) == len(shapes)


@pytest.mark.parametrize("seed", range(3))
@pytest.mark.parametrize("slanted", [0.0, 0.4, 1.0])
def test_a_rectangle_cut_up_is_put_together(seed: int, slanted: float) -> None:
    """All 20 pieces are placed, of rectangles, of slanted cuts, and of both."""
    random = np.random.default_rng(seed)
    shapes = scattered(cut_up(ROOM, 20, random, slanted), random)
    assert_all_used(solve([ROOM], shapes), shapes)


def test_pieces_of_three_rooms_are_sorted_out() -> None:
    """The pieces of two equal rooms and a skew one are mixed, and every room gets full."""
    random, rooms = np.random.default_rng(5), [ROOM, ROOM, SKEW]
    parts = [p for room in rooms for p in cut_up(room, 12, random, 0.5)]
    shapes = scattered(parts, random)
    assert_all_used(solve(rooms, shapes), shapes)


@pytest.mark.parametrize(
    ("turns", "flip"), [((0.0,), False), (QUARTERS, True), (tuple(range(0, 360, 30)), False)]
)
def test_turns_and_flips_are_found(turns: tuple[float, ...], flip: bool) -> None:
    """Pieces that were turned by few or many angles, and some mirrored, fit together again."""
    random = np.random.default_rng(7)
    shapes = scattered(cut_up(ROOM, 20, random, 0.6), random, turns, flip)
    assert_all_used(solve([ROOM], shapes), shapes)


def test_a_pinwheel_is_put_together() -> None:
    """Corners are searched where no straight cut separates the pieces."""
    shapes = scattered(pinwheel(), np.random.default_rng(0))
    assert_all_used(solve([ROOM], shapes), shapes)


@pytest.mark.parametrize("slanted", [0.0, 0.5])
def test_an_l_shaped_room_is_filled(slanted: float) -> None:
    """The room need not be convex."""
    random = np.random.default_rng(2)
    shapes = scattered(cut_up(ELL, 18, random, slanted), random)
    assert_all_used(solve([ELL], shapes), shapes)


def test_a_room_with_a_hole_is_filled() -> None:
    """Pieces lie around a hole of the room."""
    random = np.random.default_rng(3)
    sides = [box(0, 0, 1000, 300), box(0, 300, 300, 450), box(500, 300, 1000, 450)]
    parts = [p for side in [*sides, box(0, 450, 1000, 800)] for p in cut_up(side, 4, random, 0.5)]
    shapes = scattered(parts, random)
    assert_all_used(solve([FRAME], shapes), shapes)


def test_pieces_that_are_not_convex_fit() -> None:
    """Pieces with dents are put together."""
    random = np.random.default_rng(4)
    parts = welded(cut_up(ROOM, 24, random, 0.5), 8)
    assert any(p.convex_hull.area > p.area + 1 for p in parts)
    shapes = scattered(parts, random)
    assert_all_used(solve([ROOM], shapes), shapes)


def test_equal_tiles_are_one_layout_for_many_sheets() -> None:
    """Of 128 tiles, 32 fill a sheet; the plan has four runs."""
    tiles = Shape("tile", box(0, 0, 250, 100), 25_000.0, 128)
    tray = Container("tray", MultiPolygon([ROOM]), ROOM.area)
    problem = prepare([tiles], [tray])
    assert is_tight(problem)
    tiling = tile(problem)
    check(problem, tiling)
    assert sum(s.runs for s in tiling.plan) == 4
    assert {len(s.placements) for s in tiling.plan} == {32}


def test_a_part_of_the_sheets_is_filled() -> None:
    """A room whose pieces are all there is filled though those of another are not."""
    random = np.random.default_rng(6)
    parts = cut_up(ROOM, 15, random, 0.6)
    odd = [Polygon([(0, 0), (900, 10), (870, 640), (40, 700)])]
    problem = jigsaw([ROOM, ROOM], scattered(parts + odd, random))
    tiling = tile(problem)
    check(problem, tiling)
    assert sum(s.runs for s in tiling.plan) == 1


@pytest.mark.parametrize("apart", [(), (1,)])
def test_shapes_that_stay_apart_share_no_room(apart: tuple[int, ...]) -> None:
    """Two halves fill a room unless they may not lie in the same."""
    halves = [box(0, 0, 413, 800), box(0, 0, 587, 800)]
    shapes = [Shape(f"{k}", p, p.area, 1, apart=() if k else apart) for k, p in enumerate(halves)]
    assert len(tile(jigsaw([ROOM], shapes)).plan) == (0 if apart else 1)


def test_the_same_seed_gives_the_same_result() -> None:
    """Nothing depends on the clock or on the order of sets."""
    random = np.random.default_rng(8)
    shapes = scattered(welded(cut_up(ROOM, 30, random, 0.1), 6), random)
    first, second = (tile(jigsaw([ROOM], shapes), seed=3, effort=500) for _ in range(2))
    assert first == second


def test_pieces_that_do_not_fit_together_are_given_up_at_once() -> None:
    """No two random outlines have an edge in common: nothing is found with little effort."""
    random = np.random.default_rng(9)
    hulls = [MultiPoint(random.uniform(0, 300, (6, 2))).convex_hull for _ in range(50)]
    shapes = [Shape(f"{k}", p, p.area) for k, p in enumerate(hulls)]
    asked: list[int] = []

    def over() -> bool:
        asked.append(1)
        return False

    assert tile(jigsaw([ROOM], shapes), over=over).found == ()
    assert len(asked) < 5000


@pytest.mark.parametrize("limit", [0, 10, 100])
def test_it_ends_when_told_to(limit: int) -> None:
    """It asks whether to end, and is never asked again often after a yes."""
    random = np.random.default_rng(1)
    shapes = [Shape(f"{k}", box(0, 0, *random.integers(80, 300, 2)), 1.0) for k in range(40)]
    asked = 0

    def over() -> bool:
        nonlocal asked
        asked += 1
        return asked > limit

    tile(jigsaw([ROOM], shapes), over=over)
    assert limit < asked <= limit + 5


def test_little_effort_is_little_effort() -> None:
    """Without any effort nothing is looked at."""
    random = np.random.default_rng(1)
    shapes = scattered(cut_up(ROOM, 20, random, 0.5), random)
    assert tile(jigsaw([ROOM], shapes), effort=0) == Tiling()


@pytest.mark.parametrize(
    ("shapes", "stock", "tight"),
    [
        ([Shape("half", box(0, 0, 500, 800), 4e5, 2)], 1, True),
        ([Shape("half", box(0, 0, 500, 800), 4e5, 1)], 1, False),
        ([Shape("third", box(0, 0, 333, 800), 333 * 800.0, 3)], 1, False),
        ([Shape("third", box(0, 0, 333, 800), 333 * 800.0, 6)], 2, True),
        ([Shape("many", box(0, 0, 50, 40), 2e3, 400)], 1, False),
        ([Shape("frame", FRAME, 1.0, 2), Shape("plug", box(0, 0, 9, 9), 81.0)], 2, False),
        ([], 1, False),
    ],
)
def test_only_tight_problems_are_worthwhile(shapes: list[Shape], stock: int, tight: bool) -> None:
    """Few pieces without holes have to take 97 % of just enough sheets, and one sheet's area."""
    room = Container("room", MultiPolygon([ROOM]), ROOM.area, stock)
    assert is_tight(prepare(shapes, [room])) is tight


def test_the_packer_puts_jigsaws_together() -> None:
    """Two trays cut up into six pieces each are two trays again: the fewest there can be."""
    room = box(0, 0, 100, 70)
    random = np.random.default_rng(5)
    shapes = scattered([p for k in range(2) for p in cut_up(room, 6, random, slanted=0.5)], random)
    tray = Container("tray", MultiPolygon([room]), room.area)
    packing = pack(shapes, [tray], stop=Iterations(1))
    assert not packing.unplaced
    assert sum(s.runs for s in packing.sheets) == 2
