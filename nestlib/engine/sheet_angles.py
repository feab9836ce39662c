"""Layouts of a room in which every piece has an angle of its own, and stocks that list it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from nestlib.engine.aligning import Sides, sides_of, turns_beside
from nestlib.engine.catalogue import Ints, Kind, Turn, distinct_turns, turned
from nestlib.engine.items import ItemPlacement
from nestlib.engine.layouts import Snapshot
from nestlib.engine.sheet_search import Laid
from nestlib.engine.stock import Room, Stock
from nestlib.engine.turning import FreeLayout, free_layout

#: A value that is larger by no more than this share is the same, added in another order.
_ROUNDING = 1e-12

#: Most turns that are listed for a kind besides those in use: along walls, and beside others.
_LEANING, _BESIDE = 4, 8


@dataclass(frozen=True)
class FreeLaid:
    """A layout of some pieces at any angles.

    Parameters
    ----------
    layout : FreeLayout
        Where they lie, followed by the walls of their room.
    kind : ndarray of int64, shape (n,)
        Kind of each piece.
    value : float
        What they are worth.
    """

    layout: FreeLayout
    kind: Ints
    value: float

    def is_beaten_by(self, value: float, length: float) -> bool:
        """Tell whether a layout of this value and length is better."""
        if value > self.value * (1.0 + _ROUNDING):
            return True
        return value >= self.value and length < self.layout.length

    def with_layout(self, layout: FreeLayout) -> FreeLaid:
        """Return the same pieces elsewhere."""
        return replace(self, layout=layout)


def freely_laid(stock: Stock, room: Room, laid: Laid) -> FreeLaid:
    """Return a layout at listed angles as one at any angles."""
    layout = free_layout(stock.problem(laid.kind, room), laid.snap)
    return FreeLaid(layout, laid.kind, laid.value)


def placements_of(stock: Stock, room: Room, laid: FreeLaid) -> list[ItemPlacement]:
    """Return the placements of a layout about the own (0, 0) of each piece."""
    kind, turns = laid.kind.tolist(), _turns(laid)
    n = len(kind)
    at = np.column_stack([laid.layout.x[:n], laid.layout.y[:n]]) / stock.scale + room.corner
    at = at - stock.references(kind, turns)
    return [
        ItemPlacement(k, angle, flip, float(x), float(y))
        for k, (angle, flip), (x, y) in zip(kind, turns, at, strict=True)
    ]


def with_own_turns(
    stock: Stock,
    room: Room,
    laid: FreeLaid,
    may_turn: Sequence[bool],
    further: Sequence[Sequence[Turn]],
) -> tuple[Stock, Snapshot]:
    """Return a stock that lists the turns of a layout, and the layout as one of it.

    Pieces that turn freely get, besides those in use, some at which their sides lie along the
    walls or against those of pieces that lie.

    Parameters
    ----------
    stock : Stock
        The kinds; those that may not turn freely keep its turns.
    room : Room
        Where the pieces lie.
    laid : FreeLaid
        The layout.
    may_turn : sequence of bool
        For each kind of piece whether it may turn freely.
    further : sequence of sequence of (float, bool)
        For each kind of piece that turns freely, turns of which some are listed as well.
    """
    turns = _turns(laid)
    used: list[dict[Turn, None]] = [{} for _ in may_turn]
    for k, turn in zip(laid.kind.tolist(), turns, strict=True):
        used[k][turn] = None
    lying = sides_of(
        turned(kind.polygon, *turn)
        for kind, own in zip(stock.kinds, used, strict=False)
        for turn in own
    )
    listed = [
        _listed(kind, tuple(own), more, lying) if free else kind.turns
        for kind, own, more, free in zip(stock.kinds, used, further, may_turn, strict=False)
    ]
    extended = stock.with_turns(listed)
    first = extended.shapes.cat.first
    at = [{turn: i for i, turn in enumerate(kind.turns)} for kind in extended.kinds]
    turns_at = [first[k] + at[k][t] for k, t in zip(laid.kind.tolist(), turns, strict=True)]
    every = np.concatenate([np.array(turns_at, np.int64), first[room.kind]]).astype(np.int64)
    return extended, Snapshot(laid.layout.length, every, laid.layout.x, laid.layout.y)


def _turns(laid: FreeLaid) -> list[Turn]:
    """Return the turn of each piece, its angle from 0 to 360 degrees."""
    angle, flip = laid.layout.angle % 360.0, laid.layout.flip
    return [(float(angle[i]), bool(flip[i])) for i in range(len(laid.kind))]


def _listed(
    kind: Kind, used: tuple[Turn, ...], further: Sequence[Turn], lying: Sides
) -> tuple[Turn, ...]:
    """Return the turns in use, and others that give other outlines."""
    flips = sorted({flip for _, flip in (*kind.turns, *further)})
    beside = turns_beside(kind.polygon, lying, flips, _BESIDE)
    # All in use are kept, also those that are nearly the same: a contact shows the difference.
    others = distinct_turns(kind.polygon, [*used, *further[:_LEANING], *beside])
    return (*used, *(turn for turn in others if turn not in used))
