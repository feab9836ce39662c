"""The engine for single sheets at work on a problem: one container filled more densely.

What the engine needs is made ready once in each process, from the problem alone.
"""

from __future__ import annotations

from collections import Counter, OrderedDict
from collections.abc import Callable, Sequence
from itertools import repeat
from threading import Lock

import numpy as np

from nestlib.engine.catalogue import Floats, Ints
from nestlib.engine.items import ItemPlacement
from nestlib.engine.joined import Joined
from nestlib.engine.layouts import Snapshot
from nestlib.engine.sheet_search import SheetParams, SheetSearch
from nestlib.engine.stock import Room, Stock
from nestlib.packing.filling import Recipe, SheetPacker, first_of_each
from nestlib.packing.interface import PackedPlacement
from nestlib.packing.problem import Problem

Placements = tuple[PackedPlacement, ...]

#: Problems that are kept ready in a process.
_KEPT = 2

#: With more pieces than this to be placed a task ends after so many looks at whether it is
#: over, each after some hundredths of a second: rounds stay short, and the same everywhere.
_PIECES, _LOOKS = 200, 40

#: With more pieces than this on a sheet fewer linear programs are solved for each try.
_MANY = 150

_ready: OrderedDict[str, Dense] = OrderedDict()

#: Threads that ask for the same problem wait until the first of them has made it ready.
_making = Lock()


def dense(problem: Problem) -> Dense:
    """Return a problem as the engine sees it, made ready when first asked for.

    Parameters
    ----------
    problem : Problem
        What is to be placed where.
    """
    with _making:
        found = _ready.get(problem.token)
        if found is None:
            found = _ready[problem.token] = Dense(problem)
            if len(_ready) > _KEPT:
                _ready.popitem(last=False)
        return found


