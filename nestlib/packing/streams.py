"""Streams of changed recipes: work that is handed to workers, and where a stream is."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from nestlib.packing.filling import Recipe, fill
from nestlib.packing.interface import PackedSheet
from nestlib.packing.order import changed
from nestlib.packing.problem import Problem
from nestlib.packing.score import Score, score
from nestlib.packing.stopping import SearchState, StoppingRule, within_round

#: How much of the area a result may be worse than the best of its stream to be gone on from.
SLACK = 0.01


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


@dataclass(frozen=True)
class Start:
    """What a worker is asked to begin with.

    Parameters
    ----------
    recipe : Recipe
        How to fill.
    seed : tuple of int
        Of all chance.
    trials : int
        How many changes of the recipe to try afterwards.
    stop : StoppingRule
        Asked between pieces.
    state : SearchState
        When the round began.
    """

    recipe: Recipe
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


def begin(problem: Problem, task: Start) -> Outcome | None:
    """Fill by a recipe, then try changes of it.

    Parameters
    ----------
    problem : Problem
        What is to be placed where.
    task : Start
        The recipe.

    Returns
    -------
    Outcome or None
        None if it was over before the first plan was there.
    """
    over = within_round(task.stop, task.state)

    def tick(_: int) -> None:
        if over():
            raise OverError

    try:
        first = fill(problem, task.recipe, tick=tick)
    except OverError:
        return None
    step = step_of(problem, task.recipe, first.sheets)
    changes = Task(step, step, task.seed, task.trials, task.stop, task.state)
    outcome = attempt(problem, changes)
    return Outcome(outcome.step, outcome.best, [*first.tried, *outcome.tried])


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
    over = within_round(task.stop, task.state)

    def tick(_: int) -> None:
        if over():
            raise OverError

    outcome = Outcome(task.start, task.best)
    try:
        for _ in range(task.trials):
            recipe = changed(problem, outcome.step.recipe, random)
            filling = fill(problem, recipe, tick=tick)
            outcome.tried += filling.tried
            step = step_of(problem, recipe, filling.sheets)
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


def step_of(problem: Problem, recipe: Recipe, sheets: Sequence[PackedSheet]) -> Step:
    """Rate a result."""
    return Step(recipe, tuple(sheets), score(problem, sheets))
