"""Tries beside each other, on threads and processes: always the same layouts."""

from __future__ import annotations

from collections.abc import Iterator
from concurrent.futures import Executor, ProcessPoolExecutor, ThreadPoolExecutor
from contextlib import contextmanager
from multiprocessing import get_context

import pytest
from shapely.geometry import Polygon, box

from nestlib.engine import Item, StripPacking, pack_strip

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


def test_a_longer_search_is_never_worse() -> None:
    """Where only their number ends the tries, more of them go on from what fewer found."""
    lengths = [pack_strip(ITEMS, 5, tries=n, seed=1).length for n in (5, 20, 40, 90)]
    assert lengths == sorted(lengths, reverse=True)
