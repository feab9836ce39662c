"""Tries beside each other, on threads and processes: always the same layouts."""

from __future__ import annotations

import signal
import threading
from collections.abc import Callable, Iterator
from concurrent.futures import Executor, Future, ProcessPoolExecutor, ThreadPoolExecutor
from contextlib import contextmanager
from dataclasses import replace
from functools import partial
from multiprocessing import get_context
from typing import Any

import numpy as np
import pytest
from shapely import STRtree, affinity
from shapely.geometry import Polygon, box

from nestlib.engine import Item, StripPacking, pack_strip
from nestlib.engine.attempts import Task
from nestlib.engine.catalogue import turned
from nestlib.engine.columns import length_bound
from nestlib.engine.construction import constructed
from nestlib.engine.crew import Hired, Order, carry_out
from nestlib.engine.items import centred
from nestlib.engine.layouts import Board
from nestlib.engine.problem import StripProblem
from nestlib.engine.schedule import by_number, by_share
from nestlib.engine.search import StripParams, StripSearch
from nestlib.model import Progress

ITEMS = [
    Item("angle", Polygon([(-1, -1), (1, -1), (1, 0), (0, 0), (0, 1), (-1, 1)]), 4, (0.0, 90.0)),
    Item("dart", Polygon([(0, -1), (1, 1), (0, 0.4), (-1, 1)]), 4, (0.0, 30.0, 180.0)),
    Item("bar", box(0, 0, 3, 0.7), 4, (0.0, 90.0)),
]
TRIES = 45


@pytest.fixture(scope="module")
def alone() -> StripPacking:
    """What one worker finds."""
    return pack_strip(ITEMS, 5, tries=TRIES, seed=3)


@pytest.mark.parametrize("workers", [2, 5])
def test_threads_find_what_one_worker_finds(alone: StripPacking, workers: int) -> None:
    """The layouts are equal to the last bit."""
    assert pack_strip(ITEMS, 5, tries=TRIES, seed=3, workers=workers) == alone


@contextmanager
def _processes() -> Iterator[Executor]:
    with ProcessPoolExecutor(2, mp_context=get_context("spawn")) as pool:
        yield pool


@pytest.mark.slow
def test_processes_find_what_one_worker_finds(alone: StripPacking) -> None:
    """Each process makes the problem itself; the layouts are equal to the last bit."""
    with _processes() as pool:
        assert pack_strip(ITEMS, 5, tries=TRIES, seed=3, workers=pool) == alone
        assert pool.submit(int, 7).result() == 7, "the caller's pool is left open"


def test_any_executor_will_do(alone: StripPacking) -> None:
    """Threads of the caller find the same layout, to the last bit."""
    with ThreadPoolExecutor(3) as pool:
        assert pack_strip(ITEMS, 5, tries=TRIES, seed=3, workers=pool) == alone


class Later(Executor):
    """Carries nothing out, but remembers the orders."""

    def __init__(self) -> None:
        self.orders: list[Order] = []

    def submit(self, fn: Any, /, *args: Any, **kwargs: Any) -> Future[Any]:
        """Remember an order."""
        self.orders.extend(args)
        return Future()


def _order(recipe: Callable[[], StripProblem]) -> Order:
    """An order of a try from a first layout, after its crew was closed."""
    later = Later()
    hired = Hired(recipe, StripParams().effort, later, 1)
    first = constructed(recipe(), (1,))
    hired.submit(Task(first, first.length, False, (1,), 5, 1, 0.0, 0.0))
    hired.close()
    return later.orders[0]


def test_orders_that_come_up_after_the_end_are_not_carried_out() -> None:
    """Where the permits of the process can be seen; on another machine they are done whole."""
    order = _order(partial(StripProblem.of, tuple(ITEMS), 5))
    assert carry_out(order) is None
    assert carry_out(replace(order, permit="/no/such/folder")) is not None


def test_orders_of_the_same_problem_have_the_same_name() -> None:
    """So that a process prepares the parts once, however many searches they are part of."""
    names = [_order(partial(StripProblem.of, tuple(ITEMS), width)).token for width in (5, 5, 6)]
    assert names[0] == names[1] != names[2]


def test_a_longer_search_is_never_worse() -> None:
    """Where only their number ends the tries, more of them go on from what fewer found."""
    lengths = [pack_strip(ITEMS, 5, tries=n, seed=1).length for n in (5, 20, 40, 90)]
    assert lengths == sorted(lengths, reverse=True)


def test_the_search_ends_when_the_bound_is_reached() -> None:
    """Tiles without a gap cannot lie shorter: few of the tries are needed."""
    told: list[Progress] = []
    tiles = [Item("tile", box(0, 0, 2, 1), 6, (0.0, 90.0))]
    packing = pack_strip(tiles, 3, tries=10_000, on_progress=told.append)
    assert packing.length == pytest.approx(4, rel=1e-7)
    assert packing.tries < 200
    assert told[-1].bound == 1.0


