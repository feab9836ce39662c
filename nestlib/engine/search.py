"""Shorten a strip: take a slice out, move the parts apart, make the result exact, repeat.

Several searches begin side by side, in turns, then as many others while there is time, and
are thinned out: half of them go on, then half of these (successive halving: K. Jamieson,
A. Talwalkar, AISTATS 2016); the best takes long steps, then short ones. What is found depends
on the seed and the number of tries alone, not on how many of them run at once.
"""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import Executor
from functools import partial
from typing import NamedTuple

import numpy as np

from nestlib.engine.attempts import Found, Task
from nestlib.engine.climb import Climb
from nestlib.engine.construction import constructed
from nestlib.engine.crew import Alone, Crew, Hired, Threads
from nestlib.engine.lattice import lattice_of
from nestlib.engine.layouts import NOTHING, Snapshot
from nestlib.engine.parameters import StripParams
from nestlib.engine.pipeline import Pipeline
from nestlib.engine.problem import StripProblem
from nestlib.engine.schedule import Schedule
from nestlib.interrupts import plain_interrupts

__all__ = ["StripParams", "StripSearch"]

#: Parts laid in all of the first layouts together, and by how much their orders differ.
_CONSTRUCTED = 400
_JITTER = 0.05

#: Where the number of a search stands in other seeds.
_LAYING = 1 << 31

Log = Callable[[str, Snapshot], None]


class _Leg(NamedTuple):
    """A phase or a part of it: the group of searches that begins, or how many of all go on."""

    phase: str
    group: int | None
    going_on: int


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
    schedule : Schedule
        What is done when.
    over : callable
        Whether to stop at once.
    log : callable
        Told the phase and the layout whenever there is a better one.
    workers : int or Executor
        Threads, or what carries out the tries.
    begin : Snapshot, optional
        A layout without overlaps to go on from; then there are no several starts.
    bound : float
        No strip can be shorter; the search ends there.
    recipe : callable, optional
        Makes the problem; what an executor of processes is sent instead of the problem.
    hear : callable
        Told what every try found, in their order.
    """

    def __init__(
        self,
        problem: StripProblem,
        params: StripParams,
        seed: int,
        schedule: Schedule,
        over: Callable[[], bool] = lambda: False,
        log: Log = lambda phase, snap: None,
        workers: int | Executor = 1,
        *,
        begin: Snapshot | None = None,
        bound: float = 0.0,
        recipe: Callable[[], StripProblem] | None = None,
        hear: Callable[[Found], None] = lambda found: None,
    ) -> None:
        self.problem, self.params, self.seed = problem, params, seed
        self.schedule, self.over, self.log, self.workers = schedule, over, log, workers
        self.bound, self.recipe = bound, recipe or partial(_same, problem)
        self.hear = hear
        self.starts = params.starts if begin is None and problem.movable <= params.many else 1
        self.climbs: list[Climb] = []
        self.resting: list[Climb] = []
        self.begun = 0
        self.best_so_far = NOTHING if begin is None else begin
        self.tries = 0
        self.counts = np.zeros(4, dtype=np.int64)
        self.interrupted = False

    def run(self) -> Snapshot:
        """Search until the end of the schedule or a KeyboardInterrupt; return the best layout."""
        crew: Crew | None = None
        try:
            with plain_interrupts():
                crew = self._crew()
                self._construct()
                while (leg := self._leg(self.tries)).phase != "end" and not self._over():
                    self._go_through(leg, crew)
        except KeyboardInterrupt:
            self.interrupted = True
        finally:
            if crew is not None:
                crew.close()
        return self.best_so_far

    def _construct(self) -> None:
        """Lay the parts one after the other a few times; a single search begins from there."""
        if self.best_so_far is NOTHING:
            orders = max(1, _CONSTRUCTED // self.problem.movable)
            for k in range(orders):
                self._take("begin", constructed(self.problem, (self.seed, _LAYING, k), _JITTER * k))

    def _crew(self) -> Crew:
        effort = self.params.effort
        if isinstance(self.workers, Executor):
            return Hired(self.recipe, effort, self.workers, self.params.lag)
        if self.workers > 1:
            return Threads(self.problem, effort, self._over, self.workers)
        return Alone(self.problem, effort, self._over)

    def _over(self) -> bool:
        return self.interrupted or self.over() or self.best_so_far.length <= self.bound

    def _leg(self, tries: int) -> _Leg:
        """Return what is done after so many tries."""
        moment, p = self.schedule(tries), self.params
        if moment.phase != "starts":
            return _Leg(moment.phase, None, 1)
        if self.starts == 1 or moment.share < p.opening or not self.begun:
            group = tries // (self.starts * p.first_tries) if self.starts > 1 else 0
            return _Leg("starts", group, self.starts)
        later = (moment.share - p.opening) / (1.0 - p.opening)
        halvings = self.begun.bit_length() - 2
        return _Leg("starts", None, self.begun >> (1 + int(later * halvings) if halvings else 0))

    def _choose(self, leg: _Leg) -> None:
        """Begin the searches of a leg, or choose the best of all."""
        if leg.group is not None or not self.begun:
            self.resting += self.climbs
            self.climbs = [self._begun(self.begun + k) for k in range(self.starts)]
            self.begun += self.starts
        if leg.group is None:
            known = sorted(self.resting + self.climbs, key=lambda climb: climb.best.length)
            self.climbs, self.resting = known[: leg.going_on], []
        if leg.phase != "starts":
            self.climbs[0].begin_anew(self.best_so_far)

    def _begun(self, number: int) -> Climb:
        """Begin a search; one without others beside it begins with the layout there is."""
        begin = self.best_so_far if self.starts == 1 else NOTHING
        lattice = lattice_of(self.problem.lattices, number, self.starts)
        return Climb(self.problem, self.params, (self.seed, number), begin, lattice)

    def _go_through(self, leg: _Leg, crew: Crew) -> None:
        """Try until the leg is over."""
        self._choose(leg)
        pipeline = Pipeline(self.climbs, crew, partial(self._task, leg), self._over)
        try:
            while self._leg(self.tries) == leg:
                climb = self.climbs[pipeline.turn]
                found = pipeline.next()
                if found is None:
                    return
                self._learn(leg.phase, climb, found)
        finally:
            pipeline.close()

    def _task(self, leg: _Leg, climb: Climb, ahead: int, position: int) -> Task | None:
        tries = self.tries + position
        if self._leg(tries) != leg or ahead >= self.params.lag:
            return None
        return climb.next_task(ahead, self.schedule(tries))

    def _learn(self, phase: str, climb: Climb, found: Found) -> None:
        self.tries += 1
        self.counts += found.counts
        begins = climb.best is NOTHING
        climb.learn(found)
        self.hear(found)
        self._take("begin" if begins else phase, climb.best)

    def _take(self, phase: str, snap: Snapshot) -> None:
        if snap.length < self.best_so_far.length:
            self.best_so_far = snap
            self.log(phase, snap)


def _same(problem: StripProblem) -> StripProblem:
    return problem
