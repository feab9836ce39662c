"""Cut polygons into convex pieces.

Triangles are joined across diagonals as long as the result stays convex: S. Hertel,
K. Mehlhorn, "Fast triangulation of simple polygons", FCT 1983, LNCS 158, 207-218. Long
diagonals first; the angles at the ends of a diagonal only grow by joining elsewhere, so
each needs to be looked at once.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np
import shapely
from shapely.geometry import Polygon

from nestlib.engine.catalogue import Floats, Ints


@lru_cache(maxsize=1024)
def convex_pieces(polygon: Polygon) -> tuple[Floats, ...]:
    """Return convex pieces that together are the polygon.

    Parameters
    ----------
    polygon : Polygon
        May have holes.

    Returns
    -------
    tuple of ndarray, shape (n, 2)
        Vertices counter-clockwise; not to be changed, since they are kept.

    Examples
    --------
    >>> len(convex_pieces(Polygon([(0, 0), (2, 0), (2, 1), (1, 1), (1, 2), (0, 2)])))
    2
    """
    points, triangles = _triangles(polygon)
    after = _joined(points, triangles, 1e-9 * polygon.area)
    start = triangles.ravel()
    found = [_without_straight(points[start[loop]]) for loop in _loops(after)]
    return tuple(found)


def _triangles(polygon: Polygon) -> tuple[Floats, Ints]:
    """Return distinct vertices and counter-clockwise triangles of their indices."""
    found = shapely.constrained_delaunay_triangles(polygon)
    corners = shapely.get_coordinates(found).reshape(-1, 4, 2)[:, :3]
    a, b = corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]
    twice = a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]
    corners[twice < 0] = corners[twice < 0][:, ::-1]
    corners = corners[np.abs(twice) > 2e-14 * polygon.area]
    points, indices = np.unique(corners.reshape(-1, 2), axis=0, return_inverse=True)
    return points, indices.reshape(-1, 3)


def _joined(points: Floats, triangles: Ints, small: float) -> list[int]:
    """Join triangles across diagonals; return the next side of every side, -1 if it is gone.

    Sides are numbered 3 t + k: side k of triangle t begins at its corner k.
    """
    start = triangles.ravel()
    end = np.roll(triangles, -1, axis=1).ravel()
    side = {ends: s for s, ends in enumerate(zip(start.tolist(), end.tolist(), strict=True))}
    length = np.hypot(*(points[end] - points[start]).T)
    first, xy = start.tolist(), points.tolist()
    after = [s + 1 if s % 3 < 2 else s - 2 for s in range(len(first))]
    before = [s - 1 if s % 3 > 0 else s + 2 for s in range(len(first))]
    for s in np.argsort(-length, kind="stable").tolist():
        other = side.get((first[after[s]], first[s])) if after[s] >= 0 else None
        if other is None or other < 0:
            continue
        ends = (before[s], after[other]), (before[other], after[s])
        if all(_bulges(xy, first, after, p, q, small) for p, q in ends):
            for p, q in ends:
                after[p], before[q] = q, p
            after[s] = after[other] = -1
    return after


def _bulges(
    xy: list[list[float]], first: list[int], after: list[int], p: int, q: int, small: float
) -> bool:
    """Tell whether side q, which begins where side p ends, turns left there."""
    (ax, ay), (bx, by), (cx, cy) = xy[first[p]], xy[first[q]], xy[first[after[q]]]
    return (bx - ax) * (cy - by) - (by - ay) * (cx - bx) >= -small


def _loops(after: list[int]) -> list[list[int]]:
    """Return the sides of each piece in their order."""
    loops, seen = [], [s < 0 for s in after]
    for begin in range(len(after)):
        loop, s = [], begin
        while not seen[s]:
            seen[s] = True
            loop.append(s)
            s = after[s]
        if loop:
            loops.append(loop)
    return loops


def _without_straight(points: Floats) -> Floats:
    a, b = points - np.roll(points, 1, axis=0), np.roll(points, -1, axis=0) - points
    turns = a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]
    kept = points[turns > 1e-12 * abs(turns).sum()]
    return kept if len(kept) > 2 else points
