"""Bring all pieces into containers that cost less than the best plan, where there are many."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from nestlib.packing.ideas.shared import DEALT, Shared
from nestlib.packing.recreating import Group, Refill, dealt, gathered, recreated, refilled
from nestlib.packing.score import fill_ratio, missing, net_cost, placed_area, price
from nestlib.packing.sheets import choose_containers
from nestlib.packing.squeezing import Sheets

#: How much fuller than the best plan containers have to be that are aimed at.
_TIGHTER = np.array([0.006, 0.012, 0.02, 0.03])

#: Share of the area placed by the plan that places most, which another may place less and be
#: aimed at.
_NEARLY_ALL = 0.005


class CheaperContainers:
    """A plan that costs less than the best, and misses something.

    Parameters
    ----------
    shared : Shared
        Where the search is.
    """

    def __init__(self, shared: Shared) -> None:
        self.shared = shared
        self.aimed: Sheets = ()

    def recreate(self) -> bool:
        """Fill groups of sheets anew; tell whether the best plan got better."""
        shared, begun = self.shared, self.shared.best
        self.aimed = self.aimed or self._aim()
        if not self.aimed:
            return False
        problem, done = shared.problem, shared.state.iterations
        random = np.random.default_rng((shared.seed, DEALT, done))
        rest, groups = dealt(problem, self.aimed, missing(problem, self.aimed), random)
        tasks = [
            Group(sheets, extra, (shared.seed, k, done), shared.stop, shared.state)
            for k, (sheets, extra) in enumerate(groups)
        ]
        found = [s for group in shared.outcomes(recreated, tasks) for s in group]
        shared.patterns.add(found)
        self.aimed = gathered(problem, (*rest, *found))
        if not any(missing(problem, self.aimed)):
            step = shared.filled(self.aimed)
            self.aimed = ()
            shared.keep(step)
        return shared.best is not begun

    def _aim(self) -> Sheets:
        """Fill containers that cost less than the best plan, so that least is missing."""
        shared, problem = self.shared, self.shared.problem
        ratio = fill_ratio(problem, shared.best.sheets)
        sets = [choose_containers(problem, min(0.99, r), shared.seed) for r in _TIGHTER + ratio]
        paid = net_cost(problem, shared.best.sheets)
        cheaper = [c for c in dict.fromkeys(sets) if c and price(problem, c) < paid]
        tasks = [
            Refill(replace(shared.recipe, containers=c), shared.stop, shared.state) for c in cheaper
        ]
        plans = [plan for plan in shared.outcomes(refilled, tasks) if plan]
        for plan in plans:
            shared.patterns.add(plan)
        # What misses hardly anything can be brought in soon: the cheapest of these pays most.
        most = (1 - _NEARLY_ALL) * max((placed_area(problem, p) for p in plans), default=0.0)
        near = [plan for plan in plans if placed_area(problem, plan) >= most]
        for plan in near:
            if not any(missing(problem, plan)):
                shared.keep(shared.filled(plan))
        return min(near, key=lambda plan: net_cost(problem, plan), default=())
