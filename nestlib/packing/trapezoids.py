"""Regions cut into trapezoids, the form in which the kernels take them."""

from __future__ import annotations

import numpy as np
from shapely import MultiPolygon, Polygon

from nestlib.packing.kernels import FloatArray, decompose


def edges(polygon: Polygon) -> FloatArray:
    """Return all edges (ax, ay, bx, by) of a polygon and its holes, shape (n, 4)."""
    rings = [np.asarray(r.coords)[:, :2] for r in (polygon.exterior, *polygon.interiors)]
    return np.concatenate([np.hstack([r[:-1], r[1:]]) for r in rings])


def upright(boundary: FloatArray) -> FloatArray:
    """Cut a region into vertical trapezoids, the largest first.

    Parameters
    ----------
    boundary : ndarray, shape (n, 4)
        Edges of the region, in any order and direction.

    Returns
    -------
    ndarray, shape (k, 6)
        See `nestlib.packing.kernels`.

    Examples
    --------
    >>> upright(edges(Polygon([(0, 0), (2, 0), (2, 1), (0, 1)])))
    array([[0., 2., 0., 0., 1., 1.]])
    """
    backward = boundary[:, 0] > boundary[:, 2]
    forward = np.where(backward[:, None], boundary[:, [2, 3, 0, 1]], boundary)
    forward = np.ascontiguousarray(forward[forward[:, 0] < forward[:, 2]])
    rows = decompose(forward, np.unique(boundary[:, [0, 2]]))
    return np.ascontiguousarray(rows[np.argsort(-areas(rows), kind="stable")])


def lying(boundary: FloatArray) -> FloatArray:
    """Cut a region into trapezoids along y: `upright` with x and y exchanged."""
    return upright(boundary[:, [1, 0, 3, 2]])


def areas(rows: FloatArray) -> FloatArray:
    """Return the area of each trapezoid."""
    heights = rows[:, 4] - rows[:, 2] + rows[:, 5] - rows[:, 3]
    return np.asarray(0.5 * (rows[:, 1] - rows[:, 0]) * heights)


def complement(room: MultiPolygon) -> list[Polygon]:
    """Return what lies in the bounding box of a room, but not in the room."""
    from shapely import box

    rest = box(*room.bounds).difference(room)
    parts = getattr(rest, "geoms", [rest])
    return [p for p in parts if isinstance(p, Polygon) and p.area > 0]
