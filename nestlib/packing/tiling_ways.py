"""Pieces and rooms as plain outlines, ready for filling rooms without any waste."""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import cached_property

import numpy as np
from shapely import MultiPolygon
from shapely.geometry.polygon import orient

from nestlib.geometry.transform import turning
from nestlib.packing import kernels_tiling as kernels
from nestlib.packing.interface import PackedPlacement
from nestlib.packing.kernels import FloatArray, IntArray
from nestlib.packing.orientations import Orientation
from nestlib.packing.problem import Problem

#: A piece in one of its ways to lie, and how far it is moved.
Put = tuple[int, float, float]

#: Arguments of `kernels_tiling.fewest` that describe the pieces.
Tables = tuple[
    FloatArray,
    IntArray,
    FloatArray,
    IntArray,
    tuple[FloatArray, FloatArray],
    tuple[IntArray, IntArray],
    FloatArray,
    FloatArray,
    FloatArray,
    IntArray,
]

#: Most sums of lengths that are listed for one direction, the smallest ones.
_SUMS = 20_000


class Ways:
    """All ways in which the pieces may lie in a container.

    Parameters
    ----------
    problem : Problem
        What is to be placed where.
    container : int
        Where.
    shapes : sequence of int
        Which shapes: the kinds of pieces.
    eps : float
        Vertices this close to the line through their neighbours are left out.

    Attributes
    ----------
    outlines : list of ndarray, shape (n, 2)
        Outline of each way, counter-clockwise.
    kinds : ndarray of int
        Kind of piece of each way.
    """

    def __init__(self, problem: Problem, container: int, shapes: Sequence[int], eps: float) -> None:
        self.shapes, self.eps = shapes, eps
        self.most = [problem.required[s] for s in shapes]
        turns = [(k, o) for k, s in enumerate(shapes) for o in problem.turns[container][s]]
        self.turns = [o for _, o in turns]
        self.kinds = np.array([k for k, _ in turns], dtype=np.int64)
        self.outlines = [_outline(problem, shapes[k], o, eps) for k, o in turns]

    @cached_property
    def tables(self) -> Tables:
        """Vertices by the directions of the edges that leave and reach them, for the kernels."""
        nothing = np.empty((0, 2))
        starts = np.cumsum([0, *map(len, self.outlines)])
        after = [np.roll(r, -1, axis=0) - r for r in self.outlines]
        out = np.concatenate([nothing, *after])
        into = np.concatenate([nothing, *(np.roll(a, 1, axis=0) for a in after)])
        angles = [kernels.turn(*o, *(-i)) for o, i in zip(out, into, strict=True)]
        shape = np.column_stack([angles, np.hypot(*out.T), np.hypot(*into.T)]).reshape(-1, 3)
        way = np.repeat(np.arange(len(self.outlines)), np.diff(starts))
        refs = np.column_stack([way, np.arange(len(way))])
        directions = [np.array([kernels.direction(*e) for e in edges]) for edges in (out, into)]
        orders = [np.argsort(d, kind="stable") for d in directions]
        boxes = [[*r.min(axis=0), *r.max(axis=0)] for r in self.outlines]
        return (
            np.concatenate([nothing, *self.outlines]),
            starts,
            np.array(boxes).reshape(-1, 4),
            self.kinds,
            (directions[0][orders[0]], directions[1][orders[1]]),
            (refs[orders[0]], refs[orders[1]]),
            shape,
            *self._sums(directions[0], orders[0], shape[:, 1], self.kinds[way]),
        )

    def _sums(
        self, directions: FloatArray, order: IntArray, lengths: FloatArray, kinds: IntArray
    ) -> tuple[FloatArray, FloatArray, IntArray]:
        """For each group of parallel edges, the lengths that some of them have together.

        Returns
        -------
        tuple of ndarray
            Where each group of directions begins, all sums, and where those of each begin.
        """
        breaks = np.flatnonzero(np.diff(directions[order]) > kernels.ALIKE) + 1
        groups = np.split(order, breaks)
        known: dict[tuple[tuple[int, tuple[float, ...]], ...], FloatArray] = {}
        found = []
        for group in groups:
            own: dict[int, set[float]] = {}
            for e in group:
                length = round(float(lengths[e]) / (0.1 * self.eps)) * (0.1 * self.eps)
                own.setdefault(int(kinds[e]), set()).add(length)
            key = tuple((k, tuple(sorted(v))) for k, v in sorted(own.items()))
            if key not in known:
                known[key] = sums([(self.most[k], v) for k, v in key], self.eps)
            found.append(known[key])
        begins = np.array([directions[g[0]] for g in groups if len(g)])
        return begins, np.concatenate([np.empty(0), *found]), np.cumsum([0, *map(len, found)])

    def placement(self, put: Put) -> PackedPlacement:
        """Return a piece as it is handed back.

        Parameters
        ----------
        put : tuple of (int, float, float)
            Which way, and how far it is moved.
        """
        way, x, y = put
        turn = self.turns[way]
        shape = self.shapes[int(self.kinds[way])]
        return PackedPlacement(shape, turn.rotation, turn.flip, float(x), float(y))


