"""The search for a short strip whose parts may turn by any angle.

Sets of angles are searched one after the other; those that seem best go on. Good layouts are
made shorter by turning parts a little (`turning`), and at the end the search goes on among
the angles that this has found.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass, field, replace
from functools import partial

import numpy as np

from nestlib.engine.attempts import Found
from nestlib.engine.catalogue import Turn
from nestlib.engine.compaction import Bounds
from nestlib.engine.items import Item
from nestlib.engine.lattice import common_length
from nestlib.engine.layouts import NOTHING, Snapshot
from nestlib.engine.problem import StripProblem
from nestlib.engine.schedule import Moment, by_share
from nestlib.engine.search import Log, StripParams, StripSearch
from nestlib.engine.search_angles import search_angles, turns_of
from nestlib.engine.turning import (
    FreeLayout,
    Outlines,
    TurningParams,
    free_layout,
    refined,
    with_own_angles,
)
from nestlib.interrupts import plain_interrupts


@dataclass(frozen=True)
class AnyAngleParams:
    """How the time is divided.

    Parameters
    ----------
    drawn, each : float
        Shares of the time for searching the parts as drawn, and at each other set of angles.
    best : float
        Share until which the sets that seem best go on; the rest of the time goes to the
        angles that turning has found.
    slices, doubt : int, float
        They go on for so many slices of time, each time the one with the shortest layout,
        where each slice in vain counts as if the layout were longer by this share.
    rests : int
        Searches among these angles, each followed by turning.
    starts : int
        Searches that each set begins together.
    step : float
        A layout is turned if it is shorter by this share than the last one that was.
    near : float
        Other layouts are turned if they are no longer than this many times the shortest ...
    every : int
        ... but only the shortest of so many tries.
    rough : TurningParams
        How layouts are turned while the sets compete.
    most : int
        With more parts than this none are turned.
    tries : int
        Tries of the first round where their number alone ends the search; each round has
        twice as many.
    search : StripParams
        How each set is searched.
    """

    drawn: float = 0.1
    each: float = 0.08
    best: float = 0.85
    slices: int = 10
    doubt: float = 0.005
    rests: int = 3
    starts: int = 2
    step: float = 0.003
    near: float = 1.01
    every: int = 8
    rough: TurningParams = field(default_factory=lambda: TurningParams(rounds=6, gain=1e-3))
    most: int = 400
    tries: int = 200
    search: StripParams = field(default_factory=StripParams)


@dataclass(frozen=True)
class Clock:
    """When a search ends.

    Parameters
    ----------
    elapsed : callable
        Share of the time that is over; 0 if only tries count.
    tries : int or None
        Most tries.
    timed : bool
        Whether time counts.
    """

    elapsed: Callable[[], float]
    tries: int | None
    timed: bool

    def over(self) -> bool:
        """Tell whether the time is over."""
        return self.timed and self.elapsed() >= 1.0

    def spent(self, tried: int) -> float:
        """Return the share of time and tries that is spent."""
        counted = 0.0 if self.tries is None else tried / max(self.tries, 1)
        return max(self.elapsed() if self.timed else 0.0, counted)


@dataclass
class _Lane:
    """The search among one set of angles.

    `snap` is its shortest layout, `length` that after turning; `tried` is the length of the
    last one that was turned. `spare` is the shortest of those found since that were longer,
    `heard` the number of tries since; `vain` how often it went on in vain.
    """

    problem: StripProblem
    recipe: Callable[[], StripProblem]
    snap: Snapshot = NOTHING
    tried: float = np.inf
    length: float = np.inf
    spare: Snapshot = NOTHING
    heard: int = 0
    vain: int = 0


class AnyAngleSearch:
    """The search for a short strip, some of whose parts may turn by any angle.

    Parameters
    ----------
    items : sequence of Item
        What is placed; those without `rotations` turn freely, the others keep to theirs.
    width : float
        Width of the strip.
    seed : int
        Of all chance.
    clock : Clock
        When to end.
    log : callable
        Told the phase and the layout whenever there is a better one.
    workers : int or Executor
        Threads, or what carries out the tries.
    params : AnyAngleParams, optional
        How the time is divided.
    """

    def __init__(
        self,
        items: Sequence[Item],
        width: float,
        seed: int,
        clock: Clock,
        log: Log = lambda phase, snap: None,
        workers: int | Executor = 1,
        params: AnyAngleParams | None = None,
    ) -> None:
        self.items, self.width, self.seed = tuple(items), width, seed
        self.clock, self.log, self.workers = clock, log, workers
        self.params = params or AnyAngleParams()
        self.problem = StripProblem.of(self.items, width)
        self.outlines = Outlines(self.problem)
        self.bounds = Bounds(self.problem.width, np.inf, self.problem.movable)
        free = np.array([item.rotations is None for item in self.items])
        self.may_turn = free[self.problem.kind]
        self.bound = self.problem.movable / self.problem.width * (1.0 + 1e-9)
        self.best: FreeLayout | None = None
        self.tries = self.legs = 0
        self.interrupted = False

    def run(self) -> None:
        """Search until the end or a KeyboardInterrupt."""
        try:
            with plain_interrupts():
                self._rounds(self._lanes())
        except KeyboardInterrupt:
            self.interrupted = True

    def result(self) -> tuple[StripProblem, Snapshot]:
        """Return the best layout, and a problem that knows its angles."""
        if self.best is None:
            return self.problem, NOTHING
        return with_own_angles(self.problem, self.best, tabulate=False)

    @property
    def best_so_far(self) -> Snapshot:
        """Return the best layout, its orientations left out; `NOTHING` if there is none."""
        if self.best is None:
            return NOTHING
        turn = np.zeros(len(self.best.x), np.int64)
        return Snapshot(self.best.length, turn, self.best.x, self.best.y)

    def _over(self) -> bool:
        return self.clock.spent(self.tries) >= 1.0 or self._found_all()

    def _found_all(self) -> bool:
        return self.best is not None and self.best.length <= self.bound

    def _lanes(self) -> list[_Lane]:
        """Return one search for each set of angles, without repetitions."""
        sets = [search_angles(kind.polygon) for kind in self.problem.kinds]
        lanes: list[_Lane] = []
        known: list[list[tuple[Turn, ...]]] = []
        for level in range(len(sets[0])):
            turns = [
                turns_of(kind, own[level], (False, True)[: 1 + item.flip], self.problem.width)
                if item.rotations is None
                else kind.turns
                for kind, own, item in zip(self.problem.kinds, sets, self.items, strict=True)
            ]
            if turns not in known:
                known.append(turns)
                recipe = partial(_with_turns, self.items, self.width, turns, self.params.search)
                problem = _with_own_lattices(self.problem.with_turns(turns), self.params.search)
                lanes.append(_Lane(problem, recipe))
        return lanes

    def _rounds(self, lanes: list[_Lane]) -> None:
        """Go through rounds until the end, the first by time where time counts."""
        if self.clock.timed:
            self._round(lanes, self.clock.spent)
        for first, length in _doubling(self.params.tries):
            if self._over():
                break
            self._round(lanes, partial(_share, first, length))

    def _round(self, lanes: list[_Lane], spent: Callable[[int], float]) -> None:
        """Search all sets, then the best ones, and then among the angles found."""
        p, until = self.params, 0.0
        for k, lane in enumerate(lanes):
            until += p.each if k else p.drawn
            self._leg(lane, spent, until, rough=True)
        for k in range(p.slices):
            lane = min(lanes, key=self._prospect)
            before = lane.length
            self._leg(lane, spent, until + (p.best - until) * (k + 1) / p.slices)
            lane.vain = 0 if lane.length < before else lane.vain + 1
        best = min(lanes, key=_length)
        last: FreeLayout | None = None
        for k in range(p.rests):
            if self.best is None or self._over():
                return
            if self.best is not last:
                last, lane = self.best, self._among_own_angles(best, self.best)
            self._leg(lane, spent, p.best + (1.0 - p.best) * (k + 1) / p.rests)

    def _prospect(self, lane: _Lane) -> float:
        return lane.length * (1.0 + self.params.doubt * lane.vain)

    def _among_own_angles(self, lane: _Lane, layout: FreeLayout) -> _Lane:
        """Return a search that knows the angles of a layout besides those of a set."""
        turns = [kind.turns for kind in lane.problem.kinds]
        problem, snap = with_own_angles(lane.problem, layout, turns)
        listed = [kind.turns for kind in problem.kinds]
        recipe = partial(_with_turns, self.items, self.width, listed, self.params.search)
        return _Lane(problem, recipe, snap, snap.length, snap.length)

    def _leg(
        self, lane: _Lane, spent: Callable[[int], float], until: float, rough: bool = False
    ) -> None:
        """Search one set of angles until a share of the round is spent."""
        if self._over():
            return
        before, begin = self.tries, spent(self.tries)
        if begin >= until:
            return

        def share(tried: int) -> float:
            k = before + tried
            if self.clock.spent(k) >= 1.0:
                return 1.0
            return (spent(k) - begin) / (until - begin)

        def better(phase: str, snap: Snapshot) -> None:
            self._learn(lane, phase, snap, rough)

        p = self.params
        fresh = lane.snap is NOTHING
        search = StripSearch(
            lane.problem,
            replace(p.search, starts=p.starts if fresh else 1),
            int(np.random.SeedSequence((self.seed, self.legs)).generate_state(1)[0]),
            _phases(share, fresh),
            self.clock.over,
            better,
            self.workers,
            begin=None if fresh else lane.snap,
            bound=self.bound,
            recipe=lane.recipe,
            hear=lambda found: None if rough else self._hear(lane, found),
        )
        self.legs += 1
        try:
            search.run()
        finally:
            self.tries = before + search.tries
        if search.interrupted:
            raise KeyboardInterrupt
        if lane.snap.length < lane.tried:
            self._turn(lane, p.rough if rough else None)

    def _learn(self, lane: _Lane, phase: str, snap: Snapshot, rough: bool) -> None:
        """Take note of a better layout of one set; turn it if it is much better."""
        lane.snap = snap
        self._take(lane, phase, free_layout(lane.problem, snap))
        if not rough and snap.length < lane.tried * (1.0 - self.params.step):
            self._turn(lane, None)

    def _hear(self, lane: _Lane, found: Found) -> None:
        """Turn, now and then, the best of the layouts that are not quite the shortest."""
        p, near = self.params, found.exact
        if near is not None and lane.snap.length < near.length < lane.spare.length:
            lane.spare = near
        lane.heard += 1
        if lane.heard >= p.every and lane.spare.length < lane.snap.length * p.near:
            self._turned(lane, lane.spare, None)
            lane.spare, lane.heard = NOTHING, 0

    def _turn(self, lane: _Lane, params: TurningParams | None) -> None:
        lane.tried = lane.snap.length
        self._turned(lane, lane.snap, params)

    def _turned(self, lane: _Lane, snap: Snapshot, params: TurningParams | None) -> None:
        if self.problem.movable <= self.params.most and not self.clock.over():
            layout, over = free_layout(lane.problem, snap), self.clock.over
            found = refined(self.outlines, layout, self.bounds, self.may_turn, params, over)
            self._take(lane, "turn", found)

    def _take(self, lane: _Lane, phase: str, layout: FreeLayout) -> None:
        lane.length = min(lane.length, layout.length)
        if self.best is None or layout.length < self.best.length:
            self.best = layout
            self.log(phase, self.best_so_far)


def _length(lane: _Lane) -> float:
    return lane.length


def _with_turns(
    items: Sequence[Item], width: float, turns: Sequence[Sequence[Turn]], params: StripParams
) -> StripProblem:
    return _with_own_lattices(StripProblem.of(items, width).with_turns(turns), params)


def _with_own_lattices(problem: StripProblem, params: StripParams) -> StripProblem:
    """Make lattices ready where the outlines have one of their own at these turns."""
    own = params.has_lattices(problem.movable) and common_length(problem.kinds) > 0.0
    return problem.with_lattices() if own else problem


def _doubling(tries: int) -> Sequence[tuple[int, int]]:
    """Return first number and length of rounds, each twice as long as the one before."""
    return [(tries * (2**k - 1), tries * 2**k) for k in range(40)]


def _share(first: int, length: int, tried: int) -> float:
    return (tried - first) / length


def _phases(share: Callable[[int], float], fresh: bool) -> Callable[[int], Moment]:
    """Several starts for a set that is new, then long steps, then short ones."""
    return by_share(share, 0.6 if fresh else 0.0, 0.9 if fresh else 0.7)
