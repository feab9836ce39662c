"""Layouts of repeated arrangements: columns for the integer program, made by workers.

Arrangements are found once for every shape of which many pieces are wanted. Cut off at the
border of a container and completed where a piece finds a place, they are layouts of one
shape. Along the border much room is lost, so the engine makes them denser from there.

References
----------
P. C. Gilmore, R. E. Gomory, "A linear programming approach to the cutting-stock problem,
part II", Operations Research 11 (1963) 863-888.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from nestlib.packing.dense import dense
from nestlib.packing.filling import Recipe, SheetPacker
from nestlib.packing.interface import PackedSheet
from nestlib.packing.problem import Problem
from nestlib.packing.repeats.laying import Placements, cells, is_paired, laid
from nestlib.packing.repeats.repeat import repeats
from nestlib.packing.stopping import SearchState, StoppingRule, within_round

#: Pieces of a shape from which on arrangements are looked for, and the share of the smallest
#: container that they must fill.
MANY, _SHARE = 24, 0.3

#: Shapes for which arrangements are looked for at most.
_SHAPES = 24

#: Layouts of one shape and one container that are kept.
_KEPT = 2

#: Tries of the engine for one layout.
_TRIES = 10


@dataclass(frozen=True)
class RepeatTask:
    """What a worker is asked to lay out periodically.

    Parameters
    ----------
    shape : int
        Index of the shape.
    recipe : Recipe
        How layouts are completed.
    seed : int
        Of all chance.
    stop : StoppingRule
        Asked between two arrangements.
    state : SearchState
        When the work began.
    """

    shape: int
    recipe: Recipe
    seed: int
    stop: StoppingRule
    state: SearchState


def repeated_shapes(problem: Problem) -> list[int]:
    """Return shapes of which enough pieces are wanted, those that take most room first."""
    if not problem.rooms:
        return []
    least = _SHARE * min(room.area for room in problem.rooms)
    taken = [n * a for n, a in zip(problem.required, problem.polygon_areas, strict=True)]
    many = [
        s
        for s, n in enumerate(problem.required)
        if n >= MANY and problem.most[s] >= MANY and taken[s] >= least
    ]
    return sorted(many, key=lambda s: -taken[s])[:_SHAPES]


def lay_out_repeats(problem: Problem, task: RepeatTask) -> list[PackedSheet]:
    """Return layouts of one shape for every container, those with most pieces first.

    Parameters
    ----------
    problem : Problem
        What is to be placed where.
    task : RepeatTask
        Which shape.
    """
    over = within_round(task.stop, task.state)
    s, shape = task.shape, problem.shapes[task.shape]
    every = max((turns[s] for turns in problem.turns), key=len)
    found = repeats(shape.polygon, paired=is_paired(shape, every), seed=task.seed, over=over)
    layouts = []
    for c, room in enumerate(problem.rooms):
        own: list[Placements] = []
        for cell in cells(s, shape, problem.turns[c][s], found):
            if over():
                break
            own.append(laid(cell, room))
        own.sort(key=len, reverse=True)
        layouts += [_completed(problem, task.recipe, c, p) for p in own[:_KEPT]]
    return sorted((s for s in layouts if s.placements), key=lambda s: -len(s.placements))


def _completed(
    problem: Problem, recipe: Recipe, container: int, placements: Placements
) -> PackedSheet:
    """Put pieces on a board, as far as they are free there, and more of the same shape."""
    packer = SheetPacker(problem, recipe, container)
    for p in placements:
        packer.put_at(p.shape, problem.orientation(container, p), p.x, p.y)
    for p in placements[:1]:
        packer.put(p.shape, problem.required[p.shape])
    return PackedSheet(container, tuple(packer.placements))


@dataclass(frozen=True)
class ColumnTask:
    """What a worker is asked to make denser.

    Parameters
    ----------
    column : PackedSheet
        A layout of one shape.
    seed : tuple of int
        Of all chance.
    stop : StoppingRule
        Asked between tries.
    state : SearchState
        When the round began.
    """

    column: PackedSheet
    seed: tuple[int, ...]
    stop: StoppingRule
    state: SearchState


def grow(problem: Problem, task: ColumnTask) -> PackedSheet:
    """Make room for more pieces in a layout of one shape.

    Parameters
    ----------
    problem : Problem
        What is to be placed where.
    task : ColumnTask
        The layout.
    """
    column, shape = task.column, task.column.placements[0].shape
    areas, room = problem.polygon_areas, problem.rooms[task.column.container].area
    if (len(column.placements) + 1) * areas[shape] > room:
        return column
    wanted = np.zeros(len(problem.shapes), dtype=np.int64)
    wanted[shape] = problem.required[shape]
    placements = dense(problem).filled(
        column.container,
        column.placements,
        wanted,
        areas,
        task.seed,
        _TRIES,
        within_round(task.stop, task.state),
    )
    return replace(column, placements=placements)
