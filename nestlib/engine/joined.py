"""Rooms side by side as one, so that pieces can move from one to another."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from nestlib.engine.catalogue import Floats
from nestlib.engine.items import ItemPlacement
from nestlib.engine.layouts import Snapshot
from nestlib.engine.stock import GAP, Room, Stock


@dataclass(frozen=True, eq=False)
class Joined:
    """Rooms of one stock side by side, with fences between them.

    Parameters
    ----------
    stock : Stock
        Made with `joinable`.
    rooms : tuple of Room
        Its rooms, from left to right, the same one perhaps several times.
    starts : ndarray, shape (n,)
        Where each begins along x, in units.
    room : Room
        All of them as one.
    """

    stock: Stock
    rooms: tuple[Room, ...]
    starts: Floats
    room: Room

    @classmethod
    def of(cls, stock: Stock, rooms: Sequence[Room]) -> Joined:
        """Put rooms of a stock side by side."""
        lengths = np.array([r.length for r in rooms])
        starts = np.cumsum(lengths + GAP) - lengths - GAP
        height = max(r.width for r in rooms)
        kinds = [r.kind for r in rooms]
        walls = [r.walls + np.array([x, 0.0]) for r, x in zip(rooms, starts, strict=True)]
        for r, start in zip(rooms, starts, strict=True):
            if start > 0.0:
                kinds.append(np.array([stock.fences[0]]))
                walls.append(np.array([[start - GAP / 2, height / 2]]))
            if r.width < height * (1 - 1e-12):
                kinds.append(np.array([stock.fences[1 + stock.rooms.index(r)]]))
                highest = max(s.width for s in stock.rooms)
                walls.append(np.array([[start + r.length / 2, r.width + highest / 2]]))
        room = Room(
            (0.0, 0.0),
            float(starts[-1] + lengths[-1]),
            height,
            sum(r.area for r in rooms),
            np.concatenate(kinds),
            np.concatenate(walls),
        )
        return cls(stock, tuple(rooms), starts, room)

    def laid(self, layouts: Sequence[Snapshot]) -> Snapshot:
        """Return one layout made of one for each room."""
        counts = [len(s.turn) - len(r.kind) for s, r in zip(layouts, self.rooms, strict=True)]
        pieces = list(zip(layouts, counts, self.starts, strict=True))
        first = self.stock.shapes.cat.first[self.room.kind]
        return Snapshot(
            self.room.length,
            np.concatenate([*(s.turn[:n] for s, n, _ in pieces), first]),
            np.concatenate([*(s.x[:n] + x for s, n, x in pieces), self.room.walls[:, 0]]),
            np.concatenate([*(s.y[:n] for s, n, _ in pieces), self.room.walls[:, 1]]),
        )

    def placements(self, snap: Snapshot) -> list[list[ItemPlacement]]:
        """Return the placements in each room about the own (0, 0) of each piece."""
        n = len(snap.turn) - len(self.room.kind)
        sides = self.stock.shapes.cat.box[snap.turn[:n]]
        middle = snap.x[:n] + (sides[:, 0] + sides[:, 2]) / 2
        where = np.searchsorted(self.starts, middle, side="right") - 1
        found = []
        for k, (room, start) in enumerate(zip(self.rooms, self.starts, strict=True)):
            own = np.flatnonzero(where == k)
            ends = self.stock.shapes.cat.first[room.kind]
            local = Snapshot(
                room.length,
                np.concatenate([snap.turn[own], ends]),
                np.concatenate([snap.x[own] - start, room.walls[:, 0]]),
                np.concatenate([snap.y[own], room.walls[:, 1]]),
            )
            found.append(self.stock.placements(room, local))
        return found
