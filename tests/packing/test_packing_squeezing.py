"""Sheets made denser by the engine, inside the packer."""

from collections import Counter

import numpy as np
import pytest
from shapely import MultiPolygon, Polygon, affinity, box

from nestlib.packing import Container, Iterations, PackedSheet, Packing, Shape, pack
from nestlib.packing.dense import counts, dense
from nestlib.packing.filling import Filling, fill
from nestlib.packing.order import first_recipes
from nestlib.packing.problem import Problem, prepare
from nestlib.packing.score import missing
from nestlib.packing.sheets import without_surplus
from nestlib.packing.squeezing import squeeze, without_fillers

RIGHT_ANGLES = (0.0, 90.0, 180.0, 270.0)
ELL = Polygon([(0, 0), (200, 0), (200, 60), (60, 60), (60, 150), (0, 150)])
HOOK = Polygon([(0, 0), (200, 0), (200, 150), (150, 150), (150, 50), (50, 50), (50, 150), (0, 150)])


def shape(polygon: Polygon, quantity: int = 1, **options: object) -> Shape:
    """A shape whose clearance polygon is the part itself."""
    return Shape("part", polygon, polygon.area, quantity, **options)  # type: ignore[arg-type]


def tray(room: Polygon, quantity: int | None = None, **options: object) -> Container:
    """A container whose room is all of it."""
    return Container("tray", MultiPolygon([room]), room.area, quantity, **options)  # type: ignore[arg-type]


def filled(problem: Problem) -> tuple[PackedSheet, ...]:
    """The first filling."""
    filling = fill(problem, first_recipes(problem)[0], Filling([], []))
    return without_fillers(problem, filling.sheets)


def laid(shapes: list[Shape], sheet: PackedSheet) -> list[Polygon]:
    """The pieces where they lie."""
    found = []
    for p in sheet.placements:
        g = shapes[p.shape].polygon
        g = affinity.scale(g, -1, 1, origin=(0, 0)) if p.flip else g
        found.append(affinity.translate(affinity.rotate(g, p.rotation, origin=(0, 0)), p.x, p.y))
    return found


def assert_sound(shapes: list[Shape], containers: list[Container], packing: Packing) -> None:
    """Nothing overlaps or sticks out by more than 1e-9 of the room's area."""
    for sheet in packing.sheets:
        room = containers[sheet.container].room
        pieces = laid(shapes, sheet)
        for i, g in enumerate(pieces):
            assert g.difference(room).area <= 1e-9 * room.area
            for other in pieces[:i]:
                assert g.buffer(-1e-6).intersection(other).area <= 1e-9 * room.area


def test_sheets_get_denser_than_bottom_left_placement_makes_them() -> None:
    """In a few steps 45 L-shapes take one tray less, and nothing is lost."""
    problem = prepare([shape(ELL, 45)], [tray(box(0, 0, 1000, 1000))])
    sheets = filled(problem)
    assert sum(s.runs for s in sheets) == 2
    for k in range(8):
        sheets, _ = squeeze(problem, sheets, (3, k), lambda: False)
        assert not any(missing(problem, sheets))
    assert sum(s.runs for s in sheets) == 1


def test_a_lone_sheet_is_pushed_together() -> None:
    """The last sheet gets shorter along x and keeps all its pieces."""
    problem = prepare([shape(ELL, 12), shape(HOOK, 8)], [tray(box(0, 0, 1000, 1000))])
    sheets = filled(problem)

    def reach(sheet: PackedSheet) -> float:
        return max(problem.orientation(0, p).box[2] + p.x for p in sheet.placements)

    before = reach(sheets[0])
    for k in range(3):
        sheets, _ = squeeze(problem, sheets, (1, k), lambda: False)
    assert reach(sheets[0]) < before - 1.0
    assert counts(problem, sheets[0].placements) == [12, 8]


