"""Lay what is wanted often out periodically, and make these layouts denser."""

from __future__ import annotations

from collections.abc import Sequence

from nestlib.packing.ideas.shared import PLANS, Shared
from nestlib.packing.interface import PackedSheet
from nestlib.packing.repeats import ColumnTask, RepeatTask, grow, lay_out_repeats, planned


class Repeats:
    """Periodic layouts.

    Parameters
    ----------
    shared : Shared
        Where the search is.
    """

    def __init__(self, shared: Shared) -> None:
        self.shared = shared
        self.columns: list[PackedSheet] = []

    def find(self, shapes: Sequence[int]) -> None:
        """Lay out shapes of which many pieces are wanted."""
        shared = self.shared
        tasks = [
            RepeatTask(s, shared.recipe, shared.seed, shared.stop, shared.state) for s in shapes
        ]
        self.columns = [s for found in shared.outcomes(lay_out_repeats, tasks) for s in found]
        shared.patterns.add(self.columns)
        self._plan()

    def grow(self) -> bool:
        """Make two layouts denser; if they hold more pieces, plan anew.

        Returns
        -------
        bool
            Whether the best plan got better.
        """
        shared, done = self.shared, self.shared.state.iterations
        first, last = done * PLANS, len(self.columns)
        chosen = [k % last for k in range(first, first + min(PLANS, last))]
        tasks = [
            ColumnTask(self.columns[k], (shared.seed, k, done), shared.stop, shared.state)
            for k in chosen
        ]
        old = list(self.columns)
        for k, column in zip(chosen, shared.outcomes(grow, tasks), strict=True):
            self.columns[k] = column
        if self.columns == old:
            return False
        shared.patterns.add(self.columns)
        return self._plan()

    def _plan(self) -> bool:
        """Begin layouts with what is repeated."""
        if not self.columns:
            return False
        shared = self.shared
        plan = planned(shared.problem, shared.recipe, self.columns, shared.tick)
        shared.patterns.add(plan)
        return shared.keep(shared.filled(plan))
