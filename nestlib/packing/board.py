"""One container while it is being filled."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from shapely import MultiPolygon

from nestlib.packing import kernels, trapezoids
from nestlib.packing.kernels import Field, FloatArray
from nestlib.packing.orientations import Orientation

#: Overlaps of this share of the room's size count as touching.
TOUCHING = 1e-10

#: With fewer pieces every vertex is tried against every vertex of a wall.
_FEW = 1500

#: Most places along x that are tried for one piece.
_MOST = 3000

#: Buckets of a field to begin with, at most, and trapezoids for each before there are more.
_BUCKETS, _MOST_BUCKETS, _CROWDED = 64, 4096, 8


@dataclass(frozen=True, eq=False)
class Room:
    """A container, ready for the kernels.

    Parameters
    ----------
    box : tuple of float
        Bounding box of the room.
    upright, lying : ndarray, shape (n, 6)
        What is blocked within the box.
    xs : ndarray
        Where it has vertices.
    area : float
        Area of the room in mm².
    """

    box: tuple[float, float, float, float]
    upright: FloatArray
    lying: FloatArray
    xs: FloatArray
    area: float

    @classmethod
    def of(cls, room: MultiPolygon) -> Room:
        """Cut up the complement of a room; nothing fits into an empty one."""
        if room.is_empty:
            none = np.empty((0, 6))
            return cls((0.0, 0.0, -1.0, -1.0), none, none, np.empty(0), 0.0)
        walls = [trapezoids.edges(p) for p in trapezoids.complement(room)]
        none = np.empty((0, 6))
        return cls(
            room.bounds,
            np.concatenate([none, *map(trapezoids.upright, walls)]),
            np.concatenate([none, *map(trapezoids.lying, walls)]),
            np.unique(np.concatenate([[], *(w[:, 0] for w in walls)])),
            room.area,
        )

    @property
    def size(self) -> tuple[float, float]:
        """Width and height of the bounding box in mm."""
        x0, y0, x1, y1 = self.box
        return max(x1 - x0, 0.0), max(y1 - y0, 0.0)


@dataclass
class _Blocked:
    """A field that grows, and whose buckets get narrower as it does."""

    low: float
    high: float
    field: Field = field(init=False)
    used: int = 0

    def __post_init__(self) -> None:
        self.field = _empty_field(self.low, self.high, _BUCKETS, 256)

    def add(self, traps: FloatArray, dx: float, dy: float) -> None:
        if self.used + len(traps) > _CROWDED * len(self.field.counts):
            self._narrow()
        self._make_room(len(traps))
        kernels.add(self.field, self.used, traps, dx, dy)
        self.used += len(traps)

    def _narrow(self) -> None:
        buckets, known = len(self.field.counts), self.field.traps[: self.used]
        if buckets >= _MOST_BUCKETS:
            return
        self.field, self.used = _empty_field(self.low, self.high, 4 * buckets, 2 * len(known)), 0
        for block in np.array_split(known, 1 + len(known) // 32):
            self._make_room(len(block))
            kernels.add(self.field, self.used, block, 0.0, 0.0)
            self.used += len(block)

    def _make_room(self, extra: int) -> None:
        f = self.field
        if self.used + extra > len(f.traps):
            more = max(extra, len(f.traps))
            traps = np.vstack([f.traps, np.zeros((more, 6))])
            f = f._replace(traps=traps, first=np.append(f.first, np.zeros(more, dtype=np.int64)))
        if int(f.counts.max()) + extra > f.members.shape[1]:
            more = max(extra, f.members.shape[1])
            wider = np.zeros((len(f.counts), more), dtype=np.int64)
            f = f._replace(members=np.hstack([f.members, wider]))
        self.field = f


def _empty_field(low: float, high: float, buckets: int, capacity: int) -> Field:
    return Field(
        np.zeros((capacity, 6)),
        np.zeros(capacity, dtype=np.int64),
        np.zeros((buckets, 64), dtype=np.int64),
        np.zeros(buckets, dtype=np.int64),
        low,
        max((high - low) / buckets, 1e-12),
    )


@dataclass
class Board:
    """A room and the pieces in it.

    Parameters
    ----------
    room : Room
        Where pieces may lie.
    """

    room: Room
    columns: _Blocked = field(init=False)
    rows: _Blocked = field(init=False)
    walls: FloatArray = field(default_factory=lambda: np.empty(16))
    pieces: int = 0
    corners: list[FloatArray] = field(default_factory=list)
    holes: list[FloatArray] = field(default_factory=list)
    extent: float = field(init=False)

    def __post_init__(self) -> None:
        x0, y0, x1, y1 = self.room.box
        self.eps = TOUCHING * max(*self.room.size)
        self.columns, self.rows = _Blocked(x0, x1), _Blocked(y0, y1)
        self.columns.add(self.room.upright, 0.0, 0.0)
        self.rows.add(self.room.lying, 0.0, 0.0)
        self.corners.append(self.room.xs)
        self.vertices = len(self.room.xs)
        self.extent = x1 if len(self.room.xs) else x0

    def find(
        self, o: Orientation, beyond: float = -np.inf, limit: float = np.inf
    ) -> tuple[float, float, float]:
        """Return the leftmost, then lowest place of a piece.

        Parameters
        ----------
        o : Orientation
            The piece.
        beyond : float
            Places to the left of this are known to be blocked.
        limit : float
            Places to the right of this are not wanted.

        Returns
        -------
        x, y : float
            Infinite if there is no place.
        failed : float
            No place that was tried up to here is free.
        """
        x0, y0, x1, y1 = self.room.box
        low_x, low_y, high_x, high_y = x0 - o.box[0], y0 - o.box[1], x1 - o.box[2], y1 - o.box[3]
        if high_x < low_x - self.eps or high_y < low_y - self.eps:
            return np.inf, np.inf, np.inf
        box = np.array([low_x, low_y, max(high_x, low_x), max(high_y, low_y)])
        places = self._candidates(o, float(box[0]), min(float(box[2]), limit), beyond)
        return kernels.place(
            self.columns.field, self.rows.field, o.upright, o.lying, places, box, self.eps
        )

    def is_free(self, o: Orientation, x: float, y: float) -> bool:
        """Return whether a piece may lie at a place."""
        x0, y0, x1, y1 = self.room.box
        outside = max(x0 - o.box[0] - x, y0 - o.box[1] - y, x + o.box[2] - x1, y + o.box[3] - y1)
        if outside > self.eps:
            return False
        found = kernels.lowest(self.columns.field, o.upright, x, y, y, self.eps)
        return bool(found < np.inf)

    def add(self, o: Orientation, x: float, y: float) -> None:
        """Put a piece where it is free."""
        self.columns.add(o.upright, x, y)
        self.rows.add(o.lying, y, x)
        if 2 * self.pieces + 2 > len(self.walls):
            self.walls = np.concatenate([self.walls, np.empty(len(self.walls))])
        self.walls[2 * self.pieces : 2 * self.pieces + 2] = o.box[0] + x, o.box[2] + x
        self.pieces += 1
        if self.vertices <= _FEW:
            self.corners.append(o.xs + x)
        self.vertices += len(o.xs)
        if len(o.holes):
            self.holes.append(np.add(o.holes, (x, y, x, y)))
        self.extent = max(self.extent, o.box[2] + x)

    def _candidates(self, o: Orientation, low: float, high: float, beyond: float) -> FloatArray:
        """x shifts at which something touches something, and a grid in between."""
        ends = np.array([o.box[0], o.box[2]])
        walls = self.walls[: 2 * self.pieces]
        walls = walls[walls >= max(low, beyond) + o.box[0]]
        grid = np.arange(low, min(high, self.extent - o.box[0]), self._step(o))
        sources = [grid, np.array([low, high]), (walls[:, None] - ends).ravel(), *self._in_holes(o)]
        if self.vertices * len(o.xs) <= _FEW:
            sources.append((np.concatenate(self.corners)[:, None] - o.xs).ravel())
        elif self.vertices <= _FEW:
            sources.append((np.concatenate(self.corners)[:, None] - ends).ravel())
        elif len(self.room.xs) <= _FEW:
            sources.append((self.room.xs[:, None] - ends).ravel())
        found = np.concatenate(sources)
        found = found[(found >= max(low, beyond)) & (found <= high)]
        return _thinned(np.sort(found), self.eps)

    def _in_holes(self, o: Orientation) -> list[FloatArray]:
        """x shifts at which a piece lies at the left of a hole that is large enough, and in its
        middle: between two lines of the grid there is often no place in it."""
        if not self.holes:
            return []
        x0, y0, x1, y1 = np.concatenate(self.holes).T
        fits = (x1 - x0 >= o.width - self.eps) & (y1 - y0 >= o.height - self.eps)
        left, spare = x0[fits] - o.box[0], (x1 - x0)[fits] - o.width
        return [left, left + spare / 2]

    def _step(self, o: Orientation) -> float:
        x0, _, x1, _ = self.room.box
        return max(o.width / 8, (min(self.extent, x1) - x0) / 400, 10 * self.eps)


def _thinned(increasing: FloatArray, eps: float) -> FloatArray:
    """Drop values that repeat the one before, and more where there are very many."""
    if len(increasing) < 2:
        return increasing
    gap = eps if len(increasing) < _MOST else (increasing[-1] - increasing[0]) / _MOST
    steps = np.floor((increasing - increasing[0]) / max(gap, 1e-300))
    return np.asarray(increasing[np.append(True, np.diff(steps) > 0)])
