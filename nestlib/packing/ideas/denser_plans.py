"""Make the sheets of some plans denser, one by one."""

from __future__ import annotations

from nestlib.packing.denser import DenseTask, make_denser
from nestlib.packing.ideas.shared import PLANS, STREAMS, Shared
from nestlib.packing.score import must
from nestlib.packing.squeezing import without_fillers


class DenserPlans:
    """Plans whose sheets are made denser.

    Parameters
    ----------
    shared : Shared
        Where the search is; the plans begin with the best so far.
    """

    def __init__(self, shared: Shared) -> None:
        self.shared = shared
        self.plans = [without_fillers(shared.problem, shared.best.sheets)] * PLANS

    def make_denser(self, exchange: bool) -> bool:
        """Make a sheet of each plan denser; a plan that costs more gives way to the best.

        Parameters
        ----------
        exchange : bool
            Whether the last plan gives way to any that is better.

        Returns
        -------
        bool
            Whether the best plan got better.
        """
        shared, problem, better = self.shared, self.shared.problem, False
        tasks = [
            DenseTask(
                sheets,
                shared.recipe,
                (shared.seed, k, shared.state.iterations),
                shared.stop,
                shared.state,
            )
            for k, sheets in enumerate(self.plans, STREAMS)
        ]
        for k, found in enumerate(shared.outcomes(make_denser, tasks)):
            shared.patterns.add(found.tried)
            better |= shared.keep(found.step)
            self.plans[k] = found.sheets
            worse = exchange and found.step.score > shared.best.score
            costly = must(problem, found.step.sheets) > must(problem, shared.best.sheets)
            if worse or costly:
                self.plans[k] = without_fillers(problem, shared.best.sheets)
        return better
