"""Make layouts at the prices of the pieces, and let the solver combine all that were found."""

from __future__ import annotations

from nestlib.packing.boxes import are_boxes, box_layouts
from nestlib.packing.denser import PricedTask, lay_out
from nestlib.packing.ideas.shared import PRICED, Shared
from nestlib.packing.interface import PackedPlacement
from nestlib.packing.sheets import choose_layouts, prices
from nestlib.packing.squeezing import without_fillers


class Combining:
    """Layouts as columns of an integer program.

    Parameters
    ----------
    shared : Shared
        Where the search is.
    """

    def __init__(self, shared: Shared) -> None:
        self.shared, self.boxes = shared, are_boxes(shared.problem)

    def lay_out_more(self) -> None:
        """Make layouts of what is now worth most, where layouts can be combined."""
        if not self.shared.is_a_choice:
            return
        if self.boxes:
            self._lay_out_boxes()
        if not self.boxes or self.shared.wants_few_layouts:
            self._lay_out_priced()

    def choose(self) -> bool:
        """Let the solver combine all layouts; tell whether the best plan got better."""
        shared = self.shared
        if not shared.patterns.grown or not shared.is_a_choice:
            return False
        shared.patterns.grown = False
        known = without_fillers(shared.problem, shared.best.sheets)
        chosen = choose_layouts(
            shared.problem, shared.patterns.promising(), shared.seed, known=known
        )
        if not chosen:
            return False
        shared.patterns.add(chosen)
        return shared.keep(shared.filled(chosen))

    def _lay_out_boxes(self) -> None:
        """Let the solver fill containers, each in turn."""
        shared, done = self.shared, self.shared.state.iterations
        values = prices(shared.problem, shared.patterns.best())
        first = done % len(shared.problem.rooms)
        shared.patterns.add(box_layouts(shared.problem, values, shared.seed + done, first))

    def _lay_out_priced(self) -> None:
        """Let the engine fill one container, where layouts can be repeated."""
        shared, problem, done = self.shared, self.shared.problem, self.shared.state.iterations
        if max(problem.required) < 2:
            return
        own = [c for c, turns in enumerate(problem.turns) if any(turns)]
        container, turn = own[done % len(own)], done // len(own)
        wanted, begin = tuple(problem.required), tuple[PackedPlacement, ...]()
        values = tuple(prices(problem, shared.patterns.best()))
        if shared.wants_few_layouts and turn % 2:
            wanted, values = self._shares(turn // 2), tuple(problem.polygon_areas)
        elif turn % 4 > 1:
            begin = shared.patterns.most_worth(container, values)
        seed = (shared.seed, PRICED, done)
        task = PricedTask(container, begin, wanted, values, seed, shared.stop, shared.state)
        for layouts in shared.outcomes(lay_out, [task]):
            shared.patterns.add(layouts)

    def _shares(self, turn: int) -> tuple[int, ...]:
        """Return pieces of each kind for one sheet, if all sheets were alike, or few kinds."""
        sheets, problem = self.shared.sheets, self.shared.problem
        runs = max(1, sheets // (problem.aims.most_layouts or 2)) + turn % (sheets + 1)
        return tuple(-(-n // runs) for n in problem.required)
