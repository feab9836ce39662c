"""Change the recipes of several streams, which begin with plain rules or ready layouts."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

from nestlib.packing.boxes import box_layouts
from nestlib.packing.filling import Recipe, fill, with_fillers
from nestlib.packing.ideas.shared import STREAMS, Shared
from nestlib.packing.order import recipe_of
from nestlib.packing.score import fill_ratio
from nestlib.packing.sheets import choose_containers
from nestlib.packing.streams import OverError, Start, Step, Task, attempt, begin, step_of
from nestlib.packing.tiling import tile

#: Effort for sheets without waste.
_TILING = 20_000


class Streams:
    """Several recipes, each changed by itself.

    Parameters
    ----------
    shared : Shared
        Where the search is.
    recipes : sequence of Recipe
        Plain rules to begin with; the best plan so far is the first one's.
    trials : int
        Changes of each recipe in one round.
    large : bool
        Whether a filling takes so long that no recipes are changed.
    """

    def __init__(self, shared: Shared, recipes: Sequence[Recipe], trials: int, large: bool) -> None:
        self.shared, self.trials = shared, trials
        self.streams = list(self._starts(recipes, large))
        self.bests = list(self.streams)

    def _starts(self, recipes: Sequence[Recipe], large: bool) -> Iterator[Step]:
        """Each stream begins with a plain rule of its own, and containers chosen by area."""
        shared, start = self.shared, self.shared.best
        yield start
        if large:
            yield from [start] * (STREAMS - 1)
            return
        ratio = fill_ratio(shared.problem, start.sheets)
        tasks = []
        for k, recipe in enumerate(recipes[1:STREAMS], 1):
            if len(shared.problem.containers) > 1:
                asked = choose_containers(shared.problem, min(0.99, ratio + 0.03 * k), shared.seed)
                recipe = replace(recipe, containers=asked[:50])
            tasks.append(Start(recipe, (shared.seed, k), 0, shared.stop, shared.state))
        for outcome in shared.outcomes(begin, tasks):
            if outcome is None:
                raise OverError
            shared.patterns.add(outcome.tried)
            shared.keep(outcome.best)
            yield outcome.best

    def start_from_boxes(self) -> None:
        """Let a layout by the solver replace the worst start, if it is better."""
        shared, problem = self.shared, self.shared.problem
        if not shared.best.sheets:
            return
        first = shared.best.sheets[0].container
        layouts = box_layouts(problem, problem.areas, shared.seed, first)
        shared.patterns.add(layouts)
        for sheet in (s for s in layouts if s.container == first):
            recipe = recipe_of(problem, [sheet])
            filling = fill(problem, recipe, tick=shared.tick)
            as_it_is = with_fillers(problem, recipe, [sheet], shared.tick)
            for found in (filling.sheets, as_it_is):
                self.replace_worst(step_of(problem, recipe, found))

    def start_without_waste(self) -> None:
        """Let sheets that are filled completely replace the worst start, if that is better."""
        shared = self.shared
        tiling = tile(shared.problem, effort=_TILING, seed=shared.seed, over=shared.over)
        shared.patterns.add(tiling.found)
        if tiling.plan:
            recipe = recipe_of(shared.problem, tiling.plan)
            self.replace_worst(shared.filled(tiling.plan, recipe))

    def replace_worst(self, step: Step) -> bool:
        """Let a plan replace the worst stream, if it is better; tell whether it is the best."""
        worst = self._worst()
        if step.score < self.bests[worst].score:
            self.streams[worst] = self.bests[worst] = step
        return self.shared.keep(step)

    def exchange(self) -> None:
        """Let the best stream replace the worst."""
        worst = self._worst()
        self.streams[worst] = self.bests[worst] = min(self.bests, key=lambda s: s.score)

    def _worst(self) -> int:
        return max(range(STREAMS), key=lambda k: self.bests[k].score)

    def change(self) -> bool:
        """Let each stream try changes of its recipe; tell whether the best plan got better."""
        shared, done = self.shared, self.shared.state.iterations
        tasks = [
            Task(s, b, (shared.seed, k, done), self.trials, shared.stop, shared.state)
            for k, (s, b) in enumerate(zip(self.streams, self.bests, strict=True))
        ]
        better = False
        for k, outcome in enumerate(shared.outcomes(attempt, tasks)):
            self.streams[k], self.bests[k] = outcome.step, outcome.best
            shared.patterns.add(outcome.tried)
            better |= shared.keep(outcome.best)
        return better
