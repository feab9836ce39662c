"""Filling containers, one after the other, by bottom-left placement.

References
----------
E. K. Burke, R. Hellier, G. Kendall, G. Whitwell, "A new bottom-left-fill heuristic
algorithm for the two-dimensional irregular packing problem", Operations Research 54
(2006) 587-601.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from nestlib.packing.alike import exchanged
from nestlib.packing.board import Board
from nestlib.packing.interface import PackedPlacement, PackedSheet
from nestlib.packing.orientations import Orientation
from nestlib.packing.problem import Problem
from nestlib.packing.runs import Runs, share, trimmed

#: Called now and then with the pieces placed so far; may raise to stop.
Tick = Callable[[int], None]

#: With more pieces than this on a board, equal pieces go on where the last one was found.
_REMEMBER = 60


@dataclass(frozen=True)
class Recipe:
    """Everything a filling depends on.

    Parameters
    ----------
    lots : tuple of (int, int)
        Shapes and quantities in the order in which they are placed.
    turns : tuple of (tuple of int, or None)
        For each shape the orientations to use; None for the first few of them.
    rule : int
        How the place of a piece is chosen among its orientations; see `RULES`.
    containers : tuple of int
        Which containers to fill first; what follows is chosen as it goes.
    runs : tuple of int
        How often the first layouts shall be cut, so that each takes only its share of the
        pieces; what follows takes all that fits.
    """

    lots: tuple[tuple[int, int], ...]
    turns: tuple[tuple[int, ...] | None, ...]
    rule: int = 0
    containers: tuple[int, ...] = ()
    runs: Runs = ()


class _RightEdge:
    """Prefer what reaches least far to the right, then up."""

    @staticmethod
    def rank(o: Orientation, x: float, y: float, extent: float) -> tuple[float, ...]:
        return x + o.box[2], y + o.box[3]

    @staticmethod
    def limit(o: Orientation, best: tuple[float, ...]) -> float:
        return best[0] - o.box[2]


class _Centre:
    """Prefer what lies furthest left by its middle, then lowest."""

    @staticmethod
    def rank(o: Orientation, x: float, y: float, extent: float) -> tuple[float, ...]:
        return x + 0.5 * (o.box[0] + o.box[2]), y

    @staticmethod
    def limit(o: Orientation, best: tuple[float, ...]) -> float:
        return best[0] - 0.5 * (o.box[0] + o.box[2])


class _Growth:
    """Prefer what makes the layout no longer, then as `_Centre`."""

    @staticmethod
    def rank(o: Orientation, x: float, y: float, extent: float) -> tuple[float, ...]:
        return max(extent, x + o.box[2]), x + 0.5 * (o.box[0] + o.box[2]), y

    @staticmethod
    def limit(o: Orientation, best: tuple[float, ...]) -> float:
        return best[0] - o.box[2]


#: How the place of a piece is chosen: its rank, smallest first, and the largest x shift
#: that can still beat a rank.
RULES = (_RightEdge, _Centre, _Growth)

#: The numbers of two of these.
BY_CENTRE, BY_GROWTH = RULES.index(_Centre), RULES.index(_Growth)

#: Orientations tried by default.
USUAL = 8


@dataclass
class Filling:
    """Sheets filled so far, and what is still to be placed.

    Parameters
    ----------
    sheets : list of PackedSheet
        In the order in which they were filled.
    left : list of int
        For each shape, how many pieces still need a place.
    tried : list of PackedSheet
        Everything that was filled on the way, also what was not used.
    open : SheetPacker, or None
        The sheet that is being filled right now.
    """

    sheets: list[PackedSheet]
    left: list[int]
    tried: list[PackedSheet] = field(default_factory=list)
    open: SheetPacker | None = None

    @property
    def pieces(self) -> int:
        """Pieces placed, not counting runs that were not made."""
        return sum(len(s.placements) * s.runs for s in self.sheets)

    def close(self) -> None:
        """Keep the sheet that is being filled, as far as it is."""
        if self.open is not None and self.open.placements:
            self.take(PackedSheet(self.open.container, tuple(self.open.placements)))
        self.open = None

    def take(self, sheet: PackedSheet) -> None:
        """Keep a sheet and all its runs."""
        self.sheets.append(sheet)
        for p in sheet.placements:
            self.left[p.shape] -= sheet.runs


def fill(
    problem: Problem, recipe: Recipe, filling: Filling | None = None, tick: Tick | None = None
) -> Filling:
    """Fill containers until all pieces are placed or no container is left.

    Parameters
    ----------
    problem : Problem
        Shapes and containers.
    recipe : Recipe
        In which order, and how.
    filling : Filling, optional
        Filled in place, so that it can be kept if `tick` raises.
    tick : callable, optional
        Called now and then.

    Returns
    -------
    Filling
    """
    done = Filling([], []) if filling is None else filling
    done.left[:] = problem.required
    fill_rest(problem, recipe, done, list(problem.quantities), tick)
    done.sheets[:] = with_fillers(problem, recipe, done.sheets, tick)
    return done


def fill_rest(
    problem: Problem,
    recipe: Recipe,
    done: Filling,
    stock: list[float],
    tick: Tick | None = None,
) -> None:
    """Fill containers until nothing is left of what a filling still needs, without fillers.

    Parameters
    ----------
    problem : Problem
        Shapes and containers.
    recipe : Recipe
        In which order, and how.
    done : Filling
        What is to be placed; grows.
    stock : list of float
        For each container, how many there are; gets less.
    tick : callable, optional
        Called now and then.
    """
    wanted = iter(recipe.containers)
    for k in range(len(recipe.runs)):
        _fill_share(problem, recipe, done, stock, wanted, recipe.runs[k:], tick)
    while any(done.left):
        choice = _next_sheet(problem, recipe, done, stock, wanted, done.left, tick)
        if choice is None:
            break
        counts = Counter(p.shape for p in choice.placements)
        runs = min(done.left[s] // n for s, n in counts.items())
        runs = int(min(runs, stock[choice.container]))
        done.take(replace(choice, runs=runs))
        stock[choice.container] -= runs


def _fill_share(
    problem: Problem,
    recipe: Recipe,
    done: Filling,
    stock: list[float],
    wanted: Iterable[int],
    runs: Runs,
    tick: Tick | None,
) -> None:
    """Fill one container so that it can be cut as often as it shall, if there are so many."""
    enough = [n if n >= runs[0] else 0 for n in stock]
    shares = [share(n, runs) for n in done.left]
    sheet = _next_sheet(problem, recipe, done, enough, wanted, shares, tick)
    if sheet is None:
        return
    made = Counter(p.shape for p in sheet.placements)
    kept = {s: trimmed(n, done.left[s], runs) for s, n in made.items()}
    placements = first_of_each(sheet.placements, kept)
    if placements:
        done.take(PackedSheet(sheet.container, placements, runs[0]))
        done.tried.append(done.sheets[-1])
        stock[sheet.container] -= runs[0]


def first_of_each(
    placements: Iterable[PackedPlacement], numbers: Mapping[int, int]
) -> tuple[PackedPlacement, ...]:
    """Return so many pieces of each shape, those that were placed first."""
    left = Counter(numbers)
    kept = []
    for p in placements:
        if left[p.shape] > 0:
            left[p.shape] -= 1
            kept.append(p)
    return tuple(kept)


def _next_sheet(
    problem: Problem,
    recipe: Recipe,
    done: Filling,
    stock: Sequence[float],
    wanted: Iterable[int],
    left: Sequence[int],
    tick: Tick | None,
) -> PackedSheet | None:
    """Fill the container that the recipe asks for, or else the one that pays best."""
    for c in wanted:
        if stock[c] >= 1:
            sheet = _fill_one(problem, recipe, done, c, left, tick)
            if sheet.placements:
                return sheet
    for rank in problem.ranks:
        filled = [_fill_one(problem, recipe, done, c, left, tick) for c in rank if stock[c] >= 1]
        filled = [s for s in filled if s.placements]
        if filled:
            return min(filled, key=lambda s: _price_of_area(problem, left, s))
    return None


def _price_of_area(
    problem: Problem, left: Sequence[int], sheet: PackedSheet
) -> tuple[float, float]:
    """What is paid for the area placed; a sheet that takes all the rest beats the others."""
    area = sum(problem.areas[p.shape] for p in sheet.placements)
    cost = problem.costs[sheet.container]
    if len(sheet.placements) == sum(left):
        return -1.0, cost
    return cost / area, -area


def _fill_one(
    problem: Problem,
    recipe: Recipe,
    done: Filling,
    container: int,
    wanted: Sequence[int],
    tick: Tick | None,
) -> PackedSheet:
    """Place as many pieces as possible in one container."""
    packer = SheetPacker(problem, recipe, container, tick, done.pieces)
    done.open = packer
    left = list(wanted)
    for shape, count in _in_order(problem, recipe.lots):
        placed = packer.put(shape, min(count, left[shape]))
        left[shape] -= placed
    done.open = None
    sheet = PackedSheet(container, tuple(packer.placements))
    if sheet.placements:
        done.tried.append(sheet)
    return sheet


def _in_order(problem: Problem, lots: Sequence[tuple[int, int]]) -> list[tuple[int, int]]:
    """Lots of required shapes, higher priorities first."""
    required = [lot for lot in lots if not problem.shapes[lot[0]].filler]
    return sorted(required, key=lambda lot: -problem.shapes[lot[0]].priority)


class SheetPacker:
    """Places pieces on one board, as far as they may lie together.

    Parameters
    ----------
    problem : Problem
        Shapes and containers.
    recipe : Recipe
        Which orientations, and how to choose.
    container : int
        Index of the container.
    tick : callable, optional
        Called after each piece.
    before : int
        Pieces placed elsewhere, for `tick`.
    """

    def __init__(
        self,
        problem: Problem,
        recipe: Recipe,
        container: int,
        tick: Tick | None = None,
        before: int = 0,
    ) -> None:
        self.problem, self.recipe, self.container = problem, recipe, container
        self.tick, self.before = tick, before
        self.board = Board(problem.rooms[container])
        self.placements: list[PackedPlacement] = []
        self.counts: Counter[int] = Counter()
        self.free_area = problem.rooms[container].area * (1 + 1e-9)
        self._failed: dict[tuple[int, int], float] = {}

    def put(self, shape: int, count: int) -> int:
        """Place up to `count` pieces of a shape; return how many found a place."""
        for placed in range(count):
            if self.tick is not None:
                self.tick(self.before + len(self.placements))
            if not self._put_one(shape):
                return placed
        return count

    def put_at(self, shape: int, o: Orientation, x: float, y: float) -> bool:
        """Place one piece at a given place if it may lie there; return whether it does."""
        free = self.may_take(shape) and self.board.is_free(o, x, y)
        if free:
            self._add(shape, o, x, y)
        return free

    def may_take(self, shape: int) -> bool:
        """Return whether one more piece may lie beside those that lie, room or not."""
        return self.problem.allowed(shape, self.counts)

    def restore(self, placements: Iterable[PackedPlacement]) -> None:
        """Put pieces where they lay before."""
        for p in placements:
            self._add(p.shape, self.problem.orientation(self.container, p), p.x, p.y)

    def _put_one(self, shape: int) -> bool:
        if self.problem.polygon_areas[shape] > self.free_area or not self.may_take(shape):
            return False
        best: tuple[tuple[float, ...], Orientation, float, float] | None = None
        rule = RULES[self.recipe.rule]
        for index, o in self._orientations(shape):
            limit = np.inf if best is None else rule.limit(o, best[0]) + self.board.eps
            x, y = self._find(shape, index, o, limit)
            if x < np.inf:
                rank = rule.rank(o, x, y, self.board.extent)
                if best is None or rank < best[0]:
                    best = rank, o, x, y
        if best is None:
            return False
        self._add(shape, *best[1:])
        return True

    def _orientations(self, shape: int) -> list[tuple[int, Orientation]]:
        turns = self.problem.turns[self.container][shape]
        chosen = self.recipe.turns[shape]
        if chosen is None:
            return list(enumerate(turns[:USUAL]))
        return [(i, turns[i]) for i in chosen if i < len(turns)] or list(enumerate(turns[:1]))

    def _find(self, shape: int, index: int, o: Orientation, limit: float) -> tuple[float, float]:
        """Look for a place, where many pieces lie not again where there was none before."""
        many = len(self.placements) > _REMEMBER
        known = self._failed.get((shape, index), -np.inf)
        if known == np.inf:
            return np.inf, np.inf
        x, y, failed = self.board.find(o, known if many else -np.inf, limit)
        self._failed[shape, index] = np.inf if x == np.inf == limit else max(known, failed)
        return x, y

    def _add(self, shape: int, o: Orientation, x: float, y: float) -> None:
        self.board.add(o, x, y)
        self.free_area -= self.problem.polygon_areas[shape]
        self.counts[shape] += 1
        self.placements.append(PackedPlacement(shape, o.rotation, o.flip, float(x), float(y)))


def with_fillers(
    problem: Problem, recipe: Recipe, sheets: Sequence[PackedSheet], tick: Tick | None = None
) -> list[PackedSheet]:
    """Put fillers into the room that is left on sheets, those in greatest need first.

    Parameters
    ----------
    problem : Problem
        Shapes and containers.
    recipe : Recipe
        In which order, and how.
    sheets : sequence of PackedSheet
        What is there already.
    tick : callable, optional
        Called after each piece.

    Returns
    -------
    list of PackedSheet
        The same sheets, some perhaps split into two groups of runs; pieces that look alike
        may have been exchanged.
    """
    left, queue = list(problem.fillers), list(enumerate(sheets))
    filled: list[tuple[int, PackedSheet]] = []
    fillers = [s for s in dict.fromkeys(s for s, _ in recipe.lots) if problem.shapes[s].filler]
    # A greedy knapsack: what is worth most for its area goes first.
    fillers.sort(key=lambda s: -problem.shapes[s].need)
    while queue and any(left):
        origin, sheet = queue.pop(0)
        packer = SheetPacker(problem, recipe, sheet.container, tick)
        packer.restore(sheet.placements)
        for shape in fillers:
            left[shape] -= sheet.runs * packer.put(shape, left[shape] // sheet.runs)
        sheet = replace(sheet, placements=tuple(packer.placements))
        rest = max((left[s] for s in fillers if left[s] < sheet.runs), default=0)
        if rest and not problem.aims.set_up and problem.aims.most_layouts is None:
            # Too few are left for all runs alike: so many of the runs may get one more.
            queue.insert(0, (origin, replace(sheet, runs=rest)))
            sheet = replace(sheet, runs=sheet.runs - rest)
        filled.append((origin, sheet))
    return exchanged(problem, _rejoined(filled + queue))


def _rejoined(groups: Sequence[tuple[int, PackedSheet]]) -> list[PackedSheet]:
    """Join groups of runs of one sheet for which no more fillers were found after all."""
    kept: list[tuple[int, PackedSheet]] = []
    for origin, sheet in groups:
        if kept and kept[-1][0] == origin and kept[-1][1].placements == sheet.placements:
            sheet = replace(sheet, runs=sheet.runs + kept.pop()[1].runs)
        kept.append((origin, sheet))
    return [sheet for _, sheet in kept]
