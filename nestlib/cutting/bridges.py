"""Straight cuts that may be made in what is left around the parts.

Two kinds are looked for: lines across a region at some places, of which each stretch
between two slots is one, and short ways from points on a slot to the slots beside it. Of
these all are kept that neither harm a part nor come close to one that they do not end at.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Polygon
from shapely.geometry.base import BaseGeometry

from nestlib.model.contour import FloatArray

#: Lines across a region that are tried, and points on a slot from which others are.
_ACROSS, _POINTS = 25, 12

#: Slots are bridged if they lie no further apart than this many distances of two slots, in mm
#: and some.
_REACH, _SOME = 6.0, 40.0

#: What two ways of working out one place may differ by, in mm.
_SAME = 1e-6


@dataclass(frozen=True, eq=False)
class Fences:
    """What cuts in the skeleton keep away from.

    Parameters
    ----------
    parts : sequence of Polygon
        What each outer contour encloses.
    barred : sequence of Polygon
        Keep-out zones.
    apart : float
        Distance in mm between the middle of a cut and what it does not end at.
    slot : float
        Width of a slot: so far from a part a cut may end.
    """

    parts: Sequence[Polygon]
    barred: Sequence[Polygon]
    apart: float
    slot: float

    def turned(self) -> Fences:
        """The same with x and y exchanged."""
        parts, barred = (
            [*shapely.transform(list(p), _exchanged)] for p in (self.parts, self.barred)
        )
        return Fences(parts, barred, self.apart, self.slot)

    def free(self, lines: FloatArray) -> NDArray[np.bool_]:
        """Return which lines (n, 2, 2) may be cut.

        A line keeps `apart` from every part, but near an end that lies at the slot of a
        part, within twice that distance, it comes as near to this one as its slot.
        """
        fine = np.ones(len(lines), dtype=bool)
        whole = _drawn(lines)
        if len(self.barred):
            tree = shapely.STRtree(list(self.barred))
            fine[tree.query(whole, "dwithin", self.apart)[0]] = False
        tree = shapely.STRtree(list(self.parts))
        line, part = tree.query(whole, "dwithin", self.apart - _SAME)
        metal = np.array(self.parts, dtype=object)[part]
        rest = lines[line].copy()
        for end in (0, 1):
            rest = self._without_end(rest, lines[line], end, metal)
        ways = [these[:, 1] - these[:, 0] for these in (rest, lines[line])]
        remains = np.sum(ways[0] * ways[1], axis=1) > 0
        harmed = remains & (shapely.distance(_drawn(rest), metal) < self.apart - _SAME)
        harmed |= shapely.distance(whole[line], metal) < self.slot * (1 - 1e-3)
        fine[line[harmed]] = False
        return fine

    def _without_end(
        self, rest: FloatArray, lines: FloatArray, end: int, metal: NDArray[np.object_]
    ) -> FloatArray:
        """Lines without what is near an end that lies at the slot of its part."""
        there = shapely.distance(shapely.points(lines[:, end]), metal) <= self.slot * (1 + 1e-3)
        way = lines[:, 1 - end] - lines[:, end]
        length = np.hypot(*way.T)
        step = way / np.where(length, length, 1.0)[:, None] * 2 * self.apart
        rest[:, end] += np.where(there[:, None], step, 0.0)
        return rest


@dataclass(frozen=True, eq=False)
class Bridges:
    """Cuts and what they join.

    Parameters
    ----------
    lines : ndarray, shape (n, 2, 2)
        From rim to rim.
    rims : ndarray of int, shape (n, 2)
        Which rims these are.
    """

    lines: FloatArray
    rims: NDArray[np.intp]


def bridges(
    whole: Polygon, rims: Sequence[BaseGeometry], at: float, wide: float, fences: Fences
) -> Bridges:
    """Return cuts within a region, near an upright line.

    Parameters
    ----------
    whole : Polygon
        The region.
    rims : sequence of shapely geometry
        Parts of its edge that are to be joined.
    at, wide : float
        Where the upright line is, and how far from it cuts may lie, in mm.
    fences : Fences
        What they keep away from.
    """
    across = _across(whole, at, wide)
    between = _between(rims, fences)
    lines = np.concatenate([across, between])
    near = np.abs(lines[:, :, 0].mean(axis=1) - at) <= wide + _SAME
    lines = lines[near & (np.hypot(*(lines[:, 1] - lines[:, 0]).T) > _SAME)]
    room = whole.buffer(_SAME)
    shapely.prepare(room)
    lines = lines[shapely.covers(room, _drawn(lines))]
    return _joining(lines[fences.free(lines)], rims)


def _across(whole: Polygon, at: float, wide: float) -> FloatArray:
    """All stretches of upright lines that lie in a region."""
    _, y0, _, y1 = whole.bounds
    places = at + wide * np.linspace(-1.0, 1.0, _ACROSS)
    upright = shapely.linestrings([[(x, y0 - 1), (x, y1 + 1)] for x in places])
    parts = shapely.get_parts(shapely.intersection(whole, upright))
    ends = [
        shapely.get_coordinates(p)[[0, -1]]
        for p in parts
        if p.geom_type == "LineString" and p.length > 0
    ]
    return np.array(ends, dtype=np.float64).reshape(-1, 2, 2)


def _between(rims: Sequence[BaseGeometry], fences: Fences) -> FloatArray:
    """Short ways from rim to rim."""
    reach = _REACH * fences.apart + _SOME
    i, j = shapely.STRtree(list(rims)).query(list(rims), "dwithin", reach)
    i, j = i[i < j], j[i < j]
    kinds = np.array(rims, dtype=object)
    found = [shapely.shortest_line(kinds[i], kinds[j])]
    shares = np.arange(_POINTS) / _POINTS
    for a, b in ((i, j), (j, i)):
        a, b = a[a > 1], b[a > 1]  # the sides of a region are long, and come second only
        if len(a):
            spots = shapely.line_interpolate_point(kinds[a][:, None], shares, normalized=True)
            found.append(shapely.shortest_line(spots.ravel(), np.repeat(kinds[b], _POINTS)))
    lines = np.concatenate(found)
    lines = lines[shapely.length(lines) <= reach]
    return np.asarray(shapely.get_coordinates(lines).reshape(-1, 2, 2))


def _joining(lines: FloatArray, rims: Sequence[BaseGeometry]) -> Bridges:
    """Cuts both of whose ends lie on rims, of which there are two."""
    tree = shapely.STRtree(list(rims))
    on = np.full((len(lines), 2), -1, dtype=np.intp)
    for end in (0, 1):
        spot, rim = tree.query(shapely.points(lines[:, end]), "dwithin", _SAME)
        on[spot, end] = rim
    good = (on >= 0).all(axis=1) & (on[:, 0] != on[:, 1])
    return Bridges(lines[good], on[good])


def _drawn(lines: FloatArray) -> NDArray[np.object_]:
    """Lines (n, 2, 2) as shapely has them, also if there are none."""
    found: NDArray[np.object_] = np.empty(len(lines), dtype=object)
    found[:] = shapely.linestrings(lines) if len(lines) else []
    return found


def _exchanged(xy: FloatArray) -> FloatArray:
    return xy[:, ::-1]
