"""What carries a piece: the slats or spikes under it, wherever the sheet is laid.

Terms
-----
support point
    A spike under the metal, or a point where a slat passes under its edge. All of a slat
    that lies under the metal lies between two of these, so they alone decide what the
    slats can carry.
offset
    Where one of the slats or spikes stands, as seen from the sheet's (0, 0).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Polygon
from shapely.geometry.base import BaseGeometry

from nestlib.model.contour import FloatArray
from nestlib.model.machine import Support

#: Offsets tried along each axis where the offset is not known.
_SLAT_OFFSETS, _SPIKE_OFFSETS = 96, 16

#: Fewer offsets are tried where there would be more places of spikes than this.
_PLACES = 1_000_000

#: Of more vertices than this, those between are left to the offsets tried anyway.
_VERTICES = 100

#: How far off a vertex its offsets are tried, as a share of the pitch.
_BESIDE = 1e-6


@dataclass(frozen=True, eq=False)
class Supports:
    """Support points for each offset that was looked at.

    Parameters
    ----------
    points : ndarray, shape (n, 2)
        In mm.
    offset : ndarray of int, shape (n,)
        Which of the offsets each belongs to.
    offsets : int
        How many offsets were looked at.
    """

    points: FloatArray
    offset: NDArray[np.intp]
    offsets: int


def supports_under(metal: BaseGeometry, centre: tuple[float, float], support: Support) -> Supports:
    """Return what carries a piece, for the known offset or for all that may be.

    Parameters
    ----------
    metal : shapely geometry
        The piece or pieces where they lie, with their holes.
    centre : (float, float)
        The centre of mass; offsets beside it are looked at.
    support : Support
        What the sheet lies on.

    Returns
    -------
    Supports
        Of spikes those that stand under the metal; of slats the points where they pass
        under its edge.
    """
    return _spikes(metal, support) if support.kind == "spikes" else _slats(metal, centre, support)


def pitch_across(support: Support) -> float:
    """Return the distance between neighbours in mm, the smaller one of spikes."""
    if support.kind == "spikes":
        return min(support.pitch)
    return support.pitch[_across(support)]


def _across(support: Support) -> int:
    """The axis, 0 or 1, across which slats follow each other."""
    return 0 if support.along == "y" else 1


def _slats(metal: BaseGeometry, centre: tuple[float, float], support: Support) -> Supports:
    axis = _across(support)
    pitch = support.pitch[axis]
    edges = _edges(metal)
    if support.offset is not None:
        offsets = np.array([support.offset[axis] % pitch])
    else:
        offsets = _telling_offsets(edges[:, :, axis], centre[axis], pitch)
    low, high = edges[:, :, axis].min(), edges[:, :, axis].max()
    first = np.ceil((low - offsets) / pitch).astype(int)
    most = int(np.max(np.floor((high - offsets) / pitch) - first, initial=-1)) + 1
    slats = (offsets + first * pitch)[:, None] + pitch * np.arange(most)
    edge, slat = _crossings(edges[:, :, axis], slats.ravel())
    points = _on_edges(edges[edge], slats.ravel()[slat], axis)
    return Supports(points, slat // max(most, 1), len(offsets))


def _telling_offsets(edges: FloatArray, centre: float, pitch: float) -> FloatArray:
    """Evenly spread ones, and those just beside the vertices and the centre of mass."""
    vertices = edges[:, 0]
    if len(vertices) > _VERTICES:
        vertices = np.array([vertices.min(), vertices.max()])
    beside = np.append(vertices, centre)[:, None] + pitch * _BESIDE * np.array([-1.0, 1.0])
    spread = pitch * (np.arange(_SLAT_OFFSETS) + 0.5) / _SLAT_OFFSETS
    return np.unique(np.concatenate([spread, beside.ravel() % pitch]))


def _crossings(edges: FloatArray, slats: FloatArray) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Pairs of an edge and a slat that passes under it; each vertex counts for one edge."""
    low, high = edges.min(axis=1), edges.max(axis=1)
    order = np.argsort(slats, kind="stable")
    first, last = (np.searchsorted(slats[order], end, side="left") for end in (low, high))
    count = last - first
    edge = np.repeat(np.arange(len(edges)), count)
    within = np.arange(len(edge)) - np.repeat(np.cumsum(count) - count, count)
    return edge, order[np.repeat(first, count) + within]


def _on_edges(edges: FloatArray, slats: FloatArray, axis: int) -> FloatArray:
    """Points (n, 2) of edges (n, 2, 2) where their coordinate along an axis is given."""
    a, b = edges[:, 0], edges[:, 1]
    share = (slats - a[:, axis]) / (b[:, axis] - a[:, axis])
    return np.asarray(a + share[:, None] * (b - a))


def _edges(metal: BaseGeometry) -> FloatArray:
    """All edges, shape (n, 2, 2): those of outlines and holes."""
    rings = [r for p in _polygons(metal) for r in (p.exterior, *p.interiors)]
    parts = [shapely.get_coordinates(r) for r in rings]
    return np.concatenate([np.stack([p[:-1], p[1:]], axis=1) for p in parts])


def _polygons(metal: BaseGeometry) -> list[Polygon]:
    return [p for p in getattr(metal, "geoms", [metal]) if isinstance(p, Polygon)]


def _spikes(metal: BaseGeometry, support: Support) -> Supports:
    """A fine lattice, of which each offset takes every so many-th point."""
    n = 1 if support.offset is not None else _spike_offsets(metal, support)
    origin = support.offset if support.offset is not None else (0.0, 0.0)
    step = np.array(support.pitch) / n
    x0, y0, x1, y1 = metal.bounds
    columns, rows = (
        np.arange(np.ceil((low - o) / s), np.floor((high - o) / s) + 1)
        for low, high, o, s in zip((x0, y0), (x1, y1), origin, step, strict=True)
    )
    i, j = (index.ravel() for index in np.meshgrid(columns, rows))
    x, y = origin[0] + i * step[0], origin[1] + j * step[1]
    shapely.prepare(metal)
    under = shapely.contains_xy(metal, x, y)
    points = np.stack([x, y], axis=1)[under]
    offset = ((i % n) * n + j % n).astype(np.intp)[under]
    return Supports(points, offset, n * n)


def _spike_offsets(metal: BaseGeometry, support: Support) -> int:
    """How many offsets are tried along each axis; what lies on a great many needs few."""
    x0, y0, x1, y1 = metal.bounds
    spikes = max(1.0, (x1 - x0) / support.pitch[0] * (y1 - y0) / support.pitch[1])
    return int(np.clip(np.sqrt(_PLACES / spikes), 2, _SPIKE_OFFSETS))
