"""Layouts of bounding boxes by the solver, and what they are worth."""

from itertools import combinations

import pytest
from shapely import MultiPolygon, Point, Polygon, affinity, box

from nestlib.packing import Container, Iterations, PackedPlacement, PackedSheet, Shape, pack
from nestlib.packing.boxes import are_boxes, box_layouts
from nestlib.packing.filling import fill
from nestlib.packing.order import recipe_of
from nestlib.packing.problem import Problem, prepare
from nestlib.packing.sheets import prices

#: Five rectangles that fill 60 x 40 in a whirl, which no cut through all of it can part.
WHIRL = [
    box(0, 0, 40, 15),
    box(40, 0, 60, 25),
    box(20, 25, 60, 40),
    box(0, 15, 20, 40),
    box(20, 15, 40, 25),
]


def shape(polygon: Polygon, quantity: int = 1, turns: tuple[float, ...] = (0.0,)) -> Shape:
    """A shape whose clearance polygon is the part itself."""
    return Shape("part", polygon, polygon.area, quantity, turns)


def sheet(room: Polygon, quantity: int | None = None, cost: float = 1.0) -> Container:
    """A container whose room is all of it."""
    return Container("sheet", MultiPolygon([room]), room.area, quantity, cost=cost)


def laid(problem: Problem, found: PackedSheet) -> list[Polygon]:
    """The pieces of a sheet where they lie."""
    return [
        affinity.translate(
            affinity.rotate(problem.shapes[p.shape].polygon, p.rotation, origin=(0, 0)), p.x, p.y
        )
        for p in found.placements
    ]


@pytest.mark.parametrize("turned", [False, True])
@pytest.mark.parametrize("offset", [0.0, 1234.56])
def test_a_whirl_of_rectangles_is_put_together_exactly(turned: bool, offset: float) -> None:
    """All five are placed without overlap (to 1e-6 mm²), also if they are drawn turned."""
    turns = (0.0, 90.0) if turned else (0.0,)
    parts = [affinity.rotate(p, 90) if turned else p for p in WHIRL]
    room = affinity.translate(box(0, 0, 60, 40), offset, -offset)
    problem = prepare([shape(p, turns=turns) for p in parts], [sheet(room, 1)])
    (found,) = box_layouts(problem, problem.areas, seed=0)
    pieces = laid(problem, found)
    assert len(pieces) == 5
    assert all(a.intersection(b).area < 1e-6 for a, b in combinations(pieces, 2))
    assert all(p.difference(room.buffer(1e-6)).area == 0 for p in pieces)


def test_what_is_not_room_is_kept_free() -> None:
    """A square hole in the middle leaves eight of nine places."""
    room = box(0, 0, 30, 30).difference(box(10, 10, 20, 20))
    problem = prepare([shape(box(0, 0, 10, 10), 9)], [sheet(room, 1)])
    (found,) = box_layouts(problem, problem.areas, seed=0)
    assert len(found.placements) == 8
    assert all(p.within(room.buffer(1e-6)) for p in laid(problem, found))


def test_pieces_that_are_worth_more_are_taken() -> None:
    """Of two equal squares and room for one, the one with the higher value."""
    problem = prepare(
        [shape(box(0, 0, 10, 10)), shape(box(0, 0, 10, 10))], [sheet(box(0, 0, 15, 15))]
    )
    for values, taken in (([1.0, 2.0], 1), ([2.0, 1.0], 0), ([0.0, 1.0], 1)):
        (found,) = box_layouts(problem, values, seed=0)
        assert [p.shape for p in found.placements] == [taken]


def test_only_shapes_that_fill_their_boxes_count_as_boxes() -> None:
    """Rectangles do, discs do not, and nothing at all does not."""
    rooms = [sheet(box(0, 0, 100, 100))]
    assert are_boxes(prepare([shape(box(0, 0, 20, 10), 3)], rooms))
    assert not are_boxes(prepare([shape(Point(0, 0).buffer(10), 3)], rooms))
    assert not are_boxes(prepare([], rooms))


def test_prices_share_the_cost_of_the_layouts() -> None:
    """Four pieces on a sheet for 8, all of them needed: 2 for each; without layouts, areas."""
    problem = prepare([shape(box(0, 0, 5, 5), 12)], [sheet(box(0, 0, 10, 10), cost=8.0)])
    full = PackedSheet(0, (PackedPlacement(0, 0.0, False, 0.0, 0.0),) * 4)
    assert prices(problem, [full]) == pytest.approx([2.0])
    scarce = prepare([shape(box(0, 0, 5, 5), 12)], [sheet(box(0, 0, 10, 10), 1, cost=8.0)])
    assert prices(scarce, [full]) == scarce.areas


def test_a_recipe_repeats_a_layout() -> None:
    """Bottom-left placement in the order of the whirl, from left to right, makes it again."""
    problem = prepare([shape(p, turns=(0.0, 90.0)) for p in WHIRL], [sheet(box(0, 0, 60, 40), 1)])
    (found,) = box_layouts(problem, problem.areas, seed=0)
    filling = fill(problem, recipe_of(problem, [found]))
    assert filling.left == [0] * 5


def test_a_recipe_names_what_a_layout_lacks() -> None:
    """All pieces are in its lots, fillers included, and runs count."""
    shapes = [shape(box(0, 0, 10, 10), 5), Shape("f", box(0, 0, 2, 2), 4.0, 3, filler=True)]
    problem = prepare(shapes, [sheet(box(0, 0, 20, 10))])
    place = PackedPlacement(0, 0.0, False, 0.0, 0.0)
    recipe = recipe_of(problem, [PackedSheet(0, (place,), runs=2)])
    assert recipe.lots == ((0, 5), (1, 3))
    assert recipe.containers == (0, 0)


def test_the_search_uses_the_layouts_of_the_solver() -> None:
    """Two whirls need two sheets, twice the same for the same seed."""
    shapes = [shape(p, 2, (0.0, 90.0)) for p in WHIRL]
    rooms = [sheet(box(0, 0, 60, 40))]
    first, second = (pack(shapes, rooms, stop=Iterations(2), seed=3) for _ in range(2))
    assert first == second
    assert sum(s.runs for s in first.sheets) == 2


def test_nothing_in_stock_is_no_layout() -> None:
    """Boxes that fit on a sheet of which there is none stay unplaced."""
    packing = pack([shape(WHIRL[0], 3)], [sheet(box(0, 0, 60, 40), 0)], stop=Iterations(2))
    assert packing.sheets == ()
    assert packing.unplaced[0][:2] == (0, 3)
