"""Which of two results is better."""

from __future__ import annotations

import math
from collections.abc import Sequence

from nestlib.packing.interface import PackedSheet, Shape
from nestlib.packing.problem import Problem

#: Compared from the front; smaller is better.
Score = tuple[float, ...]


def score(problem: Problem, sheets: Sequence[PackedSheet]) -> Score:
    """Rate a result.

    Parameters
    ----------
    problem : Problem
        What was to be placed where.
    sheets : sequence of PackedSheet
        Where it was placed.

    Returns
    -------
    tuple of float
        Missing pieces by priority, the highest first; missing area; layouts beyond the most
        that are wanted; net cost; sheets that have to be cut before all of each due date are
        done, summed over the dates; on how many layouts each kit lies, summed over the kits;
        number of layouts; area of fillers placed, weighed by need, negated; largest strip
        that is left free at the end of a new sheet, negated, since what is left of a remnant
        is worth little.
    """
    return (
        *must(problem, sheets),
        *_aims(problem, sheets),
        sum(problem.costs[s.container] > 0 for s in sheets),
        -_filler_worth(problem, sheets),
        -max((_free_strip(problem, s) for s in _newest(problem, sheets)), default=0.0),
    )


def wanted(problem: Problem, sheets: Sequence[PackedSheet]) -> Score:
    """Return what somebody asked for: all figures but those that only guide the search."""
    return (
        *must(problem, sheets), *_aims(problem, sheets), -_filler_worth(problem, sheets)
    )  # fmt: skip


def _aims(problem: Problem, sheets: Sequence[PackedSheet]) -> Score:
    return _sheets_until_due(problem, sheets), _kits(problem, sheets)


def must(problem: Problem, sheets: Sequence[PackedSheet]) -> Score:
    """Return the first figures of the score: what is missing, excess layouts, net cost."""
    left = missing(problem, sheets)
    levels = sorted({s.priority for s in problem.shapes}, reverse=True)
    by_level = [
        sum(n for n, s in zip(left, problem.shapes, strict=True) if s.priority == level)
        for level in levels
    ]
    return (
        *map(float, by_level),
        sum(n * a for n, a in zip(left, problem.areas, strict=True)),
        excess_layouts(problem, sheets),
        net_cost(problem, sheets),
    )


def excess_layouts(problem: Problem, sheets: Sequence[PackedSheet]) -> int:
    """Return how many layouts there are beyond the most that are wanted."""
    most = problem.aims.most_layouts
    return 0 if most is None else max(0, len(sheets) - most)


def net_cost(problem: Problem, sheets: Sequence[PackedSheet]) -> float:
    """Return the price of containers and set-ups less what is left of them is worth."""
    set_ups = problem.aims.set_up * len(sheets)
    return set_ups + sum((problem.costs[s.container] - worth(problem, s)) * s.runs for s in sheets)


def worth(problem: Problem, sheet: PackedSheet) -> float:
    """Return what the free room at an end of one container is worth."""
    aims, room = problem.aims, problem.rooms[sheet.container]
    price = problem.costs[sheet.container]
    if not aims.worth or not price or not sheet.placements:
        return 0.0
    right, above = _reach(problem, sheet)
    x0, y0, x1, y1 = room.box
    wide, high = x1 - x0, y1 - y0
    strips = [(x1 - right, high), (wide, y1 - above)]
    free = max((w * h for w, h in strips if min(w, h) >= aims.least_side), default=0.0)
    return aims.worth * price * free / (wide * high)


def missing(problem: Problem, sheets: Sequence[PackedSheet]) -> list[int]:
    """Return how many required pieces of each shape are not on the sheets."""
    left = list(problem.required)
    for sheet in sheets:
        for p in sheet.placements:
            if not problem.shapes[p.shape].filler:
                left[p.shape] -= sheet.runs
    return left


def _sheets_until_due(problem: Problem, sheets: Sequence[PackedSheet]) -> int:
    """For each due date the sheets that hold anything due until then, all dates together."""
    dates = {s.due for s in problem.shapes if s.due is not None}
    if not dates:
        return 0
    first = [(s.runs, first_due(problem.shapes, s)) for s in sheets]
    return sum(runs for date in dates for runs, due in first if due <= date)


def first_due(shapes: Sequence[Shape], sheet: PackedSheet) -> float:
    """Return the earliest due date that a sheet serves, as a rank; infinite if none."""
    dues = (shapes[p.shape].due for p in sheet.placements)
    return min((due for due in dues if due is not None), default=math.inf)


def _kits(problem: Problem, sheets: Sequence[PackedSheet]) -> int:
    """Pairs of a kit and a layout on which any of it lies."""
    return sum(len({problem.shapes[p.shape].kit for p in s.placements} - {""}) for s in sheets)


def _filler_worth(problem: Problem, sheets: Sequence[PackedSheet]) -> float:
    return sum(
        problem.shapes[p.shape].need * problem.areas[p.shape] * s.runs
        for s in sheets
        for p in s.placements
        if problem.shapes[p.shape].filler
    )


def _newest(problem: Problem, sheets: Sequence[PackedSheet]) -> list[PackedSheet]:
    """Sheets of the last rank among those that are used: not the remnants, if others are."""
    ranks = [problem.containers[s.container].order for s in sheets]
    return [s for s, rank in zip(sheets, ranks, strict=True) if rank == max(ranks)]


def _free_strip(problem: Problem, sheet: PackedSheet) -> float:
    """Area of the strip beyond the piece that reaches furthest along x."""
    _, y0, x1, y1 = problem.rooms[sheet.container].box
    return (x1 - _reach(problem, sheet)[0]) * (y1 - y0)


def _reach(problem: Problem, sheet: PackedSheet) -> tuple[float, float]:
    """How far the pieces reach along x and along y."""
    lying = [(p, problem.orientation(sheet.container, p).box) for p in sheet.placements]
    return max(p.x + b[2] for p, b in lying), max(p.y + b[3] for p, b in lying)


def price(problem: Problem, containers: Sequence[int]) -> float:
    """Return what containers cost."""
    return sum(problem.costs[c] for c in containers)


def placed_area(problem: Problem, sheets: Sequence[PackedSheet]) -> float:
    """Return the area of all pieces placed."""
    return sum(problem.polygon_areas[p.shape] * s.runs for s in sheets for p in s.placements)


def fill_ratio(problem: Problem, sheets: Sequence[PackedSheet]) -> float:
    """Return which part of the rooms pieces fill."""
    room = sum(problem.rooms[s.container].area * s.runs for s in sheets)
    return placed_area(problem, sheets) / room if room else 1.0
