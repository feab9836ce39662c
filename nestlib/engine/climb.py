"""One search: which try comes next, and what is learnt from what it found.

Tries are numbered. The task of a try is fixed by the last success and by those failures
that lie at least `lag` tries back, so up to `lag` tries can run beside each other; a success
makes all tries after it void, since they began from an older layout. Hence the layouts that
are found do not depend on how many tries ran at once.
"""

from __future__ import annotations

from bisect import insort

import numpy as np

from nestlib.engine.attempts import Found, Task
from nestlib.engine.layouts import NOTHING, Snapshot, scattered
from nestlib.engine.parameters import StripParams
from nestlib.engine.problem import StripProblem
from nestlib.engine.schedule import Moment

#: Share of the strip that a first layout thrown in at random covers.
_LOOSE = 0.5


class Climb:
    """A search for a shorter and shorter strip.

    Parameters
    ----------
    problem : StripProblem
        What is placed.
    params : StripParams
        How it is searched.
    seed : tuple of int
        Seed of all its random numbers.
    begin : Snapshot, optional
        A layout without overlaps to begin from; else parts are thrown in at random.
    lattice : int
        Number of the lattice on which parts lie during long steps; negative: anywhere.
    """

    def __init__(
        self,
        problem: StripProblem,
        params: StripParams,
        seed: tuple[int, ...],
        begin: Snapshot | None = None,
        lattice: int = -1,
    ) -> None:
        self.problem, self.params, self.seed = problem, params, seed
        self.lattice = lattice
        self.best = self.base = NOTHING if begin is None else begin
        self.tries = self.since = self.era = 0
        self.step = params.long_step
        self.mend = params.mend * max(1.0, problem.movable / 50)
        self.few = problem.movable <= params.many
        self.failures: list[Snapshot] = []
        self.pool: list[Snapshot] = []

    def next_task(self, ahead: int, moment: Moment) -> Task:
        """Return the task of the try that comes after `ahead` others."""
        if self.best is NOTHING:
            return self._begin(ahead)
        alternate = self.lattice >= 0 and (self.tries + ahead) % 2
        if moment.phase == "short" and not alternate:
            return self._short(ahead, moment)
        return self._long(ahead)

    def learn(self, found: Found) -> bool:
        """Take note of what the next try found; return whether it is a success."""
        k = self.since
        self.tries, self.since = self.tries + 1, k + 1
        if self._succeeded(found):
            self._accept(found)
            self.step = min(self._step(k) * self.params.more, self.params.long_step)
            self._forget_failures()
            return True
        self.failures.append(found.snap)
        return False

    def begin_anew(self, best: Snapshot) -> None:
        """Go on from the best layout that is known."""
        self.best = self.base = best
        self._forget_failures()

    def _forget_failures(self) -> None:
        """Begin a new era: tries ahead are void."""
        self.era, self.since, self.failures, self.pool = self.era + 1, 0, [], []

    def _succeeded(self, found: Found) -> bool:
        if found.exact is not None and found.exact.length < self.best.length:
            return True
        return found.snap.loss == 0.0 and self.best is not NOTHING

    def _accept(self, found: Found) -> None:
        self.base = found.snap if found.snap.loss == 0.0 else self.base
        if found.exact is not None:
            if found.exact.length < self.best.length:
                self.best = found.exact
            if found.exact.length < self.base.length or found.snap.loss > 0.0:
                self.base = found.exact

    def _seed(self, ahead: int) -> tuple[int, ...]:
        return (*self.seed, self.tries + ahead)

    def _begin(self, ahead: int) -> Task:
        """Throw the parts in; the more often that failed, the longer the strip."""
        random = np.random.default_rng(self._seed(ahead))
        density = _LOOSE * 0.8 ** (self.since + ahead)
        start = scattered(self.problem, density, random)
        return Task(start, start.length, False, self._seed(ahead), 200, 3, 0.0, self.params.soft)

    def _step(self, k: int) -> float:
        p = self.params
        fewer = k // p.tries if self.few else k * p.tries
        return max(self.step * p.less**fewer, p.least_step)

    def _long(self, ahead: int) -> Task:
        p, start, k = self.params, self.base, self.since + ahead
        if self.few and k >= p.lag:
            start = self._good_failure(k - p.lag + 1, np.random.default_rng(self._seed(ahead)))
        length = self.base.length * (1.0 - self._step(k))
        swap, seed = self.few and k > 0, self._seed(ahead)
        stall = p.stall if self.lattice < 0 else p.lattice_stall
        return Task(start, length, swap, seed, stall, p.strikes, self.mend, p.soft, self.lattice)

    def _good_failure(self, known: int, random: np.random.Generator) -> Snapshot:
        """Return one of the first `known` failures, more often one with little overlap."""
        while len(self.pool) < known:
            insort(self.pool, self.failures[len(self.pool)], key=_loss)
        at = int(abs(random.normal(0.0, 0.25)) * known)
        return self.pool[min(at, known - 1)]

    def _short(self, ahead: int, moment: Moment) -> Task:
        p = self.params
        step = p.short_first * (p.short_last / p.short_first) ** moment.share
        length, soft = self.best.length * (1.0 - step), p.short_soft * p.soft
        return Task(self.best, length, False, self._seed(ahead), p.short_stall, 1, self.mend, soft)


def _loss(snap: Snapshot) -> float:
    return snap.loss
