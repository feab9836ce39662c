"""Layouts that are cut often: work for workers, where few different layouts are wanted."""

from __future__ import annotations

from dataclasses import dataclass, replace

from nestlib.packing.filling import Recipe, fill
from nestlib.packing.problem import Problem
from nestlib.packing.stopping import SearchState, StoppingRule, within_round
from nestlib.packing.streams import Outcome, OverError, Task, attempt, step_of


@dataclass(frozen=True)
class RunsTask:
    """What a worker is asked to fill.

    Parameters
    ----------
    recipe : Recipe
        With how often each layout shall be cut.
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


def cut_often(problem: Problem, task: RunsTask) -> Outcome | None:
    """Fill sheets that are cut as often as a recipe says, then change the recipe.

    Parameters
    ----------
    problem : Problem
        What is to be placed where.
    task : RunsTask
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
    return replace(outcome, tried=[*first.tried, *outcome.tried])
