"""Shorten a strip: take a slice out, move the parts apart, make the result exact, repeat.

Tries are numbered and run a few at a time. All of a round start from what was known when it
began, and of those that succeed the one with the lowest number counts, whoever finished
first. So the result does not depend on how many of them ran at once, and with one worker
no try is wasted.
"""

from __future__ import annotations

import threading
from collections.abc import Callable
from concurrent.futures import Executor, Future, ThreadPoolExecutor
from dataclasses import dataclass, field

import numpy as np

from nestlib.engine.attempts import Found, Task, Worker
from nestlib.engine.layouts import NOTHING, Snapshot
from nestlib.engine.problem import StripProblem
from nestlib.engine.relocation import Effort

Log = Callable[[str, Snapshot], None]


@dataclass(frozen=True)
class StripParams:
    """How the strip is searched.

    Parameters
    ----------
    effort : Effort
        How hard to look for the place of one part.
    ahead : int
        Tries of one round.
    starts : int
        Searches that are begun; the best goes on.
    start_share : float
        Share of the time until then.
    soft : float
        Overlaps no deeper than this do not count before the linear program.
    mend : float
        Failed layouts that overlap less than this are handed to the linear program.
    long_share : float
        Share of the time for long steps.
    long_step, least_step : float
        Longest and shortest of them.
    less, more : float
        Factor of the step after `tries` failures, and after a success.
    stall, strikes : int
        When a try with a long step is given up.
    short_first, short_last : float
        Short steps at the beginning and at the end of their time.
    short_stall : int
        When a try with a short step is given up.
    short_soft : float
        Share of `soft` during short steps.
    """

    effort: Effort = field(default_factory=lambda: Effort(50, 100, 5))
    ahead: int = 2
    starts: int = 4
    start_share: float = 0.3
    soft: float = 0.003
    mend: float = 0.3
    long_share: float = 0.8
    long_step: float = 0.01
    least_step: float = 0.001
    less: float = 0.8
    more: float = 1.2
    tries: int = 3
    stall: int = 40
    strikes: int = 2
    short_first: float = 0.005
    short_last: float = 0.0002
    short_stall: int = 40
    short_soft: float = 0.1


