"""Which contour lies in which: outer contours, holes, and parts inside holes.

Contours are counted from the outside in: one that lies in none is the outside of a part,
one that lies in one is a hole, one that lies in two is a part inside a hole, and so on.
"""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from shapely import LinearRing, Polygon, STRtree

from nestlib.drawings.chains import Run
from nestlib.drawings.sketch import Place
from nestlib.geometry.polygons import ring
from nestlib.model.contour import Contour, FloatArray

#: Contours that come closer than this touch, in mm.
TOUCH = 1e-3

#: How finely arcs are drawn to compare contours, in mm.
_CHORD = 1e-3

#: A finding names no more places than this.
_PLACES = 8

#: No more meetings of contours than this are told one by one.
_TOLD = 50

_NAMED_HOLES = re.compile(r"inner|inside|hole|innen|loch|bohrung|trou|agujero", re.IGNORECASE)


@dataclass(frozen=True)
class Fault:
    """Something wrong with one contour, or with two of them together.

    Parameters
    ----------
    code, message : str
        As in `nestlib.drawings.codes`.
    places : tuple of (float, float)
        Where.
    runs : tuple of int
        Indices of the contours that it is about.
    """

    code: str
    message: str
    places: tuple[Place, ...]
    runs: tuple[int, ...]


@dataclass(frozen=True)
class Family:
    """One outer contour and its holes, as indices of runs."""

    outer: int
    inners: tuple[int, ...]


class Nesting:
    """How closed contours lie in one another.

    Parameters
    ----------
    runs : sequence of Run
        Closed, in the order of the file.
    """

    def __init__(self, runs: Sequence[Run]) -> None:
        self.runs = runs
        self.faults: list[Fault] = []
        points = [ring(run.contour, _CHORD) for run in runs]
        self._rings = np.array([LinearRing(p) if len(p) > 2 else None for p in points])
        self._polygons = np.array([_whole(p) for p in points])
        self._areas = shapely.area(self._polygons)
        self._containers = self._find_containers()
        self._check_simple()
        self._check_apart()

    def families(self) -> list[Family]:
        """Return outer contours with their holes, in the order of the file."""
        depths = [len(c) for c in self._containers]
        holes: dict[int, list[int]] = defaultdict(list)
        outers = []
        for i, depth in enumerate(depths):
            around = [j for j in self._containers[i] if depths[j] == depth - 1]
            if depth % 2 and around:
                holes[min(around, key=lambda j: self._areas[j])].append(i)
            else:
                outers.append(i)
                self._check_name(i)
        return [Family(i, tuple(holes[i])) for i in outers]

    def carriers(
        self, families: Sequence[Family], lines: Sequence[shapely.Geometry]
    ) -> list[int | None]:
        """Return for each line the family on whose metal it lies; None if on none."""
        if not lines:
            return []
        outers = shapely.buffer(self._polygons[[f.outer for f in families]], TOUCH)
        on: list[list[int]] = [[] for _ in lines]
        for i, k in STRtree(outers).query(lines, predicate="within").T:
            on[i].append(int(k))
        innermost = [min(k, key=lambda f: outers[f].area) if k else None for k in on]
        return [
            None if k is None or self._in_hole(families[k], mark) else k
            for k, mark in zip(innermost, lines, strict=True)
        ]

    def _in_hole(self, family: Family, mark: shapely.Geometry) -> bool:
        return bool(shapely.within(mark, self._polygons[list(family.inners)]).any())

    def _find_containers(self) -> list[list[int]]:
        """For each contour, those that it lies in."""
        found: list[list[int]] = [[] for _ in self.runs]
        if not self.runs:
            return found
        inside = shapely.point_on_surface(self._polygons)
        pairs = STRtree(self._polygons).query(inside, predicate="within")
        for i, j in pairs.T:
            # Two contours of one size that overlap do not lie in each other.
            if self._areas[j] > self._areas[i] * (1 + 1e-9):
                found[int(i)].append(int(j))
        return found

    def _check_simple(self) -> None:
        simple = shapely.is_simple(self._rings)
        for i in np.flatnonzero(~simple):
            places = _crossings(self._rings[i])
            message = f"a contour crosses or touches itself{_at(places)}"
            self.faults.append(Fault("self-crossing", message, places, (int(i),)))

    def _check_apart(self) -> None:
        """Find contours that cross or touch."""
        if len(self.runs) < 2:
            return
        a, b = STRtree(self._rings).query(self._rings, predicate="dwithin", distance=TOUCH + _CHORD)
        pairs = np.column_stack([a, b])[a < b]
        for i, j in pairs[:_TOLD]:
            small, large = (i, j) if self._areas[i] <= self._areas[j] else (j, i)
            self.faults.append(self._meeting(int(small), int(large)))
        if len(more := pairs[_TOLD:]):
            message = f"{len(more)} more pairs of contours cross or touch"
            self.faults.append(Fault("contours-cross", message, (), (int(more[0][0]),)))

    def _meeting(self, small: int, large: int) -> Fault:
        """Say what is wrong where two contours meet."""
        rings, polygons = self._rings[[small, large]], self._polygons[[small, large]]
        places = _places(shapely.intersection(*rings)) or _places(
            shapely.shortest_line(*rings).centroid
        )
        share = shapely.area(shapely.intersection(*polygons)) / max(self._areas[small], 1e-12)
        crossing = 1e-6 < share < 1 - 1e-6 and shapely.crosses(*rings)
        if crossing and self._areas[small] < self._areas[large] / 2:
            message = f"a hole reaches outside its part{_at(places)}"
            return Fault("hole-outside-part", message, places, (large, small))
        verb = "cross" if crossing else "touch"
        return Fault("contours-cross", f"two contours {verb}{_at(places)}", places, (large, small))

    def _check_name(self, i: int) -> None:
        """A contour on a layer that is named for holes should lie in a part."""
        run = self.runs[i]
        alone = not self._containers[i] and len(self.runs) > 1
        if alone and _NAMED_HOLES.search(run.style.layer):
            x, y = (float(v) for v in run.contour.points[0])
            message = f'a contour on layer "{run.style.layer}" lies in no part, at {x:.2f}, {y:.2f}'
            self.faults.append(Fault("hole-outside-part", message, ((x, y),), (i,)))


