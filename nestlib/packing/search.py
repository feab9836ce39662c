"""Anytime improvement: several independent streams, merged in order.

Some streams change recipes, others make the sheets of a plan denser one by one. A round is
one task for each stream. Streams and the work in a task depend on the
problem and the seed only, so the number of workers does not change the result.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import Executor, Future, wait
from dataclasses import dataclass, field, replace
from typing import TypeVar

import numpy as np

from nestlib.packing.boxes import are_boxes, box_layouts
from nestlib.packing.filling import Filling, Recipe, fill, with_fillers
from nestlib.packing.interface import PackedSheet
from nestlib.packing.order import changed, first_recipes, recipe_of
from nestlib.packing.problem import Problem
from nestlib.packing.score import Score, score
from nestlib.packing.sheets import Patterns, choose_containers, choose_layouts, prices
from nestlib.packing.squeezing import Sheets, squeeze, without_fillers
from nestlib.packing.stopping import SearchState, StoppingRule

#: Independent streams of changed recipes, and of sheets made denser.
STREAMS, PLANS = 4, 2

#: Rounds between two exchanges of the best result, and between two choices of layouts.
EXCHANGE, CHOICE = 12, 4

#: How much of the area a result may be worse than the best of its stream to be gone on from.
SLACK = 0.01

#: Work of one task: about this many trapezoids are placed; a piece counts for some more.
_TASK, _PIECE = 10_000, 10


AnyTask = TypeVar("AnyTask")
Result = TypeVar("Result")


class OverError(Exception):
    """The stopping rule said so in the middle of something."""


@dataclass(frozen=True)
class Step:
    """Where a stream is.

    Parameters
    ----------
    recipe : Recipe
        What made the sheets.
    sheets : tuple of PackedSheet
        Its result.
    score : tuple of float
        How good that is.
    """

    recipe: Recipe
    sheets: tuple[PackedSheet, ...]
    score: Score


@dataclass(frozen=True)
class Task:
    """What a worker is asked to do.

    Parameters
    ----------
    start : Step
        Where the stream is.
    best : Step
        The best that it has found.
    seed : tuple of int
        Seed, stream and round.
    trials : int
        How many changes to try.
    stop : StoppingRule
        Asked between pieces.
    state : SearchState
        When the round began.
    """

    start: Step
    best: Step
    seed: tuple[int, ...]
    trials: int
    stop: StoppingRule
    state: SearchState


@dataclass
class Outcome:
    """What a worker hands back: where the stream is now, the best and all layouts on the way."""

    step: Step
    best: Step
    tried: list[PackedSheet] = field(default_factory=list)


def attempt(problem: Problem, task: Task) -> Outcome:
    """Try changes of a recipe and go on from those that are hardly worse than the best.

    Parameters
    ----------
    problem : Problem
        What is to be placed where.
    task : Task
        Where to start and how much to try.

    Returns
    -------
    Outcome
    """
    random = np.random.default_rng(task.seed)
    began = time.monotonic() - task.state.seconds

    def tick(_: int) -> None:
        if task.stop(replace(task.state, seconds=time.monotonic() - began)):
            raise OverError

    outcome = Outcome(task.start, task.best)
    try:
        for _ in range(task.trials):
            recipe = changed(problem, outcome.step.recipe, random)
            filling = fill(problem, recipe, tick=tick)
            outcome.tried += filling.tried
            step = _step(problem, recipe, filling.sheets)
            if step.score < outcome.best.score:
                outcome.best = step
            if _is_near(problem, step.score, outcome.best.score):
                outcome.step = step
    except OverError:
        pass
    return outcome


def _is_near(problem: Problem, found: Score, best: Score) -> bool:
    """Whether only the free strip is smaller, and only by a little.

    G. Dueck, "New optimization heuristics: the great deluge algorithm and the
    record-to-record travel", Journal of Computational Physics 104 (1993) 86-92.
    """
    return (*found[:-1], found[-1] - SLACK * _scale(problem)) <= best


def _scale(problem: Problem) -> float:
    """Area of all pieces, or of the largest room if that is less."""
    pieces = sum(n * a for n, a in zip(problem.required, problem.polygon_areas, strict=True))
    return min(pieces, max(room.area for room in problem.rooms))


def _step(problem: Problem, recipe: Recipe, sheets: Sequence[PackedSheet]) -> Step:
    return Step(recipe, tuple(sheets), score(problem, sheets))


@dataclass(frozen=True)
class DenseTask:
    """What a worker is asked to make denser.

    Parameters
    ----------
    sheets : tuple of PackedSheet
        Where the stream is, without fillers.
    recipe : Recipe
        Where fillers go.
    seed : tuple of int
        Seed, stream and round.
    stop : StoppingRule
        Asked between tries.
    state : SearchState
        When the round began.
    """

    sheets: Sheets
    recipe: Recipe
    seed: tuple[int, ...]
    stop: StoppingRule
    state: SearchState


@dataclass(frozen=True)
class Advanced:
    """What a worker hands back: where the stream is now, its plan with fillers, new layouts."""

    sheets: Sheets
    step: Step
    tried: list[PackedSheet]


def make_denser(problem: Problem, task: DenseTask) -> Advanced:
    """Make one sheet of a plan denser.

    Parameters
    ----------
    problem : Problem
        What is to be placed where.
    task : DenseTask
        Where to start.
    """
    began = time.monotonic() - task.state.seconds

    def over() -> bool:
        return task.stop(replace(task.state, seconds=time.monotonic() - began))

    sheets, tried = squeeze(problem, task.sheets, task.seed, over)
    filled = with_fillers(problem, task.recipe, sheets)
    return Advanced(sheets, _step(problem, task.recipe, filled), tried)


class Search:
    """Improves a first result until a rule says stop.

    Parameters
    ----------
    problem : Problem
        What is to be placed where.
    stop : StoppingRule
        When to stop.
    seed : int
        Of all chance.
    executor : concurrent.futures.Executor, optional
        Does the tasks of a round at the same time.
    clock : callable
        Seconds since the search began.
    report : callable
        Told the best sheets so far, now and then.
    """

    def __init__(
        self,
        problem: Problem,
        stop: StoppingRule,
        seed: int,
        executor: Executor | None,
        clock: Callable[[], float],
        report: Callable[[Sequence[PackedSheet]], None],
    ) -> None:
        self.problem, self.stop, self.seed, self.executor = problem, stop, seed, executor
        self.clock, self.report = clock, report
        self.state = SearchState()
        self.patterns = Patterns(problem)
        self.boxes = are_boxes(problem)
        self.best: Step | None = None

    def run(self, first: Filling) -> None:
        """Improve; the result is in `best`, also if this is interrupted."""
        recipes = first_recipes(self.problem)
        start = _step(self.problem, recipes[0], first.sheets)
        self.best = start
        self.patterns.add(first.tried)
        self.trials = max(1, min(32, _TASK // _work(self.problem)))
        if self._over():
            return
        try:
            self.streams = list(self._starts(start, recipes))
            if self.boxes:
                self._start_from_boxes()
            self.bests = list(self.streams)
            self.plans = [without_fillers(self.problem, self.best.sheets)] * PLANS
            while not self._over():
                self._round()
        except OverError:
            pass

    def _over(self) -> bool:
        self.state = replace(self.state, seconds=self.clock())
        return self.stop(self.state)

    def _tick(self, _: int) -> None:
        assert self.best is not None
        self.report(self.best.sheets)
        if self._over():
            raise OverError

    def _starts(self, start: Step, recipes: Sequence[Recipe]) -> Iterator[Step]:
        """Each stream begins with a plain rule of its own, and containers chosen by area."""
        yield start
        ratio = _fill_ratio(self.problem, start.sheets)
        for k, recipe in enumerate(recipes[1:STREAMS], 1):
            if len(self.problem.containers) > 1:
                asked = choose_containers(self.problem, min(0.99, ratio + 0.03 * k), self.seed)
                recipe = replace(recipe, containers=asked[:50])
            filling = fill(self.problem, recipe, tick=self._tick)
            self.patterns.add(filling.tried)
            step = _step(self.problem, recipe, filling.sheets)
            self._keep(step)
            yield step

    def _start_from_boxes(self) -> None:
        """Let a layout by the solver replace the worst start, if it is better."""
        assert self.best is not None
        if not self.best.sheets:
            return
        first = self.best.sheets[0].container
        layouts = box_layouts(self.problem, self.problem.areas, self.seed, first)
        self.patterns.add(layouts)
        for sheet in (s for s in layouts if s.container == first):
            recipe = recipe_of(self.problem, [sheet])
            filling = fill(self.problem, recipe, tick=self._tick)
            as_it_is = with_fillers(self.problem, recipe, [sheet], self._tick)
            steps = [_step(self.problem, recipe, s) for s in (filling.sheets, as_it_is)]
            worst = max(range(STREAMS), key=lambda k: self.streams[k].score)
            self.streams[worst] = min(self.streams[worst], *steps, key=lambda s: s.score)
            self._keep(self.streams[worst])

    def _keep(self, step: Step) -> bool:
        assert self.best is not None
        better = step.score < self.best.score
        if better:
            self.best = step
        return better

    def _round(self) -> None:
        self._tick(0)
        tasks = [
            Task(s, b, (self.seed, k, self.state.iterations), self.trials, self.stop, self.state)
            for k, (s, b) in enumerate(zip(self.streams, self.bests, strict=True))
        ]
        better = False
        for k, outcome in enumerate(self._outcomes(attempt, tasks)):
            self.streams[k], self.bests[k] = outcome.step, outcome.best
            self.patterns.add(outcome.tried)
            better |= self._keep(outcome.best)
        better |= self._make_denser()
        done = self.state.iterations + 1
        if self.boxes and self._is_a_choice():
            self._lay_out_boxes()
        if done % CHOICE == 1:
            better |= self._choose_layouts()
        if done % EXCHANGE == 0:
            worst = max(range(len(self.bests)), key=lambda k: self.bests[k].score)
            self.streams[worst] = self.bests[worst] = min(self.bests, key=lambda s: s.score)
        self.state = SearchState(self.clock(), done, 0 if better else self.state.stalled + 1)

    def _make_denser(self) -> bool:
        """Make a sheet of each plan denser; a plan that costs more gives way to the best."""
        assert self.best is not None
        recipe, better = self.best.recipe, False
        tasks = [
            DenseTask(sheets, recipe, (self.seed, k, self.state.iterations), self.stop, self.state)
            for k, sheets in enumerate(self.plans, STREAMS)
        ]
        for k, found in enumerate(self._outcomes(make_denser, tasks)):
            self.patterns.add(found.tried)
            better |= self._keep(found.step)
            self.plans[k] = found.sheets
            last = not self.state.iterations % EXCHANGE and found.step.score > self.best.score
            if last or _costs_more(self.problem, found.step, self.best):
                self.plans[k] = without_fillers(self.problem, self.best.sheets)
        return better

    def _outcomes(
        self, work: Callable[[Problem, AnyTask], Result], tasks: Sequence[AnyTask]
    ) -> Iterator[Result]:
        """Do the tasks here or on the executor; results come in the order of the tasks."""
        if self.executor is None:
            for task in tasks:
                self._tick(0)
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
        assert self.best is not None
        while not wait([future], timeout=0.3).done:
            self.report(self.best.sheets)
        return future.result()

    def _is_a_choice(self) -> bool:
        """Whether there is more than one sheet, so that layouts can be combined."""
        assert self.best is not None
        return sum(s.runs for s in self.best.sheets) > 1

    def _lay_out_boxes(self) -> None:
        """Let the solver fill containers, each in turn, with what is now worth most."""
        done = self.state.iterations
        values = prices(self.problem, self.patterns.best())
        first = done % len(self.problem.rooms)
        self.patterns.add(box_layouts(self.problem, values, self.seed + done, first))

    def _choose_layouts(self) -> bool:
        """Let the solver combine all layouts found so far."""
        assert self.best is not None
        if not self.patterns.grown or not self._is_a_choice():
            return False
        self.patterns.grown = False
        chosen = choose_layouts(
            self.problem, self.patterns.promising(), self.seed, known=self.best.sheets
        )
        if not chosen:
            return False
        recipe = self.best.recipe
        return self._keep(
            _step(self.problem, recipe, with_fillers(self.problem, recipe, chosen, self._tick))
        )


def _costs_more(problem: Problem, step: Step, best: Step) -> bool:
    """Whether a plan costs more than another, or misses more."""
    least = len({s.priority for s in problem.shapes}) + 2
    return step.score[:least] > best.score[:least]


def _work(problem: Problem) -> int:
    """Trapezoids to place in one filling, over all orientations and containers tried."""
    counts = [r + f for r, f in zip(problem.required, problem.fillers, strict=True)]
    found = (max((t[s] for t in problem.turns), key=len) for s in range(len(counts)))
    return 1 + len(problem.rooms) * sum(
        min(n, 100) * min(len(turns), 8) * (len(turns[0].upright) + _PIECE)
        for n, turns in zip(counts, found, strict=True)
        if turns
    )


def _fill_ratio(problem: Problem, sheets: Sequence[PackedSheet]) -> float:
    """Part of the rooms that pieces fill."""
    room = sum(problem.rooms[s.container].area * s.runs for s in sheets)
    used = sum(problem.polygon_areas[p.shape] * s.runs for s in sheets for p in s.placements)
    return used / room if room else 1.0
