"""What no order can cost less than: packs and least orders on top of what sheets must hold.

Arguments about sheets (areas, parts that cannot share one, and so on) say that whatever sheets
are cut, their capacities add up to so much at least. An order that buys and cuts sheets
which meet all of them, without asking for layouts, is a relaxation of the real order: its
least cost is a bound, and it knows of packs, least orders, stock and delivery.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from ortools.sat.python import cp_model

from nestlib.buying.choosing import Case, Order, solver_of

#: The solver counts about as far.
_COUNTED = 2**60

#: Effort of the program, in the solver's own deterministic unit.
_EFFORT = 0.5


def least_cost(
    case: Case,
    groups: Sequence[Sequence[int]],
    capacities: Sequence[Sequence[int]],
    totals: Sequence[int],
) -> int:
    """Return what no order costs less than, in hundredths.

    Parameters
    ----------
    case : Case
        Formats and terms; its columns do not count.
    groups : sequence of sequence of int
        Kinds of sheet that the arguments know of, each as the formats that it stands for.
    capacities : sequence of sequence of int
        For each argument, what one sheet of each kind holds at most.
    totals : sequence of int
        For each argument, what all sheets cut hold together at least.

    Returns
    -------
    int
        0 if nothing was proved.

    Examples
    --------
    Each sheet holds 4 of 10, so three are needed: two packs of two at 5.00 a sheet.

    >>> from nestlib.buying.formats import Format
    >>> case = Case((10,), (Format("F", 500, 0, 1.0, 1.0, 0, pack=2),), ())
    >>> least_cost(case, [[0]], [[4]], [10])
    2000
    """
    order = Order(case)
    number = [sum(order.used[f] for f in group) for group in groups]
    often = 1 + sum(f.at_hand + sum(case.wanted) for f in case.formats)
    for held, total in zip(capacities, totals, strict=True):
        # Coarser where the solver could not count so far: it holds more, and less is wanted.
        unit = 1 + total * often // _COUNTED
        whole = [-(-min(c, total) // unit) for c in held]
        order.model.add(sum(c * n for c, n in zip(whole, number, strict=True)) >= total // unit)
    order.model.minimize(order.cost)
    solver = solver_of(0, _EFFORT)
    if solver.solve(order.model) not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        return 0
    return max(0, math.ceil(float(solver.best_objective_bound) - 1e-6))
