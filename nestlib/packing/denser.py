"""Sheets made denser, and new layouts at the prices of the pieces: work for workers."""

from __future__ import annotations

from dataclasses import dataclass

from nestlib.packing.dense import Placements, dense
from nestlib.packing.filling import Recipe, with_fillers
from nestlib.packing.interface import PackedSheet
from nestlib.packing.problem import Problem
from nestlib.packing.squeezing import TRIES, Sheets, squeeze
from nestlib.packing.stopping import SearchState, StoppingRule, within_round
from nestlib.packing.streams import Step, step_of


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
    over = within_round(task.stop, task.state)
    sheets, tried = squeeze(problem, task.sheets, task.seed, over)
    filled = with_fillers(problem, task.recipe, sheets)
    return Advanced(sheets, step_of(problem, task.recipe, filled), tried)


@dataclass(frozen=True)
class PricedTask:
    """What a worker is asked to lay out at the prices of the pieces.

    Parameters
    ----------
    container : int
        Index of the container.
    begin : tuple of PackedPlacement
        A layout to begin with.
    quantity : tuple of int
        For each shape, the most pieces.
    values : tuple of float
        For each shape, what a piece is worth.
    seed : tuple of int
        Of all chance.
    stop : StoppingRule
        Asked between tries.
    state : SearchState
        When the round began.
    """

    container: int
    begin: Placements
    quantity: tuple[int, ...]
    values: tuple[float, ...]
    seed: tuple[int, ...]
    stop: StoppingRule
    state: SearchState


def lay_out(problem: Problem, task: PricedTask) -> list[PackedSheet]:
    """Lay out one container so that its pieces are worth as much as can be found.

    The column of a linear program that is looked for in P. C. Gilmore, R. E. Gomory, "A
    linear programming approach to the cutting-stock problem", Operations Research 9 (1961)
    849-859.
    """
    over = within_round(task.stop, task.state)
    placements = dense(problem).filled(
        task.container, task.begin, task.quantity, task.values, task.seed, TRIES, over
    )
    return [PackedSheet(task.container, placements)] if placements else []