def test_what_the_engine_lays_is_exact_on_the_board() -> None:
    """Every placement is free by the packer's own test, in a room with a hole and a notch."""
    room = Polygon(
        [(0, 0), (900, 0), (900, 500), (600, 700), (0, 700)],
        [box(300, 300, 400, 420).exterior.coords],
    )
    problem = prepare([shape(ELL, 40), shape(box(0, 0, 90, 40), 40)], [tray(room)])
    wanted = [40, 40]
    found = dense(problem).filled(0, (), wanted, problem.polygon_areas, (0,), 15, lambda: False)
    assert found
    assert dense(problem).is_sound(0, found)
    shapes = list(problem.shapes)
    assert_sound(shapes, [problem.containers[0]], Packing((PackedSheet(0, found),)))


def test_grain_and_flips_are_kept() -> None:
    """A grained, mirrored part lies only as its grain allows, along a turned sheet grain."""
    part = Polygon([(0, 0), (300, 0), (200, 100), (0, 100)])
    shapes = [
        shape(part, 12, grain=0.0, flip=True),
        shape(ELL, 10, rotations=RIGHT_ANGLES),
    ]
    containers = [tray(box(0, 0, 1000, 800), grain=90.0)]
    packing = pack(shapes, containers, stop=Iterations(2))
    assert_sound(shapes, containers, packing)
    turns = {p.rotation % 180 for s in packing.sheets for p in s.placements if p.shape == 0}
    assert turns == {90.0}


def test_fillers_lie_only_where_room_is_left() -> None:
    """All required pieces lie, and the fillers do not cost a sheet."""
    shapes = [shape(ELL, 20), shape(box(0, 0, 50, 50), 30, filler=True)]
    containers = [tray(box(0, 0, 1000, 600), cost=10.0)]
    packing = pack(shapes, containers, stop=Iterations(2))
    assert_sound(shapes, containers, packing)
    placed = Counter(p.shape for s in packing.sheets for p in s.placements)
    assert placed[0] == 20
    assert 0 < placed[1] <= 30


def test_stock_is_respected() -> None:
    """Of two trays only two are used, and priorities are kept where pieces are missing."""
    shapes = [shape(ELL, 30), shape(box(0, 0, 180, 140), 10, priority=1)]
    containers = [tray(box(0, 0, 500, 500), quantity=2)]
    packing = pack(shapes, containers, stop=Iterations(2))
    assert_sound(shapes, containers, packing)
    assert sum(s.runs for s in packing.sheets) <= 2
    left = {i: n for i, n, _ in packing.unplaced}
    assert left.get(1, 0) == 0
    placed = Counter(p.shape for s in packing.sheets for p in s.placements for _ in range(s.runs))
    assert placed[0] + left[0] == 30


@pytest.mark.parametrize("seed", range(20))
def test_surplus_comes_off_the_last_sheets(seed: int) -> None:
    """What is left makes exactly what is wanted; whole runs go before single pieces."""
    random = np.random.default_rng(seed)
    shapes = [shape(box(0, 0, 10, 10), int(n)) for n in random.integers(1, 12, 3)]
    problem = prepare(shapes, [tray(box(0, 0, 100, 100))])
    one = filled(prepare([shape(box(0, 0, 10, 10), 9)] * 3, [tray(box(0, 0, 100, 100))]))[0]
    sheets = [PackedSheet(0, one.placements, int(random.integers(1, 4))) for _ in range(3)]
    made = [0, 0, 0]
    for s in without_surplus(problem, sheets):
        for p in s.placements:
            made[p.shape] += s.runs
    assert made == problem.required


def test_dissimilar_turns_with_vertices_on_each_others_edges_are_kept() -> None:
    """A hook turned by 180 degrees has all its vertices on edges of the hook, and differs."""
    problem = prepare([shape(HOOK)], [tray(box(0, 0, 1000, 1000))])
    assert len(problem.turns[0][0]) == 4
