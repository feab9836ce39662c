"""Anytime improvement: several ideas, tried in turn and merged in order.

What is wanted often is laid out periodically first, and these layouts are made denser in each
round. Some streams change recipes, others make the sheets of a plan denser one by one; new
layouts are made at the prices of the pieces, and the solver combines all that were found.
Where there are many pieces, so that filling all sheets again takes long, groups of sheets are
filled anew instead. Each idea is a module of `ideas`. Streams, groups and the work in a task
depend on the problem and the seed only, so the number of workers does not change the result.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from contextlib import suppress

from nestlib.model import Bound
from nestlib.packing.filling import Recipe
from nestlib.packing.ideas.cheaper import CheaperContainers
from nestlib.packing.ideas.combining import Combining
from nestlib.packing.ideas.denser_plans import DenserPlans
from nestlib.packing.ideas.few_layouts import FewLayouts
from nestlib.packing.ideas.recipes import Streams
from nestlib.packing.ideas.repeated import Repeats
from nestlib.packing.ideas.shared import Shared
from nestlib.packing.problem import Problem
from nestlib.packing.repeats import repeated_shapes
from nestlib.packing.score import excess_layouts, missing, net_cost
from nestlib.packing.stopping import SearchState, seconds_left
from nestlib.packing.streams import OverError
from nestlib.packing.tiling import is_tight

#: Rounds between two exchanges of the best result, and between two choices of layouts.
EXCHANGE, CHOICE = 12, 4

#: Work of one task: about this many trapezoids are placed; a piece counts for some more.
_TASK, _PIECE = 10_000, 10

#: Where one filling places more trapezoids than this, single sheets are filled anew instead.
_LARGE = 300_000

#: Arrangements of so many shapes are found before anything else; of more only in time, where
#: there are many pieces.
_SOON = 6

#: After how many rounds more is proved of what no plan can beat, and with how many times the
#: usual effort: more where the search takes long anyway.
PROOFS = {1: 1 / 3, 8: 2.0, 24: 6.0, 72: 18.0, 216: 54.0}

#: A proof ends soon after this share of the time until then, where time is limited; but the
#: first not before so many seconds.
_PROVING, _FIRST_PROOF = 0.25, 2.0

#: Where cost is proved least, the search ends after so many rounds that brought nothing.
_SETTLED = 6


#: Proves what no plan can beat, with so much effort, until something says stop.
Prove = Callable[[float, Callable[[], bool]], Bound]


class Search:
    """The ideas, and the order in which they are tried, until a rule says stop.

    Parameters
    ----------
    shared : Shared
        Where the search is: the best plan, and what no plan can beat, are there also after an
        interrupt.
    recipes : sequence of Recipe
        Plain rules to begin with; the best plan so far is the first one's.
    prove : callable
        Returns what no plan can beat, given the effort and what says whether to stop; asked
        after the rounds of `PROOFS`, until no plan can be better.

    Raises
    ------
    OverError
        If the rule says so before all ideas have begun.
    """

    def __init__(self, shared: Shared, recipes: Sequence[Recipe], prove: Prove) -> None:
        self.shared, self.prove = shared, prove
        problem, work = shared.problem, _work(shared.problem)
        self.large = work > _LARGE and not shared.wants_few_layouts
        trials = max(1, min(32, _TASK // work))
        self.streams = Streams(shared, recipes, trials, self.large)
        self.few_layouts = FewLayouts(shared, self.streams, recipes)
        self.cheaper = CheaperContainers(shared)
        self.repeats = Repeats(shared)
        self.combining = Combining(shared)
        self.repeated = repeated_shapes(problem)
        self.later = self.large and len(self.repeated) > _SOON
        self.repeats.find([] if self.later else self.repeated)
        if self.combining.boxes:
            self.streams.start_from_boxes()
        if is_tight(problem):
            self.streams.start_without_waste()
        self.denser = DenserPlans(shared)

    def run(self) -> None:
        """Go through rounds until it is time to stop, or nothing better is left to find."""
        while not self.shared.over() and not (self._is_proved() and self._is_settled()):
            self._round()
            done = self.shared.state.iterations
            if done in PROOFS and not self._is_proved():
                self._prove(PROOFS[done])
            if self.later and done == EXCHANGE:
                self.repeats.find(self.repeated)

    def _prove(self, effort: float) -> None:
        """Prove what no plan can beat; what was proved before still holds."""
        shared, began = self.shared, self.shared.clock()
        timed = seconds_left(shared.stop, began) is not None
        share = max(_PROVING * began, _FIRST_PROOF if shared.bound is None else 0.0)

        def late() -> bool:
            return timed and shared.clock() > began + share

        if shared.bound is None:  # every plan gets one, however soon the search is over
            shared.bound = self.prove(effort, late)
        elif not shared.over():
            new = self.prove(effort, lambda: shared.over() or late())
            shared.bound = shared.bound.or_more(new)

    def _round(self) -> None:
        shared = self.shared
        shared.tick()
        begun = shared.state.iterations
        done = begun + 1
        better = self.cheaper.recreate() if self.large else self.streams.change()
        if shared.wants_few_layouts:
            better |= self.few_layouts.cut_often()
        # The engine needs more time for a large problem, and gains less there.
        if not self.large or self.cheaper.idle or done % EXCHANGE == 0:
            better |= self.denser.make_denser(begun % EXCHANGE == 0 and not self.large)
            better |= self.repeats.grow()
            self.combining.lay_out_more()
        if done % CHOICE == 1:
            better |= self.combining.choose()
        if done % EXCHANGE == 0:
            self.streams.exchange()
        stalled = 0 if better else shared.state.stalled + 1
        shared.state = SearchState(shared.clock(), done, stalled, time.time())

    def _is_proved(self) -> bool:
        """Whether nothing is missing, and no plan has a lower net cost, or fewer sheets."""
        problem, sheets, bound = self.shared.problem, self.shared.best.sheets, self.shared.bound
        if bound is None or any(missing(problem, sheets)) or excess_layouts(problem, sheets):
            return False
        if any(c.cost is None for c in problem.containers):
            few = self.shared.sheets <= bound.sheets
            return few and not (problem.aims.set_up or problem.aims.worth)
        return net_cost(problem, sheets) <= bound.net_cost * (1 + 1e-9)

    def _is_settled(self) -> bool:
        """Whether what is left at the end has not grown for some rounds."""
        return self.shared.state.stalled >= _SETTLED


def improve(shared: Shared, recipes: Sequence[Recipe], prove: Prove) -> None:
    """Search until a rule says stop; what was found is in `shared`, also after an interrupt.

    Parameters
    ----------
    shared, recipes, prove
        As `Search` takes them.
    """
    with suppress(OverError):
        if not shared.over():
            Search(shared, recipes, prove).run()


def _work(problem: Problem) -> int:
    """Trapezoids to place in one filling, over all orientations and containers tried."""
    counts = [r + f for r, f in zip(problem.required, problem.fillers, strict=True)]
    found = (max((t[s] for t in problem.turns), key=len) for s in range(len(counts)))
    return 1 + len(problem.rooms) * sum(
        min(n, 100) * min(len(turns), 8) * (len(turns[0].upright) + _PIECE)
        for n, turns in zip(counts, found, strict=True)
        if turns
    )
