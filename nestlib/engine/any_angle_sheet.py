"""The search for a layout of a room whose pieces may turn by any angle.

The room is searched at listed angles as if there were no others; nothing of that depends on
what comes besides. Its best layouts are made shorter by turning pieces a little (`turning`),
and those of its failed layouts that overlap least, which would be worth more or shorter, are
freed of their overlaps in the same way (`freeing`). A second search begins with nothing, at
the few angles at which pieces lean on the walls (`aligning`). Others go on from the best
layout of all, among the angles that it has.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from nestlib.engine.catalogue import Floats, Ints, Turn
from nestlib.engine.compaction import Bounds
from nestlib.engine.freeing import FreeingParams, freed
from nestlib.engine.items import ItemPlacement
from nestlib.engine.layouts import Snapshot
from nestlib.engine.sheet_angles import FreeLaid, freely_laid, placements_of, with_own_turns
from nestlib.engine.sheet_search import Laid, SheetSearch
from nestlib.engine.stock import Room, Stock
from nestlib.engine.turning import Outlines, TurningParams, refined

#: Tries of a lane are not limited by their number but by its turn.
_NO_END = 1 << 60


@dataclass(frozen=True)
class AnyAngleSheetParams:
    """How tries and time are divided.

    Parameters
    ----------
    tries : int
        Tries at listed angles of the first round; each round has twice as many. As many
        follow at other angles.
    listed, leaning : float
        Shares of what is left of the time, if time counts, that a round spends at listed
        angles, and at those that lean on the walls.
    lean : float
        Share of the tries at other angles that are spent at the latter.
    pause : int
        Layouts are turned after so many tries of each search.
    few : int
        Failed layouts that are freed then.
    anew : float
        If turning has made the best layout shorter by this share, or worth more, the search
        begins anew at its angles.
    most : int
        Layouts of more pieces than this are not turned.
    turning : TurningParams
        How layouts are made shorter.
    freeing : FreeingParams
        How they are freed of overlaps.
    """

    tries: int = 60
    listed: float = 0.4
    leaning: float = 0.2
    lean: float = 0.4
    pause: int = 8
    few: int = 2
    anew: float = 0.002
    most: int = 250
    turning: TurningParams = field(default_factory=lambda: TurningParams(rounds=20, gain=1e-4))
    freeing: FreeingParams = field(default_factory=FreeingParams)


@dataclass
class _Lane:
    """The search among one set of angles.

    `turned` is the last of its layouts that was made shorter by turning, `tried` are those of
    its failed layouts that were to be freed.
    """

    stock: Stock
    search: SheetSearch
    turned: Laid | None = None
    tried: list[Laid] = field(default_factory=list)


class AnyAngleSheet:
    """The search for a layout of one room, some of whose pieces may turn by any angle.

    Parameters
    ----------
    stock : Stock
        Kinds at their listed turns, and the room.
    room : Room
        The one that is filled.
    quantity : ndarray of int64, shape (kinds,)
        Most pieces of each kind.
    value : ndarray, shape (kinds,)
        What a piece of each kind is worth.
    may_turn : sequence of bool
        For each kind whether it may turn by any angle; the others keep to their turns.
    leaning : sequence of sequence of (float, bool)
        For each kind the turns at which it leans on the walls.
    seed : int
        Of all chance.
    elapsed : callable
        Share of the time that is over; 0 if only tries count.
    begin : Snapshot
        An exact layout to begin with, perhaps of no piece.
    params : AnyAngleSheetParams, optional
        How tries and time are divided.
    """

    def __init__(
        self,
        stock: Stock,
        room: Room,
        quantity: Ints,
        value: Floats,
        may_turn: Sequence[bool],
        leaning: Sequence[Sequence[Turn]],
        seed: int,
        elapsed: Callable[[], float],
        begin: Snapshot,
        params: AnyAngleSheetParams | None = None,
    ) -> None:
        self.stock, self.room, self.quantity, self.value = stock, room, quantity, value
        self.may_turn, self.leaning = tuple(may_turn), leaning
        self.seed, self.elapsed, self.until = seed, elapsed, 1.0
        self.params = params or AnyAngleSheetParams()
        self.on_better: Callable[[FreeLaid], None] = lambda _: None
        self.listed = self._lane(stock, (seed,), begin)
        self.best = freely_laid(stock, room, self.listed.search.best)
        self.legs = 0
        one = stock.problem(np.zeros(1, np.int64), room)
        self.outlines = Outlines(one)
        self.turning = np.zeros(len(one.kinds), bool)
        self.turning[: len(self.may_turn)] = self.may_turn

    @property
    def tries(self) -> int:
        """Return how many tries there were at listed angles."""
        return self.listed.search.tries

    def placements(self) -> list[ItemPlacement]:
        """Return the placements of the best layout about the own (0, 0) of each piece."""
        return placements_of(self.stock, self.room, self.best)

    def run(self, tries: int, vain: int, workers: int | ThreadPoolExecutor = 1) -> None:
        """Search for so many tries at listed angles and as many at others.

        Parameters
        ----------
        tries, vain : int
            Most tries altogether, and most in a row of one search that bring nothing.
        workers : int or ThreadPoolExecutor
            Threads; more than two gain nothing.
        """
        p, fresh = self.params, None
        for first, last in _doubling(p.tries, tries):
            before, begun, count = self.best, self.elapsed(), last - first
            lean = max(1, round(p.lean * count))
            left = 1.0 - begun
            until = begun + p.listed * left
            self._leg(self.listed, last - self.tries, until, vain, workers, tries)
            if fresh is None and not self._settled(self.listed):
                fresh = self._leaning()
            if fresh is not None and not self._settled(self.listed):
                self._leg(fresh, lean, until + p.leaning * left, vain, workers)
            lane = self._go_on(fresh or self.listed, count - lean, vain, workers)
            if self._settled(lane) or (self.tries < last and self.best is before):
                return

    def _go_on(
        self, lane: _Lane, count: int, vain: int, workers: int | ThreadPoolExecutor
    ) -> _Lane:
        """Search among the angles of the best layout, anew whenever turning has changed them."""
        renewed = True
        while renewed and count > 0 and not self._settled(lane):
            lane = self._own()
            renewed = self._leg(lane, count, 1.0, vain, workers, renew=True)
            count -= lane.search.tries
        return lane

    def _over(self) -> bool:
        return self.elapsed() >= self.until

    def _settled(self, lane: _Lane) -> bool:
        """Tell whether there is nothing to gain, or no time."""
        # A search that cannot lay some kinds at its angles does not miss them.
        knows_all = (lane.search.quantity == self.listed.search.quantity).all()
        return bool(knows_all and lane.search.full) or self.elapsed() >= 1.0

    def _lane(self, stock: Stock, seed: tuple[int, ...], begin: Snapshot | None) -> _Lane:
        room = self.room
        search = SheetSearch(stock, room, self.quantity, self.value, seed, self._over, begin)
        search.on_better = lambda laid: self._take(freely_laid(stock, room, laid))
        return _Lane(stock, search)

    def _leaning(self) -> _Lane:
        """Begin anew at the angles at which pieces lean on the walls."""
        kinds = zip(self.stock.kinds, self.leaning, self.may_turn, strict=False)
        turns = [tuple(own) if free and own else kind.turns for kind, own, free in kinds]
        return self._lane(self.stock.with_turns(turns), (self.seed, 3), None)

    def _own(self) -> _Lane:
        """Go on from the best layout at the angles that it has."""
        self.legs += 1
        stock, snap = with_own_turns(self.stock, self.room, self.best, self.may_turn, self.leaning)
        lane = self._lane(stock, (self.seed, 3 + self.legs), snap)
        lane.turned = lane.search.best
        return lane

    def _leg(
        self,
        lane: _Lane,
        count: int,
        until: float,
        vain: int,
        workers: int | ThreadPoolExecutor,
        tries: int = _NO_END,
        renew: bool = False,
    ) -> bool:
        """Let one search go on for some tries; now and then turn what it has found.

        Returns whether that was much better; with `renew` the search ends then.
        """
        search = lane.search
        end = search.tries + count
        while search.tries < end:
            pause, self.until = min(end, search.tries + self.params.pause), until
            search.run(tries, vain, workers, pause)
            self.until = 1.0
            if self._turn(lane) and renew:
                return True
            if search.tries < pause:
                break
        return False

    def _turn(self, lane: _Lane) -> bool:
        """Shorten the best layout of a search by turning, and free some that failed.

        Returns whether the best of all has become much better.
        """
        search, before = lane.search, self.best
        if search.best is not lane.turned:
            lane.turned = search.best
            if search.best.value >= self.best.value:
                self._shorten(freely_laid(lane.stock, self.room, search.best))
        lane.tried = [t for t in lane.tried if _is_among(search.failed, t)]
        new = [f for f in search.failed if not _is_among(lane.tried, f)]
        for laid in new[: self.params.few]:
            lane.tried.append(laid)
            self._free(freely_laid(lane.stock, self.room, laid))
        shorter = (1.0 - self.params.anew) * before.layout.length
        return not self.best.is_beaten_by(before.value, shorter) and self.best is not before

    def _shorten(self, laid: FreeLaid) -> None:
        if not 0 < len(laid.kind) <= self.params.most or self._over():
            return
        outlines, may_turn, bounds = self._parts(laid, self.room.length)
        args = outlines, laid.layout, bounds, may_turn, self.params.turning
        self._take(laid.with_layout(refined(*args, over=self._over)))

    def _free(self, laid: FreeLaid) -> None:
        length = laid.layout.length
        if len(laid.kind) > self.params.most or not self.best.is_beaten_by(laid.value, length):
            return
        outlines, may_turn, bounds = self._parts(laid, length)
        args = outlines, laid.layout, bounds, may_turn, self.params.freeing
        found = freed(*args, over=self._over)
        if found is not None:
            self._take(laid.with_layout(found))
            self._shorten(laid.with_layout(found))

    def _parts(self, laid: FreeLaid, length: float) -> tuple[Outlines, NDArray[np.bool_], Bounds]:
        """Return the outlines of pieces and walls, which of them may turn, and their bounds."""
        every = np.concatenate([laid.kind, self.room.kind])
        bounds = Bounds(self.room.width, length, len(laid.kind))
        return self.outlines.of(every), self.turning[every], bounds

    def _take(self, laid: FreeLaid) -> None:
        if self.best.is_beaten_by(laid.value, laid.layout.length):
            self.best = laid
            self.on_better(laid)


def _is_among(several: Sequence[Laid], one: Laid) -> bool:
    return any(one is other for other in several)


def _doubling(tries: int, end: int) -> Iterator[tuple[int, int]]:
    """Yield first and last tries of rounds, each twice as long as the one before."""
    first = 0
    while first < end:
        last = min(end, 2 * first + tries)
        yield first, last
        first = last
