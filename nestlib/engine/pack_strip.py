"""Pack parts into the shortest strip that can be found in the time."""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass, replace
from functools import partial

import numpy as np
from shapely import box

from nestlib import kernel_cache
from nestlib.engine.any_angle import AnyAngleSearch, Clock
from nestlib.engine.arguments import check_search
from nestlib.engine.catalogue import turn_points
from nestlib.engine.columns import in_columns, length_bound
from nestlib.engine.fitting import check_strip
from nestlib.engine.items import Item, ItemPlacement
from nestlib.engine.layouts import Snapshot
from nestlib.engine.problem import StripProblem
from nestlib.engine.schedule import by_number, by_share
from nestlib.engine.search import StripParams, StripSearch
from nestlib.interrupts import plain_interrupts
from nestlib.model import Progress

#: A strip is as short as can be if it is longer than the bound by no more than this share.
EXACT = 1e-7

#: Starts where the number of the try says what is done: the first round has few tries.
_FEW_STARTS = 4

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
        and a first layout is always finished. With `tries`, and angles listed for all
        items, a longer search goes on from where a shorter one ends, and never gives a
        longer strip. With `seconds` alone the search divides all its time among starts, long
        and short steps, and with free angles it ends by turning the last layout; so a longer
        search is another one, nearly always a better one. The search also ends when no strip
        can be shorter.
    seed : int
        Of all chance; not negative. The same seed and number of tries, without `seconds`,
        give the same layout, whatever the workers.
    workers : int or Executor
        Threads that work on this one strip; or an executor, of processes or a cluster for
        instance, which is not shut down. Each of its processes prepares the parts itself.
    on_progress : callable, optional
        Told of every better layout, and of the share that none can exceed.

    Returns
    -------
    StripPacking
        Without overlaps deeper than 1e-8 of the side of a mean part; parts may touch. After
        a KeyboardInterrupt the best so far, marked as stopped.

    Raises
    ------
    ValueError
        If neither `seconds` nor `tries` is given, if one of them or the seed is negative or
        no number, or if `workers` is neither a number above 0 nor an executor.
    InputError
        If an item fits in none of its turns, or makes no sense.

    Examples
    --------
    >>> from shapely import box
    >>> tiles = [Item("tile", box(0, 0, 1, 1), quantity=4)]
    >>> round(pack_strip(tiles, width=2, tries=20).length, 6)
    2.0
    """
    check_search(seconds, tries, seed, workers)
    check_strip(parts, width)
    columns = StripPacking(*in_columns(parts, width))
    if not columns.placements:
        return columns
    run = _Run(parts, width, columns, on_progress)
    try:
        with plain_interrupts():
            run.compile()
            run.search(seconds, tries, seed, workers)
    except KeyboardInterrupt:
        return run.result(stopped=True)
    return run.result()


class _Run:
    """One call of `pack_strip`: its clock, what it tells, and what it has so far."""

    def __init__(
        self,
        parts: Sequence[Item],
        width: float,
        columns: StripPacking,
        on_progress: Callable[[Progress], None] | None,
    ) -> None:
        self.parts, self.width, self.columns = tuple(parts), width, columns
        self.on_progress = on_progress
        self.began = time.monotonic()
        self.area = sum(p.polygon.area * p.quantity for p in parts)
        self.bound = length_bound(parts, width)
        self.told = columns.length
        self.problem: StripProblem | None = None
        self.searching: StripSearch | AnyAngleSearch | None = None
        self.turns_freely = any(item.rotations is None for item in parts)

    def compile(self) -> None:
        """Compile the kernels, or load them, by packing two tiles."""
        if not kernel_cache.ready("separation"):
            self._tell(kernel_cache.COMPILING)
        tiles = StripProblem.of([Item("tile", box(0, 0, 1, 1), 2)], 1.0).with_lattices()
        _warm_up(StripSearch(tiles, StripParams(starts=2), 0, by_number(6)))
        if self.turns_freely:
            free = [Item("tile", box(0, 0, 1, 1), 2, None)]
            _warm_up(AnyAngleSearch(free, 1.0, 0, Clock(lambda: 0.0, 2, False)))
        self.began = time.monotonic()
        self._tell("preparing", self.columns.length)

    def search(
        self,
        seconds: float | None,
        tries: int | None,
        seed: int,
        workers: int | Executor,
    ) -> None:
        """Search until the end that was asked for."""
        began = time.monotonic()

        def elapsed() -> float:
            return 0.0 if seconds is None else _share(time.monotonic() - began, seconds)

        if self.turns_freely:
            clock = Clock(elapsed, tries, seconds is not None)
            free = AnyAngleSearch(self.parts, self.width, seed, clock, self._better, workers)
            self.problem, self.searching = free.problem, free
            free.run()
            return
        params = StripParams()
        schedule = by_share(lambda _: elapsed(), params.start_share, params.long_share)
        if tries is not None:
            params, schedule = replace(params, starts=_FEW_STARTS), by_number(tries)
        recipe = partial(_problem, self.parts, self.width, params)
        self.problem = recipe()
        self.searching = StripSearch(
            self.problem,
            params,
            seed,
            schedule,
            lambda: elapsed() >= 1.0,
            self._better,
            workers,
            bound=self.bound * self.problem.scale * (1.0 + EXACT),
            recipe=recipe,
        )
        self.searching.run()

    def _better(self, phase: str, snap: Snapshot) -> None:
        length = np.inf if self.problem is None else snap.length / self.problem.scale
        if length < self.told:
            self.told = length
            self._tell(PHASES[phase], length)

    def _tell(self, phase: str, length: float | None = None) -> None:
        if self.on_progress is not None:
            wanted = sum(p.quantity for p in self.parts)
            sheets, placed = (None, 0) if length is None else (1, wanted)
            share = None if length is None else self._utilisation(length)
            bound = self._utilisation(self.bound)
            now = time.monotonic() - self.began
            self.on_progress(Progress(now, phase, share, sheets, placed, wanted, bound))

    def _utilisation(self, length: float) -> float:
        return min(1.0, float(self.area / (self.width * length)))

    def result(self, stopped: bool = False) -> StripPacking:
        """Return the best layout; the columns if there is none."""
        if self.problem is None or self.searching is None:
            return replace(self.columns, stopped=stopped)
        problem, best, n = self.problem, self.searching.best_so_far, self.searching.tries
        if isinstance(self.searching, AnyAngleSearch):
            problem, best = self.searching.result()
        stopped = stopped or self.searching.interrupted
        length = best.length / problem.scale
        if not length < self.columns.length:
            return replace(self.columns, tries=n, stopped=stopped)
        return StripPacking(length, _placements(problem, best), n, stopped)


def _problem(parts: Sequence[Item], width: float, params: StripParams) -> StripProblem:
    """Make a strip ready, and lattices for it."""
    problem = StripProblem.of(parts, width)
    return problem.with_lattices() if params.has_lattices(problem.movable) else problem


def _warm_up(search: StripSearch | AnyAngleSearch) -> None:
    """Run a search for its kernels alone; Ctrl-C meanwhile is meant for the real one."""
    search.run()
    if search.interrupted:
        raise KeyboardInterrupt


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
