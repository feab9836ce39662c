"""Bring all pieces into containers that cost less than the best plan, where there are many."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace

import numpy as np

from nestlib.packing.filling import Recipe
from nestlib.packing.ideas.shared import DEALT, Shared
from nestlib.packing.order import orders_of_many
from nestlib.packing.recreating import Group, Refill, dealt, gathered, recreated, refilled
from nestlib.packing.score import fill_ratio, missing, net_cost, placed_area, price
from nestlib.packing.sheets import choose_containers
from nestlib.packing.squeezing import Sheets
from nestlib.packing.streams import Step

#: How much fuller than reached so far containers have to be that are aimed at.
_TIGHTER = np.array([-0.004, 0.004, 0.012])

#: How much fuller containers have to be so that orders leave out more or less of the area.
_TOO_FEW = 0.03

#: No sheets are filled more than that; steps in which a ratio is raised until sheets cost less.
_FULL, _STEP = 0.99, 0.01

#: Where more of the area than this finds no place, it is not brought in bit by bit either.
_HOPELESS = 0.06

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
        #: The best plan for which nothing could be aimed at.
        self.in_vain: Step | None = None
        #: The order that fills sheets best; how full, if fuller than the best plan; and orders
        #: that are not tried yet.
        self.recipe, self.reached = shared.recipe, 0.0
        self.orders = list(dict.fromkeys(orders_of_many(shared.problem)))

    @property
    def idle(self) -> bool:
        """Return whether nothing can be aimed at until there is a better plan."""
        return not self.aimed and self.in_vain is self.shared.best

    def recreate(self) -> bool:
        """Fill groups of sheets anew; tell whether the best plan got better."""
        shared, begun = self.shared, self.shared.best
        if not self.aimed or self._paid(self.aimed) >= self._limit():
            self.aimed = () if self.idle else self._aim()
        if not self.aimed and shared.best is begun and self.reached:
            # What is reached on too few sheets may be more than with all pieces.
            self.reached = 0.0
            self.aimed = self._aim()
        if not self.aimed:
            self.in_vain = begun
            return shared.best is not begun
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
        """Fill containers that cost less than the best plan, so that little is missing."""
        problem = self.shared.problem
        self._try_orders()
        ratio = max(self.reached, fill_ratio(problem, self.shared.best.sheets))
        plans = [plan for _, plan in self._filled(ratio + _TIGHTER, [self.recipe])]
        # What misses hardly anything can be brought in soon: the cheapest of these pays most.
        wanted = sum(n * a for n, a in zip(problem.required, problem.polygon_areas, strict=True))
        most = max((placed_area(problem, p) for p in plans), default=0.0)
        least = max((1 - _NEARLY_ALL) * most, (1 - _HOPELESS) * wanted)
        near = [p for p in plans if placed_area(problem, p) >= least and any(missing(problem, p))]
        return min(near, key=lambda plan: net_cost(problem, plan), default=())

    def _try_orders(self) -> None:
        """Fill containers that hardly suffice: which order leaves out least fills best."""
        if not self.orders:
            return
        problem = self.shared.problem
        ratio = fill_ratio(problem, self.shared.best.sheets)
        orders, self.orders = self.orders, []
        for recipe, plan in self._filled([ratio + _TOO_FEW], orders):
            full = fill_ratio(problem, plan)
            if full > max(ratio, self.reached):
                self.reached, self.recipe = full, recipe

    def _filled(
        self, ratios: Iterable[float], recipes: Sequence[Recipe]
    ) -> list[tuple[Recipe, Sheets]]:
        """Fill containers that suffice at some ratios and cost less than the best plan."""
        shared, problem = self.shared, self.shared.problem
        tasks = [
            Refill(replace(recipe, containers=c), shared.stop, shared.state)
            for c in dict.fromkeys(map(self._cheaper, ratios))
            if c
            for recipe in recipes
        ]
        found = []
        for task, plan in zip(tasks, shared.outcomes(refilled, tasks), strict=True):
            if plan:
                found.append((task.recipe, plan))
                shared.patterns.add(plan)
                if not any(missing(problem, plan)):
                    shared.keep(shared.filled(plan, task.recipe))
        return found

    def _cheaper(self, ratio: float) -> tuple[int, ...]:
        """Choose containers that cost less than the best plan, at a ratio or the next that can."""
        problem, limit = self.shared.problem, self._limit()

        def chosen(full: float) -> tuple[int, ...]:
            found = choose_containers(problem, full, self.shared.seed)
            return found if price(problem, found) < limit else ()

        if not chosen(_FULL):
            return ()  # fuller sheets cost least
        ratios = [*np.arange(ratio, _FULL, _STEP).tolist(), _FULL]
        return next(filter(None, map(chosen, ratios)), ())

    def _paid(self, sheets: Sheets) -> float:
        return net_cost(self.shared.problem, sheets)

    def _limit(self) -> float:
        """Return what the best plan costs, less what sums of the same prices may differ by."""
        return self._paid(self.shared.best.sheets) * (1 - 1e-9)