class StripSearch:
    """The search for a short strip.

    Parameters
    ----------
    problem : StripProblem
        What is placed.
    params : StripParams
        How.
    seed : int
        Seed of all random numbers.
    spent : callable
        Share of the time that is spent, given the number of tries; 1 ends the search.
    over : callable
        Whether to stop at once.
    log : callable
        Told of every better layout.
    workers : int
        Threads.
    """

    def __init__(
        self,
        problem: StripProblem,
        params: StripParams,
        seed: int,
        spent: Callable[[int], float],
        over: Callable[[], bool],
        log: Log,
        workers: int = 1,
    ) -> None:
        self.problem, self.params, self.seed = problem, params, seed
        self.spent, self.over, self.log = spent, over, log
        self.workers = [Worker(problem, params.effort) for _ in range(params.ahead)]
        self.threads = workers
        self.tries = 0
        self.counts = np.zeros(4, dtype=np.int64)
        self.random = np.random.default_rng((seed, 1))
        self.best = self.base = NOTHING
        self.begun: list[tuple[Snapshot, Snapshot]] = []
        self.interrupted = False

    def run(self) -> Snapshot:
        """Search until the time is spent or the user interrupts; return the best layout."""
        with ThreadPoolExecutor(self.threads) as pool:
            self.pool: Executor = pool
            try:
                self._start_several()
                self._long_steps(self.params.long_share)
                self._short_steps()
            except KeyboardInterrupt:
                self.interrupted = True
        return self.best_so_far

    @property
    def best_so_far(self) -> Snapshot:
        """Return the shortest layout of all that were begun; `NOTHING` if there is none."""
        return min([self.best, *(best for best, _ in self.begun)], key=lambda s: s.length)

    def _start_several(self) -> None:
        """Begin several searches; go on with the one that came farthest."""
        p = self.params
        for k in range(p.starts):
            if k and self._over():
                break
            self._begin(k)
            self._long_steps(p.start_share * (k + 1) / p.starts)
            self.begun.append((self.best, self.base))
        self.best, self.base = min(self.begun, key=lambda f: f[0].length)

    def _over(self) -> bool:
        return self.interrupted or self.over()

    def _begin(self, start: int) -> None:
        """Throw the parts into a long strip and move them apart."""
        worker, density = self.workers[0], 0.5
        box = self.problem.cat.box
        longest = float((box[:, 2] - box[:, 0]).max())
        while True:
            length = max(self.problem.movable / density / self.problem.width, longest)
            worker.board.scatter(length, self.random)
            snap = worker.separated((self.seed, 2, start), self.params.soft, 200, 3, lambda: False)
            exact = worker.exact(snap) if snap.loss == 0.0 else None
            if exact is not None:
                break
            density *= 0.8
        self.base = self.best = exact
        self.log("start", exact)

    def _round(self, tasks: list[Task]) -> list[Found]:
        """Run tasks; return what those up to the first success found."""
        best, winner = self.best.length, [len(tasks)]
        lock = threading.Lock()

        def carry_out(k: int) -> Found | None:
            if k > winner[0] or self._over():
                return None
            found = self.workers[k].try_out(tasks[k], lambda: k > winner[0] or self._over())
            if _succeeded(found, best):
                with lock:
                    winner[0] = min(winner[0], k)
            return found

        results: list[Future[Found | None]] = [
            self.pool.submit(carry_out, k) for k in range(len(tasks))
        ]
        found = [r.result() for r in results][: winner[0] + 1]
        self.tries += len(found)
        kept = [f for f in found if f is not None]
        for f in kept:
            self.counts += f.counts
        return kept

    def _accept(self, found: Found, phase: str) -> None:
        """Go on from a success."""
        self.base = found.snap if found.snap.loss == 0.0 else self.base
        if found.exact is not None:
            if found.exact.length < self.best.length:
                self.best = found.exact
                self.log(phase, self.best)
            if found.exact.length < self.base.length or found.snap.loss > 0.0:
                self.base = found.exact

    def _long_steps(self, until: float) -> None:
        p, failed, step, fails = self.params, list[Snapshot](), self.params.long_step, 0
        while self.spent(self.tries) < until and not self._over():
            tasks = [self._long_task(k, failed, step) for k in range(p.ahead)]
            found = self._round(tasks)
            if found and _succeeded(found[-1], self.best.length):
                self._accept(found[-1], "long")
                failed, fails, step = [], 0, min(step * p.more, p.long_step)
                continue
            failed = sorted([*failed, *(f.snap for f in found)], key=lambda s: s.loss)
            for _ in found:
                fails += 1
                if fails % p.tries == 0:
                    step = max(step * p.less, p.least_step)

    def _long_task(self, k: int, failed: list[Snapshot], step: float) -> Task:
        p, start = self.params, self.base
        if failed:
            at = int(abs(self.random.normal(0.0, 0.25)) * len(failed))
            start = failed[min(at, len(failed) - 1)]
        length = self.base.length * (1.0 - step)
        seed = (self.seed, 3, self.tries + k)
        exchange = bool(failed) or k > 0
        return Task(start, length, exchange, seed, p.stall, p.strikes, p.mend, p.soft)

    def _short_steps(self) -> None:
        p, at = self.params, self.spent(self.tries)
        self.base = self.best
        while self.spent(self.tries) < 1.0 and not self._over():
            share = (self.spent(self.tries) - at) / max(1.0 - at, 1e-9)
            step = p.short_first * (p.short_last / p.short_first) ** share
            tasks = [
                Task(
                    self.best,
                    self.best.length * (1.0 - step),
                    False,
                    (self.seed, 4, self.tries + k),
                    p.short_stall,
                    1,
                    p.mend,
                    p.short_soft * p.soft,
                )
                for k in range(p.ahead)
            ]
            found = self._round(tasks)
            if found and _succeeded(found[-1], self.best.length):
                self._accept(found[-1], "short")


def _succeeded(found: Found, best: float) -> bool:
    return found.snap.loss == 0.0 or (found.exact is not None and found.exact.length < best)
