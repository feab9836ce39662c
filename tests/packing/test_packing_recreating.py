"""Groups of sheets filled anew, where there are many pieces."""

from collections import Counter
from concurrent.futures import ThreadPoolExecutor

import numpy as np
import pytest
from shapely import MultiPolygon, Point, Polygon, box

from nestlib.packing import (
    Container,
    Iterations,
    PackedPlacement,
    PackedSheet,
    Shape,
    pack,
    search,
)
from nestlib.packing.filling import Filling, fill
from nestlib.packing.ideas.cheaper import CheaperContainers
from nestlib.packing.ideas.shared import Shared
from nestlib.packing.order import first_recipes, orders_of_many
from nestlib.packing.problem import Problem, prepare
from nestlib.packing.recreating import Group, dealt, gathered, recreated
from nestlib.packing.score import missing
from nestlib.packing.squeezing import Sheets, without_fillers
from nestlib.packing.stopping import SearchState
from nestlib.packing.streams import step_of

ELL = Polygon([(0, 0), (200, 0), (200, 60), (60, 60), (60, 150), (0, 150)])
SHAPES = [
    Shape("ell", ELL, ELL.area, 24),
    Shape("plate", box(0, 0, 150, 90), 13500.0, 20),
    Shape("strip", box(0, 0, 90, 20), 1800.0, 40),
]
TRAY = Container("tray", MultiPolygon([box(0, 0, 500, 400)]), 200_000.0, cost=10.0)


def some_plan() -> tuple[Problem, Sheets]:
    """A plan of several sheets."""
    problem = prepare(SHAPES, [TRAY])
    filling = fill(problem, first_recipes(problem)[0], Filling([], []))
    return problem, without_fillers(problem, filling.sheets)


def pieces(sheets: Sheets) -> Counter[int]:
    """How many pieces of each shape lie on sheets, over all runs."""
    found: Counter[int] = Counter()
    for s in sheets:
        for p in s.placements:
            found[p.shape] += s.runs
    return found


@pytest.mark.parametrize("seed", range(5))
def test_dealing_and_gathering_lose_nothing(seed: int) -> None:
    """All runs and missing pieces are in the rest or in one group; together they are the plan."""
    problem, sheets = some_plan()
    left = [3, 0, 7]
    rest, groups = dealt(problem, sheets, left, np.random.default_rng(seed))
    assert np.sum([extra for _, extra in groups], axis=0).tolist() == left
    own = [s for group, _ in groups for s in group]
    assert all(s.runs == 1 for s in own)
    assert sum(s.runs for s in (*rest, *own)) == sum(s.runs for s in sheets)
    assert pieces(gathered(problem, (*rest, *own))) == pieces(sheets)


def test_a_group_never_places_less_and_never_more_than_it_was_given() -> None:
    """Area does not get less, no piece is made up, and no container is added."""
    problem, sheets = some_plan()
    group, extra = sheets[-2:], (0, 1, 5)
    task = Group(group, extra, (1,), Iterations(1), SearchState())
    found = recreated(problem, task)
    before, after = pieces(group), pieces(found)
    area = np.array(problem.polygon_areas)
    assert sum(area[s] * n for s, n in after.items()) >= sum(area[s] * n for s, n in before.items())
    assert all(after[s] <= before[s] + extra[s] for s in range(3))
    assert sum(s.runs for s in found) <= sum(s.runs for s in group)


def test_what_has_room_but_nowhere_in_one_place_is_pressed_in() -> None:
    """Two plates of 240 with gaps of 10 beside them in a room of 500: half a gap is no place."""
    plates = [Shape("plate", box(0, 0, 240, 400), 96000.0, 2, (0.0,))]
    strip = Shape("strip", box(0, 0, 18, 400), 7200.0, 1, (0.0,))
    problem = prepare([*plates, strip], [TRAY])
    apart = (PackedPlacement(0, 0.0, False, 7, 0), PackedPlacement(0, 0.0, False, 254, 0))
    group = Group((PackedSheet(0, apart),), (0, 1), (1,), Iterations(1), SearchState())
    assert pieces(recreated(problem, group)) == {0: 2, 1: 1}


def test_what_is_missing_comes_in_where_there_is_room() -> None:
    """A strip that was left out lies on a sheet again, as there is room for ten."""
    problem = prepare([Shape("strip", box(0, 0, 90, 20), 1800.0, 3)], [TRAY])
    filling = fill(problem, first_recipes(problem)[0], Filling([], []))
    (sheet,) = filling.sheets
    plan = gathered(problem, [PackedSheet(0, sheet.placements[:2])])
    assert not any(missing(problem, plan))


def test_orders_place_all_pieces_large_ones_first() -> None:
    """By half the girth, by area and by the box: long strips are first, second or last."""
    shapes = [
        Shape("disc", Point(50, 50).buffer(50), 7800.0, 2),
        Shape("strip", box(0, 0, 300, 10), 3000.0, 3),
        Shape("ell", ELL, ELL.area, 4),
    ]
    orders = [[shape for shape, _ in r.lots] for r in orders_of_many(prepare(shapes, [TRAY]))]
    assert orders == [[2, 1, 0], [2, 0, 1], [2, 0, 1]]


def test_an_order_that_fills_sheets_better_is_found_before_any_are_filled_anew() -> None:
    """Three sheets with the largest areas first, two with the largest girths first."""
    sizes = {(70, 40): 4, (30, 10): 6, (10, 60): 5, (30, 40): 2}
    shapes = [Shape(f"{w}x{h}", box(0, 0, w, h), w * h, n, (0.0,)) for (w, h), n in sizes.items()]
    square = Container("square", MultiPolygon([box(0, 0, 100, 100)]), 10_000.0, cost=1.0)
    problem = prepare(shapes, [square])
    recipe = first_recipes(problem)[0]
    first = step_of(problem, recipe, fill(problem, recipe, Filling([], [])).sheets)
    shared = Shared(problem, Iterations(1), 1, None, lambda: 0.0, lambda _: None, first)
    assert shared.sheets == 3
    assert CheaperContainers(shared).recreate()
    assert shared.sheets == 2


@pytest.mark.slow
def test_many_pieces_give_the_same_plan_with_any_number_of_workers(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Sheets are filled anew as if there were many pieces; the plan is whole and the same."""
    monkeypatch.setattr(search, "_LARGE", 0)
    alone = pack(SHAPES, [TRAY], stop=Iterations(2), seed=4)
    with ThreadPoolExecutor(2) as pool:
        shared = pack(SHAPES, [TRAY], stop=Iterations(2), seed=4, executor=pool)
    assert alone == shared
    assert not alone.unplaced
