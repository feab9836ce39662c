"""Lay items in a sheet of any outline: all of them, or as much value as fits."""

from __future__ import annotations

import time
from collections import Counter
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass

import numpy as np
from shapely import box

from nestlib import kernel_cache
from nestlib.engine.any_angle_sheet import AnyAngleSheet
from nestlib.engine.arguments import check_search, check_threads
from nestlib.engine.beginning import sound_beginning
from nestlib.engine.compaction import Bounds
from nestlib.engine.fitting import check_room
from nestlib.engine.items import Item, ItemPlacement
from nestlib.engine.sheet_angles import FreeLaid
from nestlib.engine.sheet_search import Laid, SheetSearch
from nestlib.engine.sheet_turns import leaning_turns, turns_tried
from nestlib.engine.stock import RoomPolygon, Stock
from nestlib.engine.turning import Outlines, TurningParams, free_layout, refined
from nestlib.interrupts import plain_interrupts
from nestlib.model import Progress

#: The search ends after so many tries in a row that brought nothing, unless told otherwise.
PATIENCE = 400


@dataclass(frozen=True)
class SheetPacking:
    """A packed sheet.

    Parameters
    ----------
    placements : tuple of ItemPlacement
        One for every piece that lies.
    missing : tuple of int
        For each item, how many pieces do not.
    value : float
        What the pieces that lie are worth.
    tries : int
        How often a better layout was looked for; tries at refined angles do not count.
    stopped : bool
        Whether the user stopped the search.
    """

    placements: tuple[ItemPlacement, ...]
    missing: tuple[int, ...]
    value: float
    tries: int = 0
    stopped: bool = False


def pack_sheet(
    items: Sequence[Item],
    room: RoomPolygon,
    *,
    seconds: float | None = None,
    tries: int | None = None,
    seed: int = 0,
    workers: int | ThreadPoolExecutor = 1,
    begin: Sequence[ItemPlacement] = (),
    on_progress: Callable[[Progress], None] | None = None,
) -> SheetPacking:
    """Lay items in a room: most value first; if all fit, then short along x.

    Items that may turn freely are first laid at angles from a list: quarter turns, steps of
    15 degrees, and those at which they just fit. Then layouts are turned so that they get
    shorter or one more piece fits, and searched on among the angles that this has found.
    For the same seed and number of tries the result is never worse than that of the list.

    Parameters
    ----------
    items : sequence of Item
        What to place.
    room : Polygon or MultiPolygon
        Where; it may have holes and consist of several parts.
    seconds, tries : float, int, optional
        When to stop: after this time, or after so many tries to find something better; the
        first of the two if both are given. The search also ends when nothing was found for
        long. A few tries lay the pieces; making the layout short takes more. If an item may
        turn freely, each try at listed angles stands for another one at refined angles.
    seed : int
        Of all chance; not negative. The same seed and number of tries give the same layout,
        whatever the number of workers.
    workers : int or ThreadPoolExecutor
        Threads, or a pool of threads; only threads help, and more than two gain nothing.
    begin : sequence of ItemPlacement
        A layout without overlaps to begin with; items that may not turn freely lie at
        listed angles or at such as give the same outlines.
    on_progress : callable, optional
        Told of every better layout.

    Returns
    -------
    SheetPacking
        Without overlaps deeper than 1e-8 of the side of a mean item; pieces may touch. After
        a KeyboardInterrupt the best so far, marked as stopped.

    Raises
    ------
    ValueError
        If neither `seconds` nor `tries` is given, if one of them or the seed is negative or
        no number, or if `workers` is neither a number above 0 nor a pool of threads.
    InputError
        If an item's box is larger than that of every part of the room at all of its angles
        (one that is kept out by the outline of the room is not placed, and is missing); if
        `begin` has more pieces than there are, overlaps, leaves the room or turns an item
        otherwise than is tried.

    Examples
    --------
    >>> from shapely import box
    >>> tiles = [Item("tile", box(0, 0, 1, 1), quantity=5)]
    >>> packing = pack_sheet(tiles, box(0, 0, 2, 2), tries=50)
    >>> len(packing.placements), packing.missing
    (4, (1,))
    """
    check_search(seconds, tries, seed, workers)
    check_threads(workers)
    check_room(items, room)
    run = _Run(items, room, on_progress)
    try:
        with plain_interrupts():
            run.prepare(seed, begin)
            run.search(seconds, tries, workers)
    except KeyboardInterrupt:
        return run.result(stopped=True)
    return run.result()


