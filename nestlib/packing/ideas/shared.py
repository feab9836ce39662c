"""What all ideas of a search share: the best plan, the layouts found, the clock, the workers."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import Executor, Future, wait
from dataclasses import replace
from typing import TypeVar

from nestlib.model import Bound
from nestlib.packing.filling import Recipe, with_fillers
from nestlib.packing.interface import PackedSheet
from nestlib.packing.problem import Problem
from nestlib.packing.sheets import Patterns
from nestlib.packing.stopping import SearchState, StoppingRule
from nestlib.packing.streams import OverError, Step, step_of

#: Independent streams of changed recipes, and of sheets made denser.
STREAMS, PLANS = 4, 2

#: What seeds hold besides the number of a stream, so that no two ideas draw the same.
PRICED, DEALT, OFTEN = STREAMS + PLANS, STREAMS + PLANS + 1, STREAMS + PLANS + 2

AnyTask = TypeVar("AnyTask")
Result = TypeVar("Result")


class Shared:
    """Where a search is: the best plan, what no plan can beat, and all layouts found.

    Parameters
    ----------
    problem : Problem
        What is to be placed where.
    stop : StoppingRule
        When to stop.
    seed : int
        Of all chance.
    executor : concurrent.futures.Executor, optional
        Does several tasks at the same time.
    clock : callable
        Seconds since the search began.
    report : callable
        Told the best sheets so far, now and then.
    best : Step
        The first plan.
    """

    def __init__(
        self,
        problem: Problem,
        stop: StoppingRule,
        seed: int,
        executor: Executor | None,
        clock: Callable[[], float],
        report: Callable[[Sequence[PackedSheet]], None],
        best: Step,
    ) -> None:
        self.problem, self.stop, self.seed, self.executor = problem, stop, seed, executor
        self.clock, self.report, self.best = clock, report, best
        self.bound: Bound | None = None
        self.state = SearchState()
        self.patterns = Patterns(problem)

    @property
    def recipe(self) -> Recipe:
        """Return the recipe of the best plan."""
        return self.best.recipe

    @property
    def sheets(self) -> int:
        """Return how many sheets the best plan takes."""
        return sum(s.runs for s in self.best.sheets)

    @property
    def is_a_choice(self) -> bool:
        """Whether there is more than one sheet, so that layouts can be combined."""
        return self.sheets > 1

    @property
    def wants_few_layouts(self) -> bool:
        """Whether layouts cost something, or there may only be so many."""
        return bool(self.problem.aims.set_up) or self.problem.aims.most_layouts is not None

    def over(self) -> bool:
        """Return whether to stop now."""
        self.state = replace(self.state, seconds=self.clock(), noted=time.time())
        return self.stop(self.state)

    def tick(self, _: int = 0) -> None:
        """Tell of the best plan; raise `OverError` when it is time to stop."""
        self.report(self.best.sheets)
        if self.over():
            raise OverError

    def keep(self, step: Step) -> bool:
        """Keep a plan if it is better than the best; return whether it is."""
        better = step.score < self.best.score
        if better:
            self.best = step
        return better

    def filled(self, plan: Sequence[PackedSheet], recipe: Recipe | None = None) -> Step:
        """Return a plan with fillers where room is left."""
        recipe = recipe or self.recipe
        full = with_fillers(self.problem, recipe, plan, self.tick)
        return step_of(self.problem, recipe, full)

    def outcomes(
        self, work: Callable[[Problem, AnyTask], Result], tasks: Sequence[AnyTask]
    ) -> Iterator[Result]:
        """Do tasks here or on the executor; results come in the order of the tasks."""
        if self.executor is None:
            for task in tasks:
                self.tick()
                yield work(self.problem, task)
            return
        futures = [self.executor.submit(work, self.problem, t) for t in tasks]
        try:
            for future in futures:
                yield self._result(future)
        finally:
            for future in futures:
                future.cancel()

    def _result(self, future: Future[Result]) -> Result:
        while not wait([future], timeout=0.3).done:
            self.report(self.best.sheets)
        return future.result()
