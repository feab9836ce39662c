"""How the head gets from one cut to the next: down, lifted, or down around what is in the way.

What is cut free may stand up, and what has dropped leaves an opening into which a head
that follows the sheet would dive: over both, over clamps and off the sheet it is lifted.
Lifting takes time, so a short way around is taken where there is one. Around one convex
hull the shortest way runs along it (the visibility graph of a convex obstacle:
T. Lozano-Pérez, M. A. Wesley, "An algorithm for planning collision-free paths among
polyhedral obstacles", Communications of the ACM 22 (1979) 560-570).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import dist

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import LineString, Polygon
from shapely.geometry.base import BaseGeometry

from nestlib.geometry.polygons import region
from nestlib.model.contour import FloatArray
from nestlib.model.sheet import Sheet

#: A way may go this deep into an obstacle, in mm: it begins on a contour that was cut.
_GRAZE = 0.1

#: A detour keeps this far from what it goes around, in mm: common practice, no source.
_CLEAR = 3.0

Point = tuple[float, float]


@dataclass(frozen=True)
class Way:
    """One rapid.

    Parameters
    ----------
    lifted : bool
        Whether the head is raised.
    via : tuple of (float, float)
        Corners between its ends, in mm; none if it is straight.
    """

    lifted: bool = False
    via: tuple[Point, ...] = ()


class Obstacles:
    """What the head must not cross while it is down.

    Parameters
    ----------
    sheet : Sheet
        Its edge, holes and keep-out zones.
    regions : sequence of Polygon
        What is opened or set free by the cuts.
    since : sequence of int
        Index of the rapid from which each of them counts.
    """

    def __init__(self, sheet: Sheet, regions: Sequence[Polygon], since: Sequence[int]) -> None:
        fixed = [region(c) for c in (*sheet.holes, *sheet.keep_outs)]
        self._areas = shapely.buffer(
            np.array([*fixed, *regions], dtype=object), -_GRAZE, quad_segs=2
        )
        self._since = np.array([*([0] * len(fixed)), *since], dtype=np.intp)
        self._tree = shapely.STRtree(self._areas)
        self._sheet = region(sheet.outline).buffer(_GRAZE)
        shapely.prepare(self._sheet)
        shapely.prepare(self._areas)

    def crossed(
        self, lines: NDArray[np.object_], when: NDArray[np.intp]
    ) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
        """Return pairs of a line and an obstacle that it crosses at its time."""
        line, area = self._tree.query(lines, predicate="intersects")
        there = self._since[area] <= when[line]
        return line[there], area[there]

    def leaves_sheet(self, lines: NDArray[np.object_]) -> NDArray[np.bool_]:
        """Return which lines run beyond the edge of the sheet."""
        return ~np.asarray(shapely.covers(self._sheet, lines))

    def hull(self, areas: NDArray[np.intp]) -> BaseGeometry:
        """Return the convex hull of some obstacles, and some room around it."""
        near = shapely.convex_hull(shapely.union_all(self._areas[areas])).buffer(
            _CLEAR, quad_segs=2
        )
        return near.simplify(_CLEAR / 5)

    def blocks(self, way: Sequence[Point], when: int) -> bool:
        """Return whether a way cannot be gone with the head down."""
        line = np.array([LineString(way)], dtype=object)
        return bool(self.leaves_sheet(line)[0] or len(self.crossed(line, np.array([when]))[0]))


def ways(ends: Sequence[tuple[Point, Point]], obstacles: Obstacles, worth: float) -> list[Way]:
    """Return how to go each rapid.

    Parameters
    ----------
    ends : sequence of ((float, float), (float, float))
        Where each begins and ends, in their order.
    obstacles : Obstacles
        What must not be crossed with the head down.
    worth : float
        How much longer in mm a detour may be than the straight way: how far the head
        comes while it could be lifted and lowered.

    Returns
    -------
    list of Way
    """
    if not ends:
        return []
    lines = shapely.linestrings(np.array(ends))
    line, area = obstacles.crossed(lines, np.arange(len(lines)))
    off = obstacles.leaves_sheet(lines)
    met: dict[int, list[int]] = {}
    for i, j in zip(line.tolist(), area.tolist(), strict=True):
        met.setdefault(i, []).append(j)
    found = [Way(lifted=bool(o)) for o in off]
    for i, areas in met.items():
        via = None if off[i] else _detour(*ends[i], np.array(areas), obstacles, i, worth)
        found[i] = Way(lifted=via is None, via=via or ())
    return found


def _detour(
    start: Point,
    end: Point,
    areas: NDArray[np.intp],
    obstacles: Obstacles,
    when: int,
    worth: float,
) -> tuple[Point, ...] | None:
    """Corners of the shorter way around; None if there is none, or it is not worth it."""
    longest = dist(start, end) + worth
    for via in sorted(_around(start, end, obstacles.hull(areas)), key=_length):
        if _length(via) >= longest:
            return None
        if not obstacles.blocks(via, when):
            return via[1:-1]
    return None


def _around(start: Point, end: Point, hull: BaseGeometry) -> list[tuple[Point, ...]]:
    """Both ways around a convex hull, ends included."""
    outside = [p for p in (start, end) if not hull.covers(shapely.Point(p))]
    round_all = shapely.convex_hull(shapely.union_all([hull, *map(shapely.Point, outside)]))
    ring = round_all.exterior
    corners = shapely.get_coordinates(ring)[:-1]
    at = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(corners, axis=0).T))])
    first, last = (float(ring.project(shapely.Point(p))) for p in (start, end))
    there = _between(corners, at, first, last, ring.length)
    back = _between(corners, at, last, first, ring.length)[::-1]
    onto, off = (tuple(ring.interpolate(d).coords[0]) for d in (first, last))
    return [_without_repeats((start, onto, *mid, off, end)) for mid in (there, back)]


def _between(
    corners: FloatArray, at: FloatArray, first: float, last: float, whole: float
) -> list[Point]:
    """Corners of a ring passed on the way from one length along it on to another."""
    ahead = (at - first) % whole
    passed = np.flatnonzero(ahead <= (last - first) % whole)
    order = passed[np.argsort(ahead[passed], kind="stable")]
    return [(float(x), float(y)) for x, y in corners[order]]


def _without_repeats(way: Sequence[Point]) -> tuple[Point, ...]:
    kept = [way[0]]
    for point in way[1:-1]:
        if dist(point, kept[-1]) > 1e-6 and dist(point, way[-1]) > 1e-6:
            kept.append((float(point[0]), float(point[1])))
    return (*kept, way[-1])


def _length(way: Sequence[Point]) -> float:
    return sum(dist(a, b) for a, b in pairwise(way))