class Dense:
    """A problem as the engine sees it.

    Parameters
    ----------
    problem : Problem
        What is to be placed where.
    """

    def __init__(self, problem: Problem) -> None:
        self.problem = problem
        grained = any(s.grain is not None for s in problem.shapes)
        groups: dict[float, list[int]] = {}
        for c, container in enumerate(problem.containers):
            if min(problem.rooms[c].size) > 0:
                groups.setdefault(container.grain if grained else 0.0, []).append(c)
        self.rooms: dict[int, tuple[Stock, Room]] = {}
        for members in groups.values():
            stock = _stock(problem, members)
            self.rooms.update(zip(members, ((stock, r) for r in stock.rooms), strict=True))

    def filled(
        self,
        container: int,
        begin: Sequence[PackedPlacement],
        quantity: Sequence[int] | Ints,
        value: Sequence[float] | Floats,
        seed: tuple[int, ...],
        tries: int,
        over: Callable[[], bool],
        shorten: bool = False,
    ) -> Placements:
        """Fill one container more densely.

        Where shapes have to lie apart, those that lie keep the others out, and among the
        rest chance chooses who may come in, those worth much rather.

        Parameters
        ----------
        container : int
            Index of the container.
        begin : sequence of PackedPlacement
            What lies in it, of what may.
        quantity : sequence of int
            For each shape, how many pieces may lie in it.
        value : sequence of float
            What a piece of each shape is worth.
        seed : tuple of int
            Of all chance.
        tries : int
            The search ends after so many tries in a row that brought nothing, or four times
            as many altogether; sooner if there are many pieces in all.
        over : callable
            Whether to stop at once.
        shorten : bool
            Whether to push the pieces together along x once all of them lie.

        Returns
        -------
        tuple of PackedPlacement
            Worth at least as much as `begin`, or what of it is wanted; that itself if nothing
            better was found.
        """
        if container not in self.rooms:
            return tuple(begin)
        stock, room = self.rooms[container]
        usable = [bool(t) for t in self.problem.turns[container]]
        most = np.where(usable, np.asarray(quantity, np.int64), 0)
        if self.problem.conditioned:
            most = self._together(most, begin, value, seed)
        # A layout of one shape may hold more pieces than are wanted at all.
        begin = first_of_each(begin, dict(enumerate(most.tolist())))
        snap = _laid(stock, room, begin)
        over = self._before_long(over)
        params = SheetParams(programs=6 if len(begin) < _MANY else 2)
        values = np.asarray(value, np.float64)
        search = SheetSearch(stock, room, most, values, seed, over, snap, params, shorten)
        first = search.best
        best = search.run(4 * tries, tries)
        if best is first:
            return tuple(begin)
        found = _packed(stock.placements(room, best.snap))
        return found if self.is_sound(container, found) else tuple(begin)

    def _together(
        self,
        quantity: Ints,
        begin: Sequence[PackedPlacement],
        value: Sequence[float] | Floats,
        seed: tuple[int, ...],
    ) -> Ints:
        """Leave only so many pieces of so many shapes that all of them may lie together."""
        most = np.minimum(quantity, self.problem.most).astype(np.int64)
        lie = {p.shape for p in begin}
        worth = most * np.asarray(value, np.float64) + 1e-12
        chance = np.random.default_rng((*seed, 5)).exponential(size=len(worth)) / worth
        kept: set[int] = set()
        for s in sorted(range(len(worth)), key=lambda s: (s not in lie, chance[s])):
            if self.problem.apart[s] & (kept - {s}):
                most[s] = 0
            elif most[s]:
                kept.add(s)
        return most

    def filled_together(
        self,
        containers: Sequence[int],
        begins: Sequence[Placements],
        quantity: Sequence[int] | Ints,
        value: Sequence[float] | Floats,
        seed: tuple[int, ...],
        tries: int,
        over: Callable[[], bool],
    ) -> list[Placements]:
        """Fill several containers as one room, so that pieces move between them.

        The search sees one room, so what may not share a container may come together: then
        what lay there before stays and the rest is left out, what is worth least first.

        Parameters
        ----------
        containers : sequence of int
            Indices of the containers, in which all shapes have the same turns.
        begins : sequence of tuple of PackedPlacement
            What lies in each.
        quantity, value, seed, tries, over
            As for `filled`, all containers together.

        Returns
        -------
        list of tuple of PackedPlacement
            Worth at least as much as `begins`, unless conditions left something out; these
            themselves if nothing better was found.
        """
        stock = self.rooms[containers[0]][0]
        joined = Joined.of(stock, [self.rooms[c][1] for c in containers])
        layouts = [_laid(stock, r, b) for r, b in zip(joined.rooms, begins, strict=True)]
        most, values = np.asarray(quantity, np.int64), np.asarray(value, np.float64)
        over = self._before_long(over)
        limits = np.array(self.problem.most) * len(containers)
        most = np.minimum(most, limits).astype(np.int64)
        begin = joined.laid(layouts)
        search = SheetSearch(stock, joined.room, most, values, seed, over, begin, shorten=False)
        first = search.best
        best = search.run(4 * tries, tries)
        if best is first:
            return list(begins)
        found = [_packed(p) for p in joined.placements(best.snap)]
        if self.problem.conditioned:
            found = [self._lawful(p, b, value) for p, b in zip(found, begins, strict=True)]
        sound = all(self.is_sound(c, p) for c, p in zip(containers, found, strict=True))
        return found if sound else list(begins)

    def _before_long(self, over: Callable[[], bool]) -> Callable[[], bool]:
        """Return what is also over after a number of looks, where there are many pieces."""
        if sum(self.problem.required) <= _PIECES:
            return over
        looks = repeat(False, _LOOKS)
        return lambda: next(looks, True) or over()

    def _lawful(
        self,
        placements: Placements,
        begin: Sequence[PackedPlacement],
        value: Sequence[float] | Floats,
    ) -> Placements:
        """Leave out of a container what may not lie beside what lay there or is worth more."""
        there, lie = {p.shape for p in begin}, Counter[int]()
        kept = []
        for p in sorted(placements, key=lambda p: (p.shape not in there, -value[p.shape])):
            if self.problem.allowed(p.shape, lie):
                lie[p.shape] += 1
                kept.append(p)
        return tuple(kept)

    def are_joinable(self, containers: Sequence[int]) -> bool:
        """Return whether pieces can move freely between containers, but for conditions."""
        stocks = {id(self.rooms[c][0]) if c in self.rooms else -1 for c in containers}
        usable = {tuple(map(bool, self.problem.turns[c])) for c in containers}
        return len(stocks) == len(usable) == 1 and -1 not in stocks

    def is_sound(self, container: int, placements: Placements) -> bool:
        """Return whether pieces lie free and in the room, as exactly as the packer demands."""
        packer = SheetPacker(self.problem, Recipe((), ()), container)
        return all(
            packer.put_at(p.shape, self.problem.orientation(container, p), p.x, p.y)
            for p in placements
        )


def _laid(stock: Stock, room: Room, placements: Sequence[PackedPlacement]) -> Snapshot:
    return stock.laid(
        room,
        [p.shape for p in placements],
        [(p.rotation, p.flip) for p in placements],
        np.array([(p.x, p.y) for p in placements]),
    )


def _packed(placements: Sequence[ItemPlacement]) -> Placements:
    return tuple(PackedPlacement(p.item, p.rotation, p.flip, p.x, p.y) for p in placements)


def counts(problem: Problem, placements: Sequence[PackedPlacement]) -> list[int]:
    """Return how many pieces of each shape are placed."""
    found = Counter(p.shape for p in placements)
    return [found[s] for s in range(len(problem.shapes))]


def _stock(problem: Problem, members: Sequence[int]) -> Stock:
    """Make the shapes ready for containers in which they have the same turns."""
    turns = [
        list(dict.fromkeys((o.rotation, o.flip) for c in members for o in problem.turns[c][s]))
        for s in range(len(problem.shapes))
    ]
    wanted = np.add(problem.required, problem.fillers)
    mean = float(np.dot(wanted, problem.polygon_areas) / max(wanted.sum(), 1))
    outlines = [s.polygon for s in problem.shapes]
    rooms = [problem.containers[c].room for c in members]
    return Stock.of(outlines, turns, rooms, mean, joinable=True)