class _Run:
    """One call of `pack_sheet`."""

    def __init__(
        self,
        items: Sequence[Item],
        room: RoomPolygon,
        on_progress: Callable[[Progress], None] | None,
    ) -> None:
        self.items, self.room, self.on_progress = tuple(items), room, on_progress
        self.began = time.monotonic()
        self.seconds = np.inf
        self.beginning: list[ItemPlacement] = []
        self.stock: Stock | None = None
        self.searching: SheetSearch | AnyAngleSheet | None = None

    def prepare(self, seed: int, begin: Sequence[ItemPlacement]) -> None:
        """Check what is begun with, compile the kernels, then make items and room ready."""
        turns = [turns_tried(k, i, self.room, begin) for k, i in enumerate(self.items)]
        self.beginning = begin = sound_beginning(self.items, self.room, turns, begin)
        free = [i.rotations is None and i.quantity > 0 for i in self.items]
        kernels = ("sheet_search", "turning_conditions") if any(free) else ("sheet_search",)
        if not all(map(kernel_cache.ready, kernels)):
            self._tell(kernel_cache.COMPILING)
        warm_up(any(free))
        self._tell("preparing")
        self.began = time.monotonic()
        items = self.items
        wanted = np.array([i.quantity for i in items], np.int64)
        if not wanted.any() or self.room.is_empty:
            return
        areas = np.array([i.polygon.area for i in items])
        mean = float((areas * wanted).sum() / wanted.sum())
        self.stock = stock = Stock.of([i.polygon for i in items], turns, [self.room], mean)
        values = np.array([_worth(i) for i in items])
        first = stock.laid(
            stock.rooms[0],
            [p.item for p in begin],
            [(p.rotation, p.flip) for p in begin],
            np.array([(p.x, p.y) for p in begin]),
        )
        if any(free):
            leaning = [
                leaning_turns(i, self.room) if f else () for i, f in zip(items, free, strict=True)
            ]
            freely = AnyAngleSheet(
                stock, stock.rooms[0], wanted, values, free, leaning, seed, self._elapsed, first
            )
            freely.on_better = self._better
            self.searching = freely
        else:
            listed = SheetSearch(stock, stock.rooms[0], wanted, values, (seed,), self._over, first)
            listed.on_better = self._better
            self.searching = listed

    def search(
        self, seconds: float | None, tries: int | None, workers: int | ThreadPoolExecutor
    ) -> None:
        """Search until the end that was asked for."""
        if seconds is not None:
            self.seconds = seconds
        if self.searching is not None:
            self.searching.run(1 << 60 if tries is None else tries, PATIENCE, workers)

    def _over(self) -> bool:
        return time.monotonic() >= self.began + self.seconds

    def _elapsed(self) -> float:
        """Return the share of the time that is over."""
        passed = time.monotonic() - self.began
        return min(1.0, passed / self.seconds) if self.seconds > 0 else 1.0

    def _better(self, laid: Laid | FreeLaid) -> None:
        assert self.stock is not None
        share = self.stock.area[laid.kind].sum() / self.stock.rooms[0].area
        self._tell("filling", float(share), len(laid.kind))

    def _tell(self, phase: str, utilisation: float | None = None, placed: int = 0) -> None:
        if self.on_progress is not None:
            wanted = sum(i.quantity for i in self.items)
            now = time.monotonic() - self.began
            self.on_progress(Progress(now, phase, utilisation, 1, placed, wanted))

    def _begun_with(self, stopped: bool) -> SheetPacking:
        """Return the layout that was given."""
        placed = Counter(p.item for p in self.beginning)
        missing = tuple(i.quantity - placed[k] for k, i in enumerate(self.items))
        value = sum(_worth(self.items[p.item]) for p in self.beginning)
        return SheetPacking(tuple(self.beginning), missing, value, 0, stopped)

    def result(self, stopped: bool = False) -> SheetPacking:
        """Return the best layout so far."""
        if self.stock is None or self.searching is None:
            return self._begun_with(stopped)
        s = self.searching
        placements = s.placements()
        left = np.array([i.quantity for i in self.items]) - np.bincount(
            s.best.kind, minlength=len(self.items)
        )
        return SheetPacking(
            tuple(placements), tuple(map(int, left)), s.best.value, s.tries, stopped
        )


def _worth(item: Item) -> float:
    return float(item.polygon.area if item.value is None else item.value)


def warm_up(freely: bool = False) -> None:
    """Compile the kernels, or load them, by laying two tiles, and turning them if so wished."""
    stock = Stock.of([box(0, 0, 1, 1)], [[(0.0, False)]], [box(0, 0, 2, 1)])
    room, ones = stock.rooms[0], np.ones(1)
    laid = SheetSearch(stock, room, np.array([2]), ones, (0,), lambda: False).run(3, 3)
    if freely:
        problem = stock.problem(laid.kind, room)
        bounds = Bounds(room.width, room.length, problem.movable)
        still, once = np.zeros(len(problem.kind), bool), TurningParams(rounds=1)
        refined(Outlines(problem), free_layout(problem, laid.snap), bounds, still, once)