def _whole(points: FloatArray) -> Polygon:
    """A valid polygon, even of a contour that crosses itself."""
    if len(points) < 3:
        return Polygon()
    polygon = Polygon(points)
    return polygon if polygon.is_valid else shapely.make_valid(polygon).buffer(0)


def _crossings(line: LinearRing) -> tuple[Place, ...]:
    """Where a ring meets itself: where cutting it up leaves more than two ends at a point."""
    pieces = shapely.node(line)
    ends = [tuple(p.coords[k]) for p in getattr(pieces, "geoms", [pieces]) for k in (0, -1)]
    count: dict[tuple[float, ...], int] = defaultdict(int)
    for end in ends:
        count[end] += 1
    crowded = [(float(p[0]), float(p[1])) for p, n in count.items() if n > 2]
    return tuple(crowded[:_PLACES])


def _places(meeting: shapely.Geometry) -> tuple[Place, ...]:
    points = shapely.get_coordinates(meeting)[:_PLACES]
    return tuple((float(x), float(y)) for x, y in points)


def _at(places: Sequence[Place]) -> str:
    return f" at {places[0][0]:.2f}, {places[0][1]:.2f}" if places else ""


def flat(contour: Contour) -> bool:
    """Whether a closed contour encloses nothing: it runs to and fro on one line."""
    if contour.area > TOUCH * contour.length:
        return False
    # A figure of eight encloses two areas of opposite sign.
    area: float = _whole(ring(contour, _CHORD)).area
    return area <= TOUCH * contour.length / 4