def test_no_layout_beats_the_bound() -> None:
    """The longest item or the area bounds the length; progress says the same of the share."""
    told: list[Progress] = []
    packing = pack_strip(ITEMS, 5, tries=20, on_progress=told.append)
    area = sum(item.polygon.area * item.quantity for item in ITEMS)
    assert length_bound(ITEMS, 5) == pytest.approx(area / 5)
    assert length_bound(ITEMS, 50) == pytest.approx(2)
    assert packing.length >= length_bound(ITEMS, 5)
    assert all(p.bound is not None and (p.utilisation or 0.0) <= p.bound for p in told)


def test_a_search_goes_on_from_a_given_layout() -> None:
    """Begun from a layout it never ends with a longer one, nor does it change the given one."""
    problem = StripProblem.of(ITEMS, 5)
    first = constructed(problem, (7,))
    x = first.x.copy()
    search = StripSearch(problem, StripParams(), 1, by_number(0), begin=first)
    assert search.run() is first
    search = StripSearch(problem, StripParams(), 1, by_number(50), begin=first)
    assert search.run().length < first.length
    assert (first.x == x).all()


@pytest.mark.parametrize("copies", [1, 12])
def test_a_first_layout_is_sound(copies: int) -> None:
    """With and without a grid no two parts overlap by more than 1e-7, none sticks out."""
    items = [replace(item, quantity=item.quantity * copies) for item in ITEMS]
    problem = StripProblem.of(items, 5)
    snap = constructed(problem, (1,))
    assert sorted(problem.kind) == list(problem.kind)
    s, about = problem.scale, (0.0, 0.0)
    middles = [affinity.scale(centred(item.polygon)[0], s, s, origin=about) for item in items]
    laid = [
        affinity.translate(turned(middles[k], float(problem.cat.angle[o])), x, y)
        for k, o, x, y in zip(problem.kind, snap.turn, snap.x, snap.y, strict=True)
    ]
    strip = box(0, 0, snap.length, problem.width)
    assert all(p.difference(strip).area < 1e-7 for p in laid)
    first, second = STRtree(laid).query(laid, predicate="intersects")
    assert all(
        laid[i].intersection(laid[j]).area < 1e-7
        for i, j in zip(first, second, strict=True)
        if i < j
    )


@pytest.mark.parametrize("workers", [1, 3])
def test_ctrl_c_ends_the_search_with_any_number_of_workers(workers: int) -> None:
    """The best layout of that moment is handed back; no thread goes on."""

    def press(progress: Progress) -> None:
        if progress.phase == "several starts":
            signal.raise_signal(signal.SIGINT)

    before = threading.active_count()
    packing = pack_strip(ITEMS, 5, tries=10_000, workers=workers, on_progress=press)
    assert packing.stopped
    assert packing.tries < 10_000
    assert len(packing.placements) == 12
    assert threading.active_count() == before


def test_a_strip_of_many_parts_is_cut_at_several_places() -> None:
    """Slices add up to what the strip loses; every part stays within it."""
    problem = StripProblem.of([replace(ITEMS[2], quantity=500)], 5)
    first = constructed(problem, (1,))
    board = Board(problem)
    board.restore(first)
    shorter = 0.99 * first.length
    assert board.slices(shorter) == 6
    board.resize(shorter, np.random.default_rng(0))
    moved = np.unique(np.round(first.x - board.layout.x, 6))
    assert board.length == shorter
    assert len(moved) >= 6
    assert board.layout.box[2].max() <= shorter + 1e-12


@pytest.mark.parametrize(
    ("first_tries", "expected"),
    [
        (24, [8] * 20 + [4] * 20 + [2] * 20 + [1] * 40),
        (1, [8] * 20 + [12] * 14 + [6] * 13 + [3] * 13 + [1] * 40),
    ],
)
def test_half_of_the_searches_go_on_and_then_half_of_these(
    first_tries: int, expected: list[int]
) -> None:
    """Eight, or as many groups of eight as there is time for; then half, until one is left."""
    problem = StripProblem.of(ITEMS, 5)
    running: list[int] = []
    search = StripSearch(
        problem,
        StripParams(starts=8, first_tries=first_tries),
        0,
        by_share(lambda tries: tries / 100, 0.6, 0.8),
        hear=lambda found: running.append(len(search.climbs)),
    )
    best = search.run()
    assert running == expected
    assert search.climbs[0].best.length == best.length


def test_a_search_that_starts_late_begins_all_the_same() -> None:
    """Where the clock has passed the opening before the first try, one group begins."""
    problem = StripProblem.of(ITEMS, 5)
    running: list[int] = []
    search = StripSearch(
        problem,
        StripParams(starts=4),
        0,
        by_share(lambda tries: 0.5 + tries / 100, 0.6, 0.8),
        hear=lambda found: running.append(len(search.climbs)),
    )
    assert search.run().length < np.inf
    assert running == [2] * 10 + [1] * 40
