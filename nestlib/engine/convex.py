"""Cut polygons into convex pieces.

Triangles are joined across diagonals as long as the result stays convex: S. Hertel,
K. Mehlhorn, "Fast triangulation of simple polygons", FCT 1983, LNCS 158, 207-218.
"""

from __future__ import annotations

import numpy as np
import shapely
from shapely.geometry import Polygon

from nestlib.engine.catalogue import Floats


def convex_pieces(polygon: Polygon) -> list[Floats]:
    """Return convex pieces that together are the polygon.

    Parameters
    ----------
    polygon : Polygon
        May have holes.

    Returns
    -------
    list of ndarray, shape (n, 2)
        Vertices counter-clockwise.

    Examples
    --------
    >>> len(convex_pieces(Polygon([(0, 0), (2, 0), (2, 1), (1, 1), (1, 2), (0, 2)])))
    2
    """
    small = 1e-9 * polygon.area
    triangles = shapely.constrained_delaunay_triangles(polygon).geoms
    pieces = [_ccw(np.asarray(t.exterior.coords)[:-1, :2]) for t in triangles]
    pieces = [p for p in pieces if _area(p) > 1e-14 * polygon.area]
    while True:
        joined = _join_best(pieces, small)
        if joined is None:
            return [_without_straight(p) for p in pieces]
        pieces = joined


def _ccw(points: Floats) -> Floats:
    return points if _area(points) >= 0 else points[::-1]


def _area(points: Floats) -> float:
    x, y = points.T
    return float(np.sum(x * np.roll(y, -1) - y * np.roll(x, -1)) / 2)


def _turns(points: Floats) -> Floats:
    a, b = points - np.roll(points, 1, axis=0), np.roll(points, -1, axis=0) - points
    return a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]


def _without_straight(points: Floats) -> Floats:
    kept = points[_turns(points) > 1e-12 * _area(points)]
    return kept if len(kept) > 2 else points


def _join_best(pieces: list[Floats], small: float) -> list[Floats] | None:
    """Join the two pieces with the longest common edge that form a convex one."""
    sides: dict[tuple[tuple[float, float], tuple[float, float]], tuple[int, int]] = {}
    for i, p in enumerate(pieces):
        for k in range(len(p)):
            sides[tuple(p[k]), tuple(p[(k + 1) % len(p)])] = (i, k)
    best, longest = None, 0.0
    for (a, b), (i, k) in sides.items():
        other = sides.get((b, a))
        length = np.hypot(a[0] - b[0], a[1] - b[1])
        if other is None or other[0] <= i or length <= longest:
            continue
        j, m = other
        p, q = pieces[i], pieces[j]
        union = np.concatenate([np.roll(p, -k - 1, axis=0), np.roll(q, -m - 1, axis=0)[1:-1]])
        if (_turns(union) >= -small).all():
            best, longest = (i, j, union), length
    if best is None:
        return None
    i, j, union = best
    return [p for n, p in enumerate(pieces) if n not in (i, j)] + [union]
