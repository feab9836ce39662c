"""Choosing sheets and what is cut from each, by CP-SAT.

Every layout that is filled on the way is a pattern. Which patterns to cut and how often,
so that all pieces are made at least cost, is an integer program; what it makes too many
of is left out again.

References
----------
P. C. Gilmore, R. E. Gomory, "A linear programming approach to the cutting-stock
problem", Operations Research 9 (1961) 849-859.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import replace

import numpy as np
from ortools.sat.python import cp_model
from scipy.optimize import linprog

from nestlib.packing.interface import PackedPlacement, PackedSheet
from nestlib.packing.problem import Problem
from nestlib.packing.score import worth

#: A pattern: container and how many pieces of each shape.
Key = tuple[int, tuple[tuple[int, int], ...]]

#: Most patterns from which prices are found, and most that are offered to the solver.
_MOST, _OFFERED = 1200, 300

#: Effort of one call, in the solver's own deterministic unit (of about a second).
_EFFORT = 0.2


class Patterns:
    """All different layouts found so far.

    Parameters
    ----------
    problem : Problem
        What is to be placed where.
    """

    def __init__(self, problem: Problem) -> None:
        self.problem = problem
        self.found: dict[Key, PackedSheet] = {}
        self.net: dict[Key, float] = {}
        self.grown = False

    def add(self, sheets: Iterable[PackedSheet]) -> None:
        """Keep layouts that are new, or leave more of a sheet than one with the same pieces."""
        for sheet in sheets:
            key, net = pattern(sheet), net_price(self.problem, sheet)
            if net < self.net.get(key, math.inf):
                self.found[key], self.net[key] = replace(sheet, runs=1), net
                self.grown = True

    def best(self) -> list[PackedSheet]:
        """Return the layouts that pay least for their area, at most a fixed number."""
        ranked = sorted(self.found.values(), key=self._price_of_area)
        return ranked[:_MOST]

    def promising(self) -> list[PackedSheet]:
        """Return the layouts that come closest to paying off at the prices of the pieces."""
        values = prices(self.problem, self.best())
        return sorted(self.found.values(), key=lambda s: self._loss(s, values))[:_OFFERED]

    def most_worth(self, container: int, values: Sequence[float]) -> tuple[PackedPlacement, ...]:
        """Return the pieces of the layout of one container that is worth most."""
        own = [s.placements for s in self.found.values() if s.container == container]
        return max(own, key=lambda ps: sum(values[p.shape] for p in ps), default=())

    def _loss(self, sheet: PackedSheet, values: Sequence[float]) -> float:
        return self.net[pattern(sheet)] - sum(values[p.shape] for p in sheet.placements)

    def _price_of_area(self, sheet: PackedSheet) -> float:
        area = sum(self.problem.areas[p.shape] for p in sheet.placements)
        return self.net[pattern(sheet)] / max(area, 1e-12)


def pattern(sheet: PackedSheet) -> Key:
    """Return the container and the number of pieces of each shape."""
    return sheet.container, tuple(sorted(Counter(p.shape for p in sheet.placements).items()))


def net_price(problem: Problem, sheet: PackedSheet) -> float:
    """Return the price of one container less what is left of it is worth."""
    return problem.costs[sheet.container] - worth(problem, sheet)


def prices(problem: Problem, layouts: Sequence[PackedSheet]) -> list[float]:
    """Return what one piece of each shape is worth: its dual price.

    Parameters
    ----------
    problem : Problem
        What is to be placed where.
    layouts : sequence of PackedSheet
        What there is to choose from.

    Returns
    -------
    list of float
        In the unit of `Problem.costs`; true areas if these layouts cannot make all pieces.
    """
    made = np.zeros((len(problem.shapes), len(layouts)))
    for j, sheet in enumerate(layouts):
        for shape, n in pattern(sheet)[1]:
            made[shape, j] = n
    limited = [k for k, stock in enumerate(problem.quantities) if stock < math.inf]
    used = np.array([[float(s.container == k) for s in layouts] for k in limited])
    result = linprog(
        [net_price(problem, s) for s in layouts],
        A_ub=np.vstack([-made, used.reshape(len(limited), len(layouts))]),
        b_ub=[*(-n for n in problem.required), *(problem.quantities[k] for k in limited)],
    )
    if result.status != 0:
        return problem.areas
    return [max(0.0, -float(m)) for m in result.ineqlin.marginals[: len(made)]]


def choose_layouts(
    problem: Problem,
    layouts: Sequence[PackedSheet],
    seed: int,
    known: Sequence[PackedSheet] = (),
) -> list[PackedSheet]:
    """Choose layouts and runs that make all pieces at least cost.

    Parameters
    ----------
    problem : Problem
        What is to be placed where.
    layouts : sequence of PackedSheet
        What there is to choose from.
    seed : int
        Of the solver.
    known : sequence of PackedSheet
        A choice to begin with, not necessarily of these layouts.

    Returns
    -------
    list of PackedSheet
        Without surplus pieces; empty if the solver found nothing in time. No more different
        ones than `problem.aims` wants, if such a choice is found that makes all pieces.
    """
    if problem.aims.most_layouts is not None:
        chosen = _chosen(problem, layouts, seed, known, limited=True)
        if chosen and len(chosen) <= problem.aims.most_layouts:
            return chosen
    return _chosen(problem, layouts, seed, known)


def _chosen(
    problem: Problem,
    layouts: Sequence[PackedSheet],
    seed: int,
    known: Sequence[PackedSheet],
    limited: bool = False,
) -> list[PackedSheet]:
    """Choose layouts; where their number is limited, only such as make all pieces."""
    model = cp_model.CpModel()
    layouts = [*known, *layouts]
    counts = [dict(pattern(s)[1]) for s in layouts]
    runs = [
        model.new_int_var(0, _most_runs(problem, s, c), "")
        for s, c in zip(layouts, counts, strict=True)
    ]
    for k, r in enumerate(runs):
        model.add_hint(r, known[k].runs if k < len(known) else 0)
    net = [net_price(problem, s) for s in layouts]
    *cost, set_up = _whole([*net, problem.aims.set_up])
    few = bool(set_up) or limited
    # Taking pieces off one run makes another layout of it.
    reduced = [model.new_bool_var("") if few else 0 for _ in layouts]
    cut = [r + q for r, q in zip(runs, reduced, strict=True)]
    short = [model.new_int_var(0, 0 if limited else n, "") for n in problem.required]
    for shape, wanted in enumerate(problem.required):
        made = sum(c[shape] * n for c, n in zip(counts, cut, strict=True) if shape in c)
        model.add(made + short[shape] >= wanted)
        if few:
            spare = sum(c[shape] * q for c, q in zip(counts, reduced, strict=True) if shape in c)
            model.add(made - spare <= wanted)
    for k, stock in enumerate(problem.quantities):
        if stock < math.inf:
            used = [n for s, n in zip(layouts, cut, strict=True) if s.container == k]
            model.add(sum(used) <= int(stock))
    penalty = _penalties(problem, [max(cost, default=0) + set_up])
    total = sum(c * n for c, n in zip(cost, cut, strict=True))
    total += sum(p * s for p, s in zip(penalty, short, strict=True))
    if few:
        number = sum(_is_cut(model, runs)) + sum(reduced)
        total += set_up * number
        if limited:
            model.add(number <= problem.aims.most_layouts)
    model.minimize(total)
    run = solver(seed)
    if run.solve(model) not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        return []
    chosen = [replace(s, runs=run.value(r)) for s, r in zip(layouts, runs, strict=True)]
    chosen += [replace(s, runs=run.value(q)) for s, q in zip(layouts, reduced, strict=True)]
    return without_surplus(problem, [s for s in chosen if s.runs])


def _is_cut(model: cp_model.CpModel, runs: Sequence[cp_model.IntVar]) -> list[cp_model.IntVar]:
    """Return whether each layout is cut at all."""
    cut = [model.new_bool_var("") for _ in runs]
    for c, r in zip(cut, runs, strict=True):
        model.add(r == 0).only_enforce_if(~c)
    return cut


def choose_containers(problem: Problem, fill_ratio: float, seed: int) -> tuple[int, ...]:
    """Choose containers whose area suffices at a fill ratio, at least cost.

    Parameters
    ----------
    problem : Problem
        What is to be placed where.
    fill_ratio : float
        Part of a container's room that pieces are expected to fill, 0 to 1.
    seed : int
        Of the solver.

    Returns
    -------
    tuple of int
        Containers by rank, large ones first; empty if their area does not suffice.
    """
    wanted = [n * a for n, a in zip(problem.required, problem.polygon_areas, strict=True)]
    unit = max(sum(wanted), 1e-12) / 1_000_000
    model = cp_model.CpModel()
    number = [
        model.new_int_var(0, int(min(q, sum(problem.required))), "") for q in problem.quantities
    ]
    area = [int(fill_ratio * room.area / unit) for room in problem.rooms]
    for usable in _groups(problem):
        needed = sum(w for s, w in enumerate(wanted) if _usable(problem, s) <= usable)
        model.add(sum(number[c] * area[c] for c in usable) >= math.ceil(needed / unit))
    cost = _whole(problem.costs)
    model.minimize(sum(c * n for c, n in zip(cost, number, strict=True)))
    run = solver(seed)
    if run.solve(model) not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        return ()
    chosen = [c for c, n in enumerate(number) for _ in range(run.value(n))]
    order = [c.order for c in problem.containers]
    return tuple(sorted(chosen, key=lambda c: (order[c], -problem.rooms[c].area)))


def _usable(problem: Problem, shape: int) -> frozenset[int]:
    """Containers into which a shape fits."""
    return frozenset(c for c, turns in enumerate(problem.turns) if turns[shape])


def _groups(problem: Problem) -> set[frozenset[int]]:
    """Sets of containers that some shapes depend on."""
    return {_usable(problem, s) for s, n in enumerate(problem.required) if n}


def solver(seed: int, effort: float = _EFFORT) -> cp_model.CpSolver:
    """Return a solver that gives the same result on every run."""
    run = cp_model.CpSolver()
    run.parameters.num_workers = 1
    run.parameters.random_seed = seed % 2**31
    run.parameters.max_deterministic_time = effort
    # Its own handler would stay behind and end the whole program at the next Ctrl-C.
    run.parameters.catch_sigint_signal = False
    return run


def _whole(costs: Sequence[float]) -> list[int]:
    """Costs as whole numbers, exact if they are whole already."""
    if all(float(c).is_integer() for c in costs) and sum(costs) < 1e12:
        return [int(c) for c in costs]
    unit = max(costs, default=1.0) / 1_000_000 or 1.0
    return [round(c / unit) for c in costs]


def _penalties(problem: Problem, cost: Sequence[int]) -> list[int]:
    """What a missing piece counts for: more than any sheet, and more by priority."""
    most = max(cost, default=1) + 1
    levels = sorted({s.priority for s in problem.shapes})
    return [most * 10 ** min(levels.index(s.priority), 4) for s in problem.shapes]


def _most_runs(problem: Problem, sheet: PackedSheet, counts: dict[int, int]) -> int:
    needed = max(-(-problem.required[s] // n) for s, n in counts.items())
    return int(min(needed, problem.quantities[sheet.container]))


def without_surplus(problem: Problem, sheets: Sequence[PackedSheet]) -> list[PackedSheet]:
    """Leave out pieces that are made too often, those of the last sheets first.

    Parameters
    ----------
    problem : Problem
        What is to be placed where.
    sheets : sequence of PackedSheet
        What is made of it; no fillers.

    Returns
    -------
    list of PackedSheet
        Some perhaps split into two groups of runs.
    """
    surplus = [-n for n in problem.required]
    for sheet in sheets:
        for p in sheet.placements:
            surplus[p.shape] += sheet.runs
    queue, kept = list(sheets), []
    while queue:
        sheet = queue.pop()
        runs = sheet.runs - _whole_runs(sheet, surplus)
        for p in sheet.placements:
            surplus[p.shape] -= sheet.runs - runs
        over = any(surplus[p.shape] > 0 for p in sheet.placements)
        if over and runs > 1:
            # All that is left over comes off one run as far as it goes, so that it gets empty.
            queue.append(replace(sheet, runs=runs - 1))
            runs = 1
        if over and runs:
            sheet = replace(sheet, placements=_reduced(sheet, surplus))
        if runs and sheet.placements:
            kept.append(replace(sheet, runs=runs))
    return kept[::-1]


def _whole_runs(sheet: PackedSheet, surplus: Sequence[int]) -> int:
    """How many runs of a sheet are not needed at all."""
    spare = (max(0, surplus[s]) // n for s, n in pattern(sheet)[1])
    return min(sheet.runs, *spare)


def _reduced(sheet: PackedSheet, surplus: list[int]) -> tuple[PackedPlacement, ...]:
    """Take pieces that are too many off one run, the last ones first."""
    left = []
    for p in reversed(sheet.placements):
        if surplus[p.shape] > 0:
            surplus[p.shape] -= 1
        else:
            left.append(p)
    return tuple(left[::-1])
