"""The least net cost: prices and set-ups, less what remnants can be worth at most.

Each container costs its price less the worth of all of it, and each part of it that
pieces take costs its worth.

All copies of a layout are alike. So a layout that is the only one makes of each part a
multiple of its runs; and each kind of container takes a layout of its own, as does each of
some parts that cannot share one.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import Bounds, LinearConstraint, milp

from nestlib.packing.bounds.case import Case
from nestlib.packing.bounds.least import whole_prices
from nestlib.packing.bounds.taking import Taken
from nestlib.packing.bounds.weighting import Weighting
from nestlib.packing.interface import Aims

FloatArray = NDArray[np.float64]

#: What each of some variables is multiplied by, or all of them.
Factors = FloatArray | Sequence[float] | float

#: By this part the solver may miss a constraint; so much less is asked of each, and so
#: much less than it proves is claimed.
_SLACK = 1e-6

#: Where costs are whole multiples of a unit, so many at most, the next one is claimed.
_COUNTED = 10**5

#: The solver gives up after so many nodes; what it has proved until then holds.
_NODES = 2000


def least_net(
    case: Case, arguments: Sequence[Weighting], takes: Taken, aims: Aims, layouts: int
) -> float | None:
    """Return what no plan can cost less than, set-ups and remnants counted.

    Parameters
    ----------
    case : Case
        What has to lie where, something at least. Containers without a price are free.
    arguments : sequence of Weighting
        What containers hold; all of them are true.
    takes : Taken
        What pieces take of them.
    aims : Aims
        Price of a set-up, and what remnants are worth.
    layouts : int
        There are at least so many layouts, since so many parts cannot share one.

    Returns
    -------
    float, or None
        None if no choice from the stock satisfies the arguments.
    """
    model = _Model(case, aims, layouts)
    model.hold(arguments)
    model.take(takes)
    model.set_up()
    net = model.least()
    if not net or aims.worth:
        return net
    unit = float(whole_prices([*model.prices, aims.set_up])[1])
    return math.ceil(net / unit) * unit if net / unit < _COUNTED else net


def _divisors(number: int) -> list[int]:
    small = [n for n in range(1, math.isqrt(number) + 1) if number % n == 0]
    return sorted({*small, *(number // n for n in small)})


class _Model:
    """How many of each container, how much of them is taken, and how many layouts.

    The variables are, for each kind of container, how many are used, how many of them
    are taken in all, and whether any is; then the number of layouts; then, for each number
    that divides those of all pieces, whether one layout alone has so many runs.
    """

    def __init__(self, case: Case, aims: Aims, layouts: int) -> None:
        self.case = case
        self.prices = [s.price or 0.0 for s in case.spaces]
        self.kinds = n = len(case.spaces)
        stocks = np.array([s.stock for s in case.spaces], dtype=float)
        self.runs = _divisors(math.gcd(*case.numbers))
        alone = np.ones(len(self.runs))
        self.highest = np.concatenate([stocks, stocks, np.ones(n), [layouts + n + 2], alone])
        self.lowest = np.zeros(len(self.highest))
        self.lowest[3 * n] = layouts
        kept, lost = (np.array(self.prices) * w for w in (1 - aims.worth, aims.worth))
        self.costs = np.concatenate([kept, lost, np.zeros(n), [aims.set_up], 0 * alone])
        self.rows: list[FloatArray] = []
        self.least_sums: list[float] = []

    def _add(
        self,
        at_least: float,
        used: Factors = 0.0,
        taken: Factors = 0.0,
        some: Factors = 0.0,
        layouts: float = 0.0,
        alone: Factors = 0.0,
    ) -> None:
        """Let a sum of the variables, each this often, reach a number."""
        parts: list[FloatArray] = [
            np.broadcast_to(part, self.kinds) for part in (used, taken, some)
        ]
        row = [*parts, np.array([layouts]), np.broadcast_to(alone, len(self.runs))]
        self.rows.append(np.concatenate(row))
        self.least_sums.append(at_least)

    def hold(self, arguments: Sequence[Weighting]) -> None:
        """Let containers hold what the arguments weigh."""
        for a in arguments:
            total = a.total(self.case)
            if total:
                self._add(1 - _SLACK, used=[min(c, total) / total for c in a.capacities])

    def take(self, takes: Taken) -> None:
        """Let pieces take parts of containers, of which no remnant is made."""
        for a in takes.arguments:
            total = a.total(self.case)
            if total:
                self._add(1 - _SLACK, taken=[c / total for c in a.capacities])
        for one, least in zip(np.eye(self.kinds), takes.least, strict=True):
            self._add(0.0, used=one, taken=-one)
            self._add(0.0, used=-least * one, taken=one)

    def set_up(self) -> None:
        """Let there be as many layouts as there have to be."""
        every = float(self.highest[: self.kinds].sum())
        for one, most in zip(np.eye(self.kinds), self.highest, strict=False):
            self._add(0.0, used=-one, some=most * one)
        self._add(0.0, some=-1.0, layouts=1.0)
        self._add(2.0, layouts=1.0, alone=1.0)
        self._add(0.0, used=1.0, alone=[-n for n in self.runs])
        self._add(-every, used=-1.0, alone=[n - every for n in self.runs])

    def least(self) -> float | None:
        """Return the least cost that the solver proves."""
        scale = float(self.costs.max())
        if not scale:
            return 0.0
        whole = np.ones(len(self.costs))
        whole[self.kinds : 2 * self.kinds] = 0
        found = milp(
            self.costs / scale,
            integrality=whole,
            bounds=Bounds(self.lowest, self.highest),
            constraints=LinearConstraint(np.array(self.rows), lb=self.least_sums),
            options={"node_limit": _NODES, "mip_rel_gap": 0.0},
        )
        if found.status == 2:
            return None
        proved = found.mip_dual_bound if found.mip_dual_bound is not None else 0.0
        return max(0.0, float(proved) * scale * (1 - _SLACK))
