"""Holes that no item fits into do not matter: they are filled before anything else."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from shapely.geometry import Polygon

from nestlib.engine.catalogue import Floats

#: Share by which an item may be larger than a hole: what is left of rounding.
_ROUNDING = 1e-9


def without_useless_holes(outlines: Sequence[Polygon]) -> list[Polygon]:
    """Fill the holes into which none of the outlines can go, however it is turned.

    What goes in has no larger area, is nowhere longer, and is no wider where it is
    narrowest; these are necessary, so that no hole is filled that is of use.

    Parameters
    ----------
    outlines : sequence of Polygon
        Everything that is to be placed.

    Returns
    -------
    list of Polygon

    Examples
    --------
    >>> from shapely import box
    >>> frame = box(0, 0, 9, 9).difference(box(1, 1, 3, 3)).difference(box(5, 5, 6, 6))
    >>> found, _ = without_useless_holes([frame, box(0, 0, 2, 1)])
    >>> [hole.bounds for hole in found.interiors]
    [(1.0, 1.0, 3.0, 3.0)]
    """
    if not any(p.interiors for p in outlines):
        return list(outlines)
    sizes = np.array([_sizes(Polygon(p.exterior)) for p in outlines])
    return [_filled(p, sizes) if p.interiors else p for p in outlines]


def _filled(polygon: Polygon, sizes: Floats) -> Polygon:
    holes = [
        hole
        for hole in polygon.interiors
        if (sizes <= np.array(_sizes(Polygon(hole))) * (1 + _ROUNDING)).all(axis=1).any()
    ]
    return polygon if len(holes) == len(polygon.interiors) else Polygon(polygon.exterior, holes)


def _sizes(polygon: Polygon) -> tuple[float, float, float]:
    """Return area, greatest length and least width of a polygon without holes."""
    hull = np.asarray(polygon.convex_hull.exterior.coords)[:-1, :2]
    sides = np.roll(hull, -1, axis=0) - hull
    normals = np.column_stack([-sides[:, 1], sides[:, 0]])
    normals /= np.hypot(*sides.T)[:, None]
    width = np.ptp(hull @ normals.T, axis=0).min()
    far = max(np.hypot(*(hull - p).T).max() for p in hull)
    return polygon.area, float(far), float(width)
