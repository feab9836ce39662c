"""Where two outlines overlap: no-fit polygons as unions of convex polygons.

The displacements at which an outline B overlaps an outline A are the Minkowski sum of A and
the point mirror of B. With both cut into convex pieces it is a union of convex polygons, and
each of these the common part of half-planes ``n . d < c``.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from shapely import Polygon

from nestlib.engine.convex import convex_pieces
from nestlib.engine.minkowski import half_planes
from nestlib.packing.kernels import FloatArray, IntArray


@dataclass(frozen=True, eq=False)
class NoFit:
    """Displacements at which one outline overlaps another.

    Parameters
    ----------
    normals : ndarray, shape (m, 2)
        Unit normals of the half-planes.
    limits : ndarray, shape (m,)
        Their distances from (0, 0).
    start : ndarray of int, shape (k,)
        Where the half-planes of each convex polygon begin.
    reach : ndarray, shape (2,)
        No displacement that overlaps is larger than this along x or along y.
    """

    normals: FloatArray
    limits: FloatArray
    start: IntArray
    reach: FloatArray

    @classmethod
    def of(cls, a: Polygon, b: Polygon) -> NoFit:
        """Return where B overlaps A; holes count as filled.

        Parameters
        ----------
        a, b : shapely.Polygon
            Near (0, 0).
        """
        pieces = [convex_pieces(Polygon(p.exterior)) for p in (a, b)]
        starts = [np.cumsum([0, *map(len, found)]) for found in pieces]
        (pa, pb), (sa, sb) = ([np.vstack(found) for found in pieces], starts)
        lines, start = half_planes(pa, sa, 0, len(sa) - 1, pb, sb, 0, len(sb) - 1)
        (ax0, ay0, ax1, ay1), (bx0, by0, bx1, by1) = a.bounds, b.bounds
        reach = np.array([max(ax1 - bx0, bx1 - ax0), max(ay1 - by0, by1 - ay0)])
        return cls(lines[:, :2], lines[:, 2], start[:-1], reach)

    def gaps(self, shifts: FloatArray) -> FloatArray:
        """Return by how much each half-plane keeps off each displacement, shape (n, m)."""
        return np.asarray(shifts @ self.normals.T - self.limits)

    def depths(self, shifts: FloatArray) -> FloatArray:
        """Return how deep each displacement lies in the union, at most; 0 or less outside."""
        return np.asarray(-np.maximum.reduceat(self.gaps(shifts), self.start, axis=1).min(axis=1))

    def scaled(self, x: float, y: float) -> NoFit:
        """Return the same where lengths along x and along y are measured in other units."""
        normals = self.normals * (x, y)
        size = np.hypot(*normals.T)
        return NoFit(normals / size[:, None], self.limits / size, self.start, self.reach / (x, y))
