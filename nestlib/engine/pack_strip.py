"""Pack parts into the shortest strip that can be found in the time."""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass
from functools import partial

import numpy as np
from shapely import box

from nestlib import kernel_cache
from nestlib.engine.any_angle import AnyAngleSearch, Clock
from nestlib.engine.catalogue import turn_points, turned
from nestlib.engine.fitting import check_strip, fitting_turns
from nestlib.engine.items import Item, ItemPlacement
from nestlib.engine.layouts import Snapshot
from nestlib.engine.problem import StripProblem
from nestlib.engine.schedule import by_number, by_share
from nestlib.engine.search import StripParams, StripSearch
from nestlib.model import Progress

#: Said while numba compiles, once on each machine.
COMPILING = "compiling kernels (first use)"

#: What the steps of the search are called in messages.
PHASES = {
    "begin": "first layout",
    "starts": "several starts",
    "long": "long steps",
    "short": "short steps",
    "turn": "turning",
}


@dataclass(frozen=True)
class StripPacking:
    """A packed strip.

    Parameters
    ----------
    length : float
        From x = 0 to the end of the last part.
    placements : tuple of ItemPlacement
        One for every piece.
    tries : int
        How often a shorter layout was looked for.
    stopped : bool
        Whether the user stopped the search.
    """

    length: float
    placements: tuple[ItemPlacement, ...]
    tries: int = 0
    stopped: bool = False


def pack_strip(
    parts: Sequence[Item],
    width: float,
    *,
    seconds: float | None = None,
    tries: int | None = None,
    seed: int = 0,
    workers: int | Executor = 1,
    on_progress: Callable[[Progress], None] | None = None,
) -> StripPacking:
    """Pack parts into the shortest strip that is found in the time.

    Parameters
    ----------
    parts : sequence of Item
        What to place, all of it.
    width : float
        Of the strip, which lies from y = 0 to y = `width` and begins at x = 0.
    seconds, tries : float, int, optional
        When to stop: after this time, or after so many tries to find a shorter layout; the
        first of the two if both are given. The clock starts when the kernels are compiled,
        and a first layout is always finished. The end also says how bold the steps are, so
        the first tries of a long search are not those of a short one.
    seed : int
        Of all chance; not negative. The same seed and number of tries give the same layout,
        whatever the number of workers.
    workers : int or Executor
        Threads; or an executor, of processes for instance, which is not shut down.
    on_progress : callable, optional
        Told of every better layout.

    Returns
    -------
    StripPacking
        Without overlaps deeper than 1e-8 of the side of a mean part; parts may touch. After
        a KeyboardInterrupt the best so far, marked as stopped.

    Raises
    ------
    ValueError
        If neither `seconds` nor `tries` is given.
    InputError
        If an item fits in none of its turns, or makes no sense.

    Examples
    --------
    >>> from shapely import box
    >>> tiles = [Item("tile", box(0, 0, 1, 1), quantity=4)]
    >>> round(pack_strip(tiles, width=2, tries=20).length, 6)
    2.0
    """
    if seconds is None and tries is None:
        raise ValueError("give seconds or tries, otherwise the search has no end")
    check_strip(parts, width)
    row = _in_a_row(parts, width)
    if not row.placements:
        return row
    run = _Run(parts, on_progress)
    try:
        run.compile()
        run.search(width, seconds, tries, seed, workers)
    except KeyboardInterrupt:
        return run.result(row, stopped=True)
    return run.result(row)


def _in_a_row(parts: Sequence[Item], width: float) -> StripPacking:
    """Lay one piece after the other: poor, but there is always something to hand back."""
    placements, end = [], 0.0
    for index, part in enumerate(parts):
        angle, flip = fitting_turns(part, width)[0]
        left, low, right, _ = turned(part.polygon, angle, flip).bounds
        for _ in range(part.quantity):
            placements.append(ItemPlacement(index, angle, flip, end - left, -low))
            end += right - left
    return StripPacking(end, tuple(placements))