def sums(lengths: Sequence[tuple[int, Sequence[float]]], eps: float) -> FloatArray:
    """Return what lengths add up to, the smallest of these sums if there are many.

    Parameters
    ----------
    lengths : sequence of (int, sequence of float)
        For each kind of piece, how many there are, and the lengths that one of them can add.
    eps : float
        Sums closer than a tenth of this are the same.

    Returns
    -------
    ndarray
        Increasing, from 0; the last one is infinite if all sums are listed.

    Examples
    --------
    >>> sums([(2, [3.0]), (1, [4.0, 5.0])], 1e-9).tolist()
    [0.0, 3.0, 4.0, 5.0, 6.0, 7.0, 8.0, 10.0, 11.0, inf]
    """
    found, most = np.zeros(1), np.inf
    for number, options in lengths:
        for _ in range(number):
            before = len(found)
            every = np.sort(np.concatenate([found, *(found + v for v in options)]))
            every = every[np.append(True, np.diff(every) > 0.1 * eps)]
            found = every[every <= most][:_SUMS]
            if len(found) < len(every[every <= most]):
                most = float(found[-1])
            if len(found) == before and most < np.inf:
                break
    return found if most < np.inf else np.append(found, np.inf)


def _outline(problem: Problem, shape: int, o: Orientation, eps: float) -> FloatArray:
    ring = np.asarray(orient(problem.shapes[shape].polygon).exterior.coords)[:-1, :2]
    if o.flip:
        ring = ring[::-1] * (-1.0, 1.0)
    return np.ascontiguousarray(without_straight(ring @ turning(o.rotation), eps))


def without_straight(ring: FloatArray, eps: float) -> FloatArray:
    """Return a ring without the vertices on straight lines.

    Parameters
    ----------
    ring : ndarray, shape (n, 2)
        Its vertices.
    eps : float
        How close to the line through its neighbours a vertex on it lies.
    """
    before, after = np.roll(ring, 1, axis=0), np.roll(ring, -1, axis=0)
    ux, uy = (ring - before).T
    vx, vy = (after - before).T
    kept: FloatArray = ring[np.abs(ux * vy - uy * vx) > eps * np.hypot(vx, vy)]
    return kept


def region_of(room: MultiPolygon, eps: float) -> FloatArray:
    """Return a room as a region of the kernels.

    Parameters
    ----------
    room : shapely.MultiPolygon
        In one or several parts, with or without holes.
    eps : float
        Points closer than this are the same.

    Returns
    -------
    ndarray, shape (n, 4)
    """
    polygons = [orient(p) for p in room.geoms]
    found = [r for p in polygons for r in (p.exterior, *p.interiors)]
    points = [without_straight(np.asarray(r.coords)[:-1, :2], eps) for r in found]
    starts = np.concatenate([np.empty((0, 2)), *points])
    ends = np.concatenate([np.empty((0, 2)), *(np.roll(p, -1, axis=0) for p in points)])
    names = [[_first_near(starts, q, eps) for q in pair] for pair in zip(starts, ends, strict=True)]
    numbers = np.array(names, dtype=np.int64).reshape(-1, 2)
    return kernels.rings(np.hstack([starts, ends]), numbers, eps)


def _first_near(points: FloatArray, q: FloatArray, eps: float) -> int:
    return int(np.argmax(np.abs(points - q).max(axis=1) <= eps))


def corners_of(room: MultiPolygon, eps: float) -> list[tuple[float, float]]:
    """Return the corners of a room, counter-clockwise; none if it is not convex.

    Parameters
    ----------
    room : shapely.MultiPolygon
        The room.
    eps : float
        Vertices this close to the line through their neighbours are left out.
    """
    if not math.isclose(room.area, room.convex_hull.area, rel_tol=1e-12) or room.is_empty:
        return []
    ring = np.asarray(orient(room.convex_hull).exterior.coords)[:-1, :2]
    return [(float(x), float(y)) for x, y in without_straight(ring, eps)]
