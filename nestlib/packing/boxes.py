"""Layouts of the bounding boxes of pieces, by CP-SAT.

Where pieces nearly fill their bounding boxes, an exact solver finds layouts of one
container that bottom-left placement misses: orders to start from, and patterns to choose
from. Which pieces are worth most in a pattern is told by `nestlib.packing.sheets.prices`.

References
----------
P. C. Gilmore, R. E. Gomory, "Multistage cutting stock problems of two and more
dimensions", Operations Research 13 (1965) 94-120.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise

from ortools.sat.python import cp_model

from nestlib.packing.filling import Recipe, SheetPacker
from nestlib.packing.interface import PackedSheet
from nestlib.packing.kernels import FloatArray
from nestlib.packing.orientations import Orientation
from nestlib.packing.problem import Problem
from nestlib.packing.sheets import solver

#: Most boxes that are offered to the solver, and most obstacles in a container.
MOST = 40

#: Effort of one call, in the solver's own deterministic unit: here well below a second.
_EFFORT = 0.1

#: Shapes that fill less of their boxes than this on average are better placed as they are.
_FULL = 0.9

#: Lengths are whole multiples of about this part of the container's size.
_UNIT = 1e-6

#: Integer and fractional parts of a length are told apart by this part of a unit.
_NEAR = 1e-3

#: What all pieces are worth together, in whole numbers.
_WORTH = 1_000_000

#: Shape, how it lies, and its place.
_Piece = tuple[int, Orientation, float, float]


def are_boxes(problem: Problem) -> bool:
    """Return whether the pieces nearly fill their bounding boxes."""
    filled = sum(n * a for n, a in zip(problem.required, problem.polygon_areas, strict=True))
    boxes = sum(
        n * min(o.width * o.height for turns in problem.turns for o in turns[s])
        for s, n in enumerate(problem.required)
        if n
    )
    return filled >= _FULL * boxes > 0


def box_layouts(
    problem: Problem, values: Sequence[float], seed: int, first: int = 0
) -> list[PackedSheet]:
    """Lay out the boxes of pieces that are worth most together, in each container.

    Parameters
    ----------
    problem : Problem
        What is to be placed where.
    values : sequence of float
        What one piece of each shape is worth.
    seed : int
        Of the solver.
    first : int
        The container to begin with; the others follow until the effort is spent.

    Returns
    -------
    list of PackedSheet
        Every piece was tried on the board; those that found no place are left out.
    """
    found, effort = [], _EFFORT
    rooms = problem.rooms[first:] + problem.rooms[:first]
    for container, room in enumerate(rooms, first):
        container %= len(rooms)
        pieces = _worth_most(problem, container, values)
        if not pieces or len(room.upright) > MOST or problem.quantities[container] < 1:
            continue
        run = solver(seed, effort)
        model = _Model(problem, container, pieces, values)
        found += _checked(problem, container, model.solve(run))
        effort -= run.response_proto.deterministic_time
        if effort <= 0:
            break
    return found


def _checked(problem: Problem, container: int, pieces: Iterable[_Piece]) -> list[PackedSheet]:
    """Put pieces on a board, from left to right, as far as they are free there."""
    free = Recipe((), tuple(None for _ in problem.shapes))
    packer = SheetPacker(problem, free, container)
    for shape, o, x, y in sorted(pieces, key=lambda piece: piece[2:]):
        packer.put_at(shape, o, x, y)
    return [PackedSheet(container, tuple(packer.placements))] if packer.placements else []


def _worth_most(problem: Problem, container: int, values: Sequence[float]) -> list[int]:
    """Shapes of the pieces that are worth most for their area, equal ones side by side."""
    turns, areas = problem.turns[container], problem.polygon_areas
    usable = [s for s, n in enumerate(problem.required) if n and turns[s] and values[s] > 0]
    usable.sort(key=lambda s: -values[s] / areas[s])
    return [s for s in usable for _ in range(min(problem.required[s], MOST))][:MOST]


@dataclass(frozen=True)
class _Way:
    """One piece lying one way: whether it does, and where its box would be."""

    shape: int
    orientation: Orientation
    used: cp_model.IntVar
    x: cp_model.IntVar
    y: cp_model.IntVar


class _Model:
    """Boxes that may lie in a container, or not, as an integer program."""

    def __init__(
        self, problem: Problem, container: int, pieces: Sequence[int], values: Sequence[float]
    ) -> None:
        self.room, self.turns = problem.rooms[container], problem.turns[container]
        self.unit = self._choose_unit(pieces)
        self.size = tuple(self._at_most(s) for s in self.room.size)
        self.model = cp_model.CpModel()
        self.spans: tuple[list[cp_model.IntervalVar], ...] = ([], [])
        for trapezoid in self.room.upright:
            self._add_obstacle(trapezoid)
        self.ways = [self._ways(shape) for shape in pieces]
        self._add_order()
        self.model.add_no_overlap_2d(*self.spans)
        self._add_aim(values, everything=len(pieces) == sum(problem.required))

    def _choose_unit(self, pieces: Sequence[int]) -> float:
        """Return the coarsest unit in which all lengths are whole, but for a last digit."""
        self.unit = _UNIT * 10.0 ** math.ceil(math.log10(max(self.room.size)))
        sides = [e for s in set(pieces) for o in self.turns[s] for e in (o.width, o.height)]
        return self.unit * math.gcd(*map(self._at_least, [*self.room.size, *sides]))

    def _at_least(self, length: float) -> int:
        return math.ceil(length / self.unit - _NEAR)

    def _at_most(self, length: float) -> int:
        return math.floor(length / self.unit + _NEAR)

    def _add_obstacle(self, trapezoid: FloatArray) -> None:
        """Keep free the box of what is not room."""
        low = trapezoid[0] - self.room.box[0], trapezoid[2:4].min() - self.room.box[1]
        high = trapezoid[1] - self.room.box[0], trapezoid[4:6].max() - self.room.box[1]
        for spans, a, b in zip(self.spans, low, high, strict=True):
            start, end = self._at_most(a), self._at_least(b)
            spans.append(self.model.new_fixed_size_interval_var(start, end - start, ""))

    def _ways(self, shape: int) -> list[_Way]:
        """Let a piece lie in its smallest box, or in the same box turned by a right angle."""
        x, y = (self.model.new_int_var(0, size, "") for size in self.size)
        best = min(self.turns[shape], key=lambda o: o.width * o.height)
        boxes = {self._box(o): o for o in reversed(self.turns[shape])}
        width, height = self._box(best)
        chosen = [boxes[b] for b in dict.fromkeys([(width, height), (height, width)]) if b in boxes]
        ways = [_Way(shape, o, self.model.new_bool_var(""), x, y) for o in chosen]
        for way in ways:
            self._add_span(way)
        self.model.add_at_most_one(w.used for w in ways)
        return ways

    def _box(self, o: Orientation) -> tuple[int, int]:
        return self._at_least(o.width), self._at_least(o.height)

    def _add_span(self, way: _Way) -> None:
        box = self._box(way.orientation)
        for spans, start, side, size in zip(
            self.spans, (way.x, way.y), box, self.size, strict=True
        ):
            span = self.model.new_optional_fixed_size_interval_var(start, side, way.used, "")
            spans.append(span)
            self.model.add(start + side <= size).only_enforce_if(way.used)

    def _add_order(self) -> None:
        """Of equal pieces the first ones are used, from left to right; this loses nothing."""
        for first, second in pairwise(self.ways):
            if first[0].shape == second[0].shape:
                self.model.add(sum(w.used for w in first) >= sum(w.used for w in second))
                self.model.add(first[0].x <= second[0].x)

    def _add_aim(self, values: Sequence[float], everything: bool) -> None:
        """Use what is worth most; if that may be everything, in the least length."""
        every = [w for ways in self.ways for w in ways]
        total = sum(values[ways[0].shape] for ways in self.ways)
        worth = sum(max(1, round(_WORTH * values[w.shape] / total)) * w.used for w in every)
        boxes = [self._box(w.orientation) for w in every]
        area = sum(b[0] * b[1] * w.used for b, w in zip(boxes, every, strict=True))
        self.model.add(area <= self.size[0] * self.size[1])
        if not everything:
            self.model.maximize(worth)
            return
        reach = self.model.new_int_var(0, self.size[0], "")
        for (side, _), way in zip(boxes, every, strict=True):
            self.model.add(reach >= way.x + side).only_enforce_if(way.used)
        self.model.maximize(worth * (self.size[0] + 1) - reach)

    def solve(self, run: cp_model.CpSolver) -> list[_Piece]:
        """Return what is used, and where; empty if the solver found nothing in time."""
        if run.solve(self.model) not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
            return []
        return [
            (
                w.shape,
                w.orientation,
                self.room.box[0] + run.value(w.x) * self.unit - w.orientation.box[0],
                self.room.box[1] + run.value(w.y) * self.unit - w.orientation.box[1],
            )
            for ways in self.ways
            for w in ways
            if run.boolean_value(w.used)
        ]