class _Run:
    """One call of `pack_strip`: its clock, what it tells, and what it has so far."""

    def __init__(
        self, parts: Sequence[Item], on_progress: Callable[[Progress], None] | None
    ) -> None:
        self.parts = tuple(parts)
        self.on_progress = on_progress
        self.began = time.monotonic()
        self.told = np.inf
        self.problem: StripProblem | None = None
        self.searching: StripSearch | AnyAngleSearch | None = None
        self.turns_freely = any(item.rotations is None for item in parts)

    def compile(self) -> None:
        """Compile the kernels, or load them, by packing two tiles."""
        if not kernel_cache.is_compiled("separation", kernel_cache.CACHE_FOLDER):
            self._tell(COMPILING)
        tiles = StripProblem.of([Item("tile", box(0, 0, 1, 1), 2)], 1.0)
        StripSearch(tiles, StripParams(starts=1), 0, by_number(2)).run()
        if self.turns_freely:
            free = [Item("tile", box(0, 0, 1, 1), 2, None)]
            AnyAngleSearch(free, 1.0, 0, Clock(lambda: 0.0, 2, False)).run()
        self._tell("preparing")

    def search(
        self,
        width: float,
        seconds: float | None,
        tries: int | None,
        seed: int,
        workers: int | Executor,
    ) -> None:
        """Search until the end that was asked for."""
        began = time.monotonic()

        def elapsed() -> float:
            return 0.0 if seconds is None else _share(time.monotonic() - began, seconds)

        def spent(tried: int) -> float:
            return max(elapsed(), 0.0 if tries is None else _share(tried, tries))

        if self.turns_freely:
            clock = Clock(elapsed, tries, seconds is not None)
            free = AnyAngleSearch(self.parts, width, seed, clock, self._better, workers)
            self.problem, self.searching = free.problem, free
            free.run()
            return
        params = StripParams()
        schedule = by_share(spent, params.start_share, params.long_share)
        if seconds is None and tries is not None:
            schedule = by_number(tries)
        recipe = partial(StripProblem.of, self.parts, width)
        self.problem = recipe()
        self.searching = StripSearch(
            self.problem,
            params,
            seed,
            schedule,
            lambda: elapsed() >= 1.0,
            self._better,
            workers,
            recipe=recipe,
        )
        self.searching.run()

    def _better(self, phase: str, snap: Snapshot) -> None:
        if self.problem is not None and snap.length < self.told:
            self.told = snap.length
            self._tell(PHASES[phase], self.problem.density(snap.length))

    def _tell(self, phase: str, utilisation: float | None = None) -> None:
        if self.on_progress is not None:
            wanted = sum(p.quantity for p in self.parts)
            laid = utilisation is not None
            sheets, placed = (1, wanted) if laid else (None, 0)
            now = time.monotonic() - self.began
            self.on_progress(Progress(now, phase, utilisation, sheets, placed, wanted))

    def result(self, row: StripPacking, stopped: bool = False) -> StripPacking:
        """Return the best layout; the row if there is none."""
        if self.problem is None or self.searching is None:
            return StripPacking(row.length, row.placements, 0, stopped)
        problem, best, n = self.problem, self.searching.best_so_far, self.searching.tries
        if isinstance(self.searching, AnyAngleSearch):
            problem, best = self.searching.result()
        stopped = stopped or self.searching.interrupted
        length = best.length / problem.scale
        if not length < row.length:
            return StripPacking(row.length, row.placements, n, stopped)
        return StripPacking(length, _placements(problem, best), n, stopped)


def _share(part: float, whole: float) -> float:
    return part / whole if whole > 0 else 1.0


def _placements(problem: StripProblem, snap: Snapshot) -> tuple[ItemPlacement, ...]:
    """Return placements in the lengths of the parts, about their own (0, 0)."""
    found = []
    for i, k in enumerate(problem.kind):
        angle = float(problem.cat.angle[snap.turn[i]])
        flip = bool(problem.cat.flip[snap.turn[i]])
        ox, oy = turn_points(np.array([problem.offsets[k]]), angle, flip)[0]
        x = float(snap.x[i] / problem.scale - ox)
        y = float(snap.y[i] / problem.scale - oy)
        found.append(ItemPlacement(int(k), angle, flip, x, y))
    return tuple(found)
