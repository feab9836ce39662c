"""The least that containers can number or cost, if arguments about them hold.

How many of each container a plan uses is a small integer program: the fewest, or the
cheapest, whose capacities reach the weight of all pieces in every argument.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from fractions import Fraction

from ortools.sat.python import cp_model

from nestlib.packing.bounds.case import Case
from nestlib.packing.bounds.weighting import Weighting
from nestlib.packing.sheets import solver

#: Largest price in whole units, where a common unit of all prices is too small.
_LARGEST = 10**9


def whole_prices(prices: Sequence[float]) -> tuple[list[int], Fraction]:
    """Return prices in whole units, rounded down, and the unit.

    Parameters
    ----------
    prices : sequence of float
        Read as the decimal numbers that they are written as.

    Examples
    --------
    >>> whole_prices([12.5, 3.75])
    ([50, 15], Fraction(1, 4))
    """
    exact = [Fraction(repr(float(p))) for p in prices]
    unit = Fraction(1, math.lcm(*(p.denominator for p in exact)))
    if any(p / unit > _LARGEST for p in exact):
        unit = max(exact) / _LARGEST
    return [math.floor(p / unit) for p in exact], unit


#: The solver counts about as far.
_COUNTED = 2**60


def least(case: Case, arguments: Sequence[Weighting], prices: Sequence[int]) -> int | None:
    """Return the least total price of containers that satisfies all arguments.

    Parameters
    ----------
    case : Case
        What has to lie where.
    arguments : sequence of Weighting
        All of them hold.
    prices : sequence of int
        Price of each kind of container; 1 each to count them.

    Returns
    -------
    int, or None
        None if no choice from the stock satisfies them.
    """
    model = cp_model.CpModel()
    used = [model.new_int_var(0, s.stock, "") for s in case.spaces]
    often = 1 + sum(s.stock for s in case.spaces)
    for a in arguments:
        # A container that holds everything need not be said to hold more.
        total = a.total(case)
        # Coarser where the solver could not count so far: it holds more, and less is wanted.
        unit = 1 + total * often // _COUNTED
        held = [-(-min(c, total) // unit) for c in a.capacities]
        model.add(sum(c * n for c, n in zip(held, used, strict=True)) >= total // unit)
    model.minimize(sum(p * n for p, n in zip(prices, used, strict=True)))
    run = solver(0)
    status = run.solve(model)
    if status == cp_model.INFEASIBLE:
        return None
    if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        return 0
    return math.ceil(max(0.0, float(run.best_objective_bound)) - 1e-6)
