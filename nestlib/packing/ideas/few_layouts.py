"""Fill sheets so that each layout can be cut often, where different layouts cost something."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from nestlib.packing.filling import Recipe
from nestlib.packing.ideas.recipes import Streams
from nestlib.packing.ideas.shared import OFTEN, Shared
from nestlib.packing.runs import Runs, run_lists
from nestlib.packing.score import price
from nestlib.packing.streams import Start, begin

#: How many plans of layouts that are cut often are made in one round.
RUNS = 4


class FewLayouts:
    """Plans of few layouts.

    Parameters
    ----------
    shared : Shared
        Where the search is.
    streams : Streams
        Of which the worst gives way to a better plan.
    rules : sequence of Recipe
        Plain rules to fill by.
    """

    def __init__(self, shared: Shared, streams: Streams, rules: Sequence[Recipe]) -> None:
        self.shared, self.streams, self.rules = shared, streams, rules

    def cut_often(self) -> bool:
        """Make some plans of layouts cut often; tell whether the best plan got better."""
        shared, lists = self.shared, self._run_lists()
        first = shared.state.iterations * RUNS
        tasks = [
            Start(
                replace(self.rules[k // len(lists) % len(self.rules)], runs=lists[k % len(lists)]),
                (shared.seed, OFTEN, k),
                self.streams.trials // RUNS,
                shared.stop,
                shared.state,
            )
            for k in range(first, first + min(RUNS, len(lists)))
        ]
        better = False
        for outcome in shared.outcomes(begin, tasks):
            if outcome is not None:
                shared.patterns.add(outcome.tried)
                better |= self.streams.replace_worst(outcome.best)
        return better

    def _run_lists(self) -> list[Runs]:
        """Return how often layouts may be cut, what is likely to cost least first."""
        shared, aims, sheets = self.shared, self.shared.problem.aims, self.shared.best.sheets
        number = shared.sheets
        paid = price(shared.problem, [s.container for s in sheets for _ in range(s.runs)])
        most = len(sheets) if aims.most_layouts is None else aims.most_layouts
        return run_lists(number, paid / max(1, number), aims.set_up, most)
