"""Layouts that are cut often, against the exhaustive optimum of small jobs."""

from dataclasses import replace
from functools import cache
from itertools import product

import numpy as np
import pytest
from shapely import MultiPolygon, Polygon, box

from nestlib.packing import Aims, Container, Iterations, Shape, pack
from nestlib.packing.filling import fill
from nestlib.packing.order import first_recipes
from nestlib.packing.problem import prepare
from nestlib.packing.runs import run_lists, share, trimmed
from nestlib.packing.score import missing, net_cost

WIDTH, PRICE = 100, 10.0
TRAY = Container("tray", MultiPolygon([box(0, 0, WIDTH, 50)]), WIDTH * 50.0, cost=PRICE)


def bars(widths: list[int], quantities: list[int]) -> list[Shape]:
    """Bars as high as the tray, so that only their widths count."""
    return [
        Shape(f"bar-{w}", box(0, 0, w, 50), w * 50.0, n, (0.0,))
        for w, n in zip(widths, quantities, strict=True)
    ]


def least_net_cost(widths: list[int], quantities: list[int], set_up: float, most: int) -> float:
    """Try every choice of layouts and runs that makes exactly what is wanted."""
    most_of_each = [min(q, WIDTH // w) for w, q in zip(widths, quantities, strict=True)]
    numbers = product(*(range(n + 1) for n in most_of_each))
    layouts = [n for n in numbers if any(n) and np.dot(n, widths) <= WIDTH]

    @cache
    def least(left: tuple[int, ...], k: int, most: int) -> float:
        if not any(left):
            return 0.0
        if k == len(layouts) or not most:
            return np.inf
        found, runs = least(left, k + 1, most), 0
        while True:
            left = tuple(a - b for a, b in zip(left, layouts[k], strict=True))
            runs += 1
            if min(left) < 0:
                return found
            found = min(found, runs * PRICE + set_up + least(left, k + 1, most - 1))

    return least(tuple(quantities), 0, most)


@pytest.mark.parametrize("seed", [5, 25])
def test_small_jobs_reach_the_least_net_cost(seed: int) -> None:
    """Price of sheets and set-ups together, for three kinds of bars."""
    random = np.random.default_rng(seed)
    widths, quantities = random.integers(15, 60, 3).tolist(), random.integers(2, 10, 3).tolist()
    shapes, aims = bars(widths, quantities), Aims(set_up=6.0)
    packing = pack(shapes, [TRAY], stop=Iterations(3), seed=seed, aims=aims)
    assert not packing.unplaced
    best = least_net_cost(widths, quantities, aims.set_up, most=99)
    assert net_cost(prepare(shapes, [TRAY], aims), packing.sheets) == pytest.approx(best)


def test_two_layouts_need_no_more_sheets_than_three() -> None:
    """30 brackets, 12 on a sheet at most, and 50 discs: two runs of 12 and 25, and the rest."""
    ell = Polygon([(0, 0), (120, 0), (120, 30), (30, 30), (30, 80), (0, 80)])
    shapes = [
        Shape("bracket", ell, ell.area, 30, most=12),
        Shape("plate", box(0, 0, 55, 55), 55.0 * 55, 50),
    ]
    tray = Container("tray", MultiPolygon([box(0, 0, 980, 480)]), 500_000.0, cost=40.0)
    aims = Aims(set_up=8.0, worth=0.5, least_side=100, most_layouts=2)
    packing = pack(shapes, [tray], stop=Iterations(1), aims=aims)
    assert not packing.unplaced
    assert sorted(s.runs for s in packing.sheets) == [1, 2]


@pytest.mark.parametrize("runs", [(3,), (2, 2), (4, 3), (5, 2, 2), (6, 4)])
@pytest.mark.parametrize("wanted", [1, 7, 24, 50])
def test_what_a_share_leaves_can_be_made_if_it_can(runs: tuple[int, ...], wanted: int) -> None:
    """Compared with trying all numbers on all layouts."""

    def rests(first: int) -> set[int]:
        numbers = product(*(range(wanted // r + 1) for r in runs[1:]))
        return {wanted - first * runs[0] - int(np.dot(n, runs[1:])) for n in numbers}

    most = wanted // runs[0]
    exact = [n for n in range(most + 1) if 0 in rests(n) or len(runs) == 1]
    assert share(wanted, runs) == max(exact, default=most)
    for pieces in range(most + 1):
        fewer = [n for n in exact if n <= pieces]
        assert trimmed(pieces, wanted, runs) == max(fewer, default=pieces)


@pytest.mark.parametrize("seed", range(4))
def test_layouts_are_cut_as_often_as_asked_and_nothing_is_lost(seed: int) -> None:
    """No more of any shape than is wanted, and all of it: the stock does not end."""
    random = np.random.default_rng(seed)
    shapes = bars(random.integers(5, 60, 4).tolist(), random.integers(3, 40, 4).tolist())
    problem = prepare(shapes, [TRAY], Aims(set_up=5.0))
    for runs in run_lists(6, PRICE, 5.0, 3):
        filling = fill(problem, replace(first_recipes(problem)[0], runs=runs))
        assert missing(problem, filling.sheets) == [0] * 4
        assert sum(s.runs >= 2 for s in filling.sheets) >= 1


def test_no_more_runs_than_there_are_sheets() -> None:
    """Three trays on hand: layouts for four runs are not made."""
    few = Container("tray", TRAY.room, TRAY.area, 3, cost=PRICE)
    problem = prepare(bars([50], [8]), [few], Aims(set_up=5.0))
    filling = fill(problem, replace(first_recipes(problem)[0], runs=(4, 2)))
    assert sum(s.runs for s in filling.sheets) == 3
    assert missing(problem, filling.sheets) == [2]
