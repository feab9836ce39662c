"""Lay as much value as possible in a room: squeeze pieces in, move all apart, make it exact.

A try changes the best layout known (or a failed one that would be worth more): some of the
missing pieces are thrown in where they overlap least, perhaps in exchange for others, and
then everything is moved until nothing overlaps. Once all pieces lie, the room is made
shorter instead. Tries are numbered; those of a round start from the same knowledge, and the
first that succeeds counts, so the number of workers changes nothing.

J. Egeblad, D. Pisinger, "Heuristic approaches for the two- and three-dimensional knapsack
packing problem", Computers & Operations Research 36 (2009) 1026-1049.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass, field, replace
from threading import Event

import numpy as np

from nestlib.engine.attempts import Worker
from nestlib.engine.catalogue import Floats, Ints
from nestlib.engine.compaction import Bounds, compact
from nestlib.engine.items import ItemPlacement
from nestlib.engine.kernel import kernel
from nestlib.engine.layouts import Snapshot
from nestlib.engine.overlap import Layout, Shapes, put
from nestlib.engine.problem import StripProblem
from nestlib.engine.relocation import Effort, Workspace, best_place
from nestlib.engine.stock import Room, Stock

#: How often an exchange that pays is looked for, and most pieces that are taken out for it.
_LOOKS, _MOST_OUT = 20, 6

#: How often pieces are chosen by their value; else by that for their area.
_BY_VALUE = 0.5

_NOWHERE = np.zeros((0, 2))


@dataclass(frozen=True)
class SheetParams:
    """How a room is searched.

    Parameters
    ----------
    effort : Effort
        How hard to look for the place of one piece.
    ahead : int
        Tries of one round; more threads than these have nothing to do.
    soft : float
        Overlaps no deeper than this do not count before the linear program.
    mend : float
        Failed layouts that overlap less than this are handed to the linear program.
    stall, strikes : int
        When a try is given up, see `separate`.
    again : float
        How often a try goes on from a failed layout, if there is one.
    swap : float
        How often pieces are taken out for others.
    pool : int
        Failed layouts that are kept.
    longest, shortest : float
        Steps by which the room is made shorter, as a share of its length.
    fine : float
        Below such a step a tenth of `soft` is asked for.
    programs : int
        Most linear programs at the end of a try.
    """

    effort: Effort = field(default_factory=lambda: Effort(50, 100, 5))
    ahead: int = 2
    soft: float = 0.003
    mend: float = 0.2
    stall: int = 20
    strikes: int = 1
    again: float = 0.35
    swap: float = 0.3
    pool: int = 12
    longest: float = 0.02
    shortest: float = 0.0005
    fine: float = 0.003
    programs: int = 6


@dataclass(frozen=True)
class Laid:
    """A layout of some pieces.

    Parameters
    ----------
    snap : Snapshot
        Where they lie.
    kind : ndarray of int64, shape (n,)
        Kind of each.
    value : float
        What they are worth.
    """

    snap: Snapshot
    kind: Ints
    value: float

    def rank(self) -> tuple[float, float]:
        """Return what is compared: the larger, the better."""
        return self.value, -self.snap.length


@kernel
def settle(shp: Shapes, lay: Layout, ws: Workspace, room: Floats, effort: Effort, new: int) -> None:
    """Place the last `new` pieces, one after the other, where they overlap least."""
    for i in range(lay.movable - new, lay.movable):
        if best_place(shp, lay, ws, room, i, effort) < np.inf:
            put(shp.cat, lay, i, int(ws.places[0, 1]), ws.places[0, 2], ws.places[0, 3])


@dataclass(frozen=True)
class _Goal:
    """A layout to be freed of its overlaps."""

    start: Snapshot
    kind: Ints
    value: float
    length: float
    new: int = 0
    exchange: bool = False
    fine: bool = False


class SheetSearch:
    """The search for a layout of one room.

    Parameters
    ----------
    stock : Stock
        Kinds and rooms.
    room : Room
        The one that is filled.
    quantity : ndarray of int64, shape (kinds,)
        Most pieces of each kind.
    value : ndarray, shape (kinds,)
        What a piece of each kind is worth.
    seed : tuple of int
        Seed of all random numbers.
    over : callable
        Whether to stop at once.
    begin : Snapshot, optional
        An exact layout to begin with.
    params : SheetParams, optional
        How to search.
    shorten : bool
        Whether to make the room shorter once all pieces lie.
    """

    def __init__(
        self,
        stock: Stock,
        room: Room,
        quantity: Ints,
        value: Floats,
        seed: tuple[int, ...],
        over: Callable[[], bool],
        begin: Snapshot | None = None,
        params: SheetParams | None = None,
        shorten: bool = True,
    ) -> None:
        self.stock, self.room, self.params = stock, room, params or SheetParams()
        fits = [len(stock.fitting(k, room)) > 0 for k in range(len(quantity))]
        self.quantity, self.value = np.where(fits, quantity, 0), value
        self.seed, self.over, self.shorten = seed, over, shorten
        self.best = self._laid(begin if begin is not None else stock.laid(room, [], [], _NOWHERE))
        self.failed: list[Laid] = []
        self.tries = self.vain = 0
        self.chunk, self.step = self._first_chunk(), self.params.longest
        self.on_better: Callable[[Laid], None] = lambda _: None

    def _laid(self, snap: Snapshot) -> Laid:
        kind = self.stock.kinds_of(self.room, snap)
        return Laid(snap, kind, float(self.value[kind].sum()))

    def _first_chunk(self) -> int:
        """How many pieces are thrown in at first: about half of what there is room for."""
        missing = self.missing()
        area = self.stock.area
        used = area[self.best.kind].sum()
        free = self.room.area - used
        mean = (missing * area).sum() / max(missing.sum(), 1)
        half = 0.5 if len(self.best.kind) == 0 else 0.1
        return max(1, int(min(missing.sum(), half * free / max(mean, 1e-12))))

    def missing(self) -> Ints:
        """Return how many pieces of each kind do not lie yet."""
        return self.quantity - np.bincount(self.best.kind, minlength=len(self.quantity))

    @property
    def complete(self) -> bool:
        """Whether all pieces lie."""
        return not self.missing().any()

    def placements(self) -> list[ItemPlacement]:
        """Return the placements of the best layout about the own (0, 0) of each piece."""
        return self.stock.placements(self.room, self.best.snap)

    def run(
        self,
        tries: int,
        vain: int,
        workers: int | ThreadPoolExecutor = 1,
        pause: int | None = None,
    ) -> Laid:
        """Search for so many tries, or until so many in a row were in vain.

        Parameters
        ----------
        tries, vain : int
            Most tries altogether, and most in a row that bring nothing.
        workers : int or ThreadPoolExecutor
            Threads; more than the tries of one round gain nothing.
        pause : int, optional
            Return after so many tries altogether, or one round more; to be called again
            with the same `tries` then. The pause changes nothing.
        """
        if isinstance(workers, ThreadPoolExecutor):
            return self._run(tries, vain, workers, pause)
        with ThreadPoolExecutor(workers) as own:
            return self._run(tries, vain, own if workers > 1 else None, pause)

    def _run(
        self, tries: int, vain: int, pool: ThreadPoolExecutor | None, pause: int | None
    ) -> Laid:
        until = tries if pause is None else min(pause, tries)
        while self.tries < until and self.vain < vain and not self.over():
            ahead = min(self.params.ahead, tries - self.tries)
            goals = [self._goal(self.tries + k) for k in range(ahead)]
            if not any(goals):
                break
            self._round([g for g in goals if g is not None], pool)
        return self.best

    def _round(self, goals: list[_Goal], pool: ThreadPoolExecutor | None) -> None:
        """Carry goals out; learn from those up to the first success."""
        if pool is None:
            numbered = enumerate(goals, self.tries)
            self._learn(self._carry_out(g, number, self.over) for number, g in numbered)
            return
        decided, futures = Event(), list[Future[tuple[Laid, bool]]]()
        try:
            for number, g in enumerate(goals, self.tries):
                futures.append(pool.submit(self._carry_out, g, number, self._until(decided)))
            self._learn(f.result() for f in futures)
        finally:  # tries after the first success are not asked for any more
            decided.set()
            for f in futures:
                f.cancel()

    def _until(self, decided: Event) -> Callable[[], bool]:
        return lambda: decided.is_set() or self.over()

    def _learn(self, results: Iterator[tuple[Laid, bool]]) -> None:
        for laid, exact in results:
            self.tries += 1
            if exact and laid.rank() > self.best.rank():
                self._accept(laid)
                break
            self.failed = sorted([*self.failed, laid], key=lambda f: f.snap.loss)
            self.failed = self.failed[: self.params.pool]
            self.vain += 1
            self.chunk = max(1, self.chunk // 2)
            if self.vain % 2 == 0:
                self.step = max(self.params.shortest, 0.7 * self.step)

    def _accept(self, laid: Laid) -> None:
        more = len(laid.kind) - len(self.best.kind)
        self.best, self.vain = laid, 0
        self.failed = [f for f in self.failed if f.rank() > laid.rank()]
        self.chunk = max(self.chunk, 2 * more)
        self.step = min(self.params.longest, 1.3 * self.step)
        self.on_better(laid)

    def _goal(self, number: int) -> _Goal | None:
        """Choose what a try is for; it depends on its number and what is known."""
        random = np.random.default_rng((*self.seed, 1, number))
        if self.full:
            return None
        if self.failed and random.random() < self.params.again:
            at = min(int(abs(random.normal(0.0, 0.3)) * len(self.failed)), len(self.failed) - 1)
            f = self.failed[at]
            return _Goal(f.snap, f.kind, f.value, f.snap.length, 0, True)
        if self.complete:
            return self._shorter() if self.shorten and len(self.best.kind) else None
        return self._more(random)

    @property
    def full(self) -> bool:
        """Whether there is no gap, in the room or left of the last piece, and no better piece."""
        if not len(self.best.kind) or self._could_be_worth_more():
            return False
        box = self.room.width * self.reach(self.best) if self.complete else np.inf
        used = float(self.stock.area[self.best.kind].sum())
        return used >= min(self.room.area, box) * (1 - 1e-9)

    def _could_be_worth_more(self) -> bool:
        """Whether a missing piece is worth more for its area than one that lies."""
        dense = self.value / np.maximum(self.stock.area, 1e-12)
        missing = dense[self.missing() > 0]
        return bool(missing.max(initial=0.0) > dense[self.best.kind].min() * (1 + 1e-9))

    def _shorter(self) -> _Goal:
        b, length = self.best, self.reach(self.best)
        fine = self.step < self.params.fine
        return _Goal(b.snap, b.kind, b.value, length * (1.0 - self.step), fine=fine)

    def reach(self, laid: Laid) -> float:
        """Return how far the pieces of a layout reach along x."""
        n = len(laid.kind)
        return float((laid.snap.x + self.stock.shapes.cat.box[laid.snap.turn, 2])[:n].max())

    def _more(self, random: np.random.Generator) -> _Goal | None:
        """Add missing pieces, perhaps in exchange for others."""
        if self.chunk == 1 and random.random() < self.params.swap:
            goal = self._exchange(random) or self._addition(random)
        else:
            goal = self._addition(random) or self._exchange(random)
        return goal

    def _addition(self, random: np.random.Generator) -> _Goal | None:
        """Add as many pieces as are asked for, if there is area for any."""
        added = self._added(random, self.best.kind, self.chunk)
        kept = np.arange(len(self.best.kind))
        return self._thrown_in(random, kept, added) if len(added) else None

    def _exchange(self, random: np.random.Generator) -> _Goal | None:
        """Take out neighbours to make room for a missing piece, if that pays."""
        n, area, chances = len(self.best.kind), self.stock.area, self.missing() * self.value
        if n == 0 or not chances.any():
            return None
        x, y = self.best.snap.x[:n], self.best.snap.y[:n]
        for _ in range(_LOOKS):
            new = int(random.choice(len(chances), p=chances / chances.sum()))
            i = int(random.integers(n))
            near = np.argsort(np.hypot(x - x[i], y - y[i]), kind="stable")
            freed = (
                self.room.area - area[self.best.kind].sum() + np.cumsum(area[self.best.kind[near]])
            )
            count = int(np.searchsorted(freed, area[new] * (1 - 1e-9))) + 1
            kept = np.sort(near[count:])
            kind = np.append(self.best.kind[kept], new)
            added = np.append(new, self._added(random, kind, len(chances) + count))
            goal = self._thrown_in(random, kept, added)
            if count <= _MOST_OUT and goal.value > self.best.value * (1 + 1e-12):
                return goal
        return None

    def _added(self, random: np.random.Generator, kind: Ints, most: int) -> Ints:
        """Choose pieces for the area that is free, rather those worth much, or for their area."""
        area = self.stock.area
        dense = self.value / np.maximum(area, 1e-12)
        alike = np.ptp(dense) <= 1e-9 * dense.max(initial=0.0)
        worth = self.value if alike or random.random() < _BY_VALUE else dense
        left = self.quantity - np.bincount(kind, minlength=len(self.quantity))
        free = (self.room.area - area[kind].sum()) * (1 + 1e-9)
        order = np.argsort(-worth * random.lognormal(0.0, 0.5, len(worth)))
        found: list[int] = []
        for k in order:
            fits = int(free / area[k]) if area[k] > 0 else 0
            n = int(min(left[k], fits, most - len(found)))
            found += [int(k)] * n
            free -= n * area[k]
        return np.array(found, dtype=np.int64)

    def _thrown_in(self, random: np.random.Generator, kept: Ints, added: Ints) -> _Goal:
        """Lay what is kept as it was, and the added pieces anywhere."""
        snap, n = self.best.snap, len(self.best.kind)
        turn = [int(random.choice(self.stock.fitting(k, self.room))) for k in added]
        x = random.uniform(0.0, self.room.length, len(added))
        y = random.uniform(0.0, self.room.width, len(added))
        start = Snapshot(
            self.room.length,
            np.concatenate([snap.turn[kept], np.array(turn, np.int64), snap.turn[n:]]),
            np.concatenate([snap.x[kept], x, snap.x[n:]]),
            np.concatenate([snap.y[kept], y, snap.y[n:]]),
        )
        kind = np.concatenate([self.best.kind[kept], added])
        value = float(self.value[kind].sum())
        return _Goal(start, kind, value, self.room.length, len(added))

    def _carry_out(self, goal: _Goal, number: int, over: Callable[[], bool]) -> tuple[Laid, bool]:
        """Free a layout of its overlaps; tell whether that succeeded."""
        p, seed = self.params, (*self.seed, 2, number)
        random = np.random.default_rng(seed)
        problem = self.stock.problem(goal.kind, self.room)
        worker = Worker(problem, p.effort)
        worker.board.restore(goal.start)
        if goal.length != goal.start.length:
            worker.board.resize(goal.length, random)
        if goal.exchange:
            worker.board.exchange(random)
        if goal.new:
            worker.scratch.rng[:] = random.integers(1 << 62, dtype=np.uint64)
            lay, ws = worker.board.layout, worker.scratch
            settle(worker.shapes, lay, ws, worker.board.room, p.effort, goal.new)
        soft = 0.1 * p.soft if goal.fine or number % 3 == 0 else p.soft
        snap = worker.separated(seed, soft, p.stall, p.strikes, over)
        failed = Laid(snap, goal.kind, goal.value)
        if snap.loss > p.mend or (snap.loss > 0.0 and over()):
            return failed, False
        exact = _exact(problem, snap, p.programs, over)
        return (failed, False) if exact is None else (replace(failed, snap=exact), True)


def _exact(
    problem: StripProblem, snap: Snapshot, programs: int, over: Callable[[], bool]
) -> Snapshot | None:
    """Make a layout exact without leaving the room."""
    bounds = Bounds(problem.width, snap.length, problem.movable)
    found = compact(
        problem.cat, problem.pieces, snap.turn, snap.x, snap.y, bounds, rounds=programs, over=over
    )
    return None if found is None else Snapshot(found[0], snap.turn, found[1], found[2])
