"""Fewer vertices, outwards only: the result contains the polygon."""

from __future__ import annotations

import heapq
from typing import NamedTuple

import numpy as np
from shapely.geometry import Polygon

from nestlib.engine.catalogue import Floats, rings

#: Outlines with no more vertices than this stay as they are.
FEW = 40

#: Most that may be given away, as a share of the area.
GIVEN_AWAY = 0.001

_Point = tuple[float, float]

#: Number of a vertex that is gone.
_LOST = -2


def simplified(polygon: Polygon, few: int = FEW, share: float = GIVEN_AWAY) -> Polygon:
    """Remove vertices, the cheapest first, by filling notches and extending corners.

    A notch vertex is left out; an edge between two bulging vertices is replaced by the
    point where its neighbours meet. What that adds may touch no other vertex.

    Parameters
    ----------
    polygon : Polygon
        May have holes.
    few : int
        Stop at so many vertices.
    share : float
        Stop before more than this share of the area is added.

    Returns
    -------
    Polygon

    Examples
    --------
    >>> from shapely.geometry import Point
    >>> circle = Point(0, 0).buffer(1)
    >>> rough = simplified(circle, few=12, share=0.05)
    >>> len(rough.exterior.coords) - 1, rough.covers(circle.buffer(-1e-9))
    (12, True)
    """
    found = rings(polygon)
    left, budget = sum(map(len, found)), share * polygon.area
    if left <= few:
        return polygon
    outline = _Outline(found)
    while left > few and (option := outline.cheapest()) is not None:
        if option.cost > budget:
            break
        if outline.take(option):
            budget -= option.cost
            left -= 1
    first, *others = outline.rings()
    result = Polygon(first, others)
    return result if result.is_valid else polygon


class _Option(NamedTuple):
    """One way to lose a vertex.

    A notch goes; a corner that does not moves to `goal`, and its successor goes.
    """

    cost: float
    number: int
    vertex: int
    goal: _Point | None


class _Outline:
    """Rings as linked vertices, and what it would cost to be rid of each of them.

    Losing one changes the cost of few others; what is out of date stays in the heap and is
    passed over.
    """

    def __init__(self, found: list[Floats]) -> None:
        self.points = np.concatenate(found)
        self.xy: list[_Point] = [(x, y) for x, y in self.points.tolist()]
        n = len(self.xy)
        self.before, self.after = list(range(-1, n - 1)), list(range(1, n + 1))
        self.ring = [r for r, points in enumerate(found) for _ in points]
        self.size = [len(points) for points in found]
        end = 0
        for points in found:
            first, end = end, end + len(points)
            self.before[first], self.after[end - 1] = end - 1, first
        self.heap: list[_Option] = []
        self.numbers = [-1] * n
        self.given = 0
        for vertex in range(n):
            self._offer(vertex)

    def cheapest(self) -> _Option | None:
        """Return the cheapest option that is up to date, and forget it."""
        while self.heap:
            option = heapq.heappop(self.heap)
            if option.number == self.numbers[option.vertex]:
                return option
        return None

    def take(self, option: _Option) -> bool:
        """Lose a vertex unless what that adds touches another one; return whether it went."""
        v = option.vertex
        near, far = (self.before[v], self.after[v]) if option.goal is None else (v, self.after[v])
        if self._meets_others(self.xy[near], option.goal or self.xy[v], self.xy[far]):
            return False
        if option.goal is None:
            self._lose(v)
        else:
            self._lose(far)
            self.xy[v] = option.goal
            self.points[v] = option.goal
        u = self.after[near]
        for _ in range(4):
            self._offer(u)
            u = self.before[u]
        return True

    def rings(self) -> list[list[_Point]]:
        """Return the vertices that are left."""
        found = []
        seen = [number == _LOST for number in self.numbers]
        for v in range(len(seen)):
            ring = []
            while not seen[v]:
                seen[v] = True
                ring.append(self.xy[v])
                v = self.after[v]
            if ring:
                found.append(ring)
        return found

    def _lose(self, v: int) -> None:
        a, c = self.before[v], self.after[v]
        self.after[a], self.before[c] = c, a
        self.numbers[v] = _LOST
        self.points[v] = np.inf
        self.size[self.ring[v]] -= 1

    def _offer(self, v: int) -> None:
        """Note how this vertex or the next one may go, if at all."""
        self.given += 1
        self.numbers[v] = self.given
        if self.size[self.ring[v]] > 3 and (found := self._option(v)) is not None:
            heapq.heappush(self.heap, _Option(found[0], self.given, v, found[1]))

    def _option(self, v: int) -> tuple[float, _Point | None] | None:
        (x0, y0), (x1, y1) = self.xy[self.before[v]], self.xy[v]
        (x2, y2), (x3, y3) = self.xy[self.after[v]], self.xy[self.after[self.after[v]]]
        ux, uy, vx, vy, wx, wy = x1 - x0, y1 - y0, x2 - x1, y2 - y1, x3 - x2, y3 - y2
        here, there, both = ux * vy - uy * vx, vx * wy - vy * wx, ux * wy - uy * wx
        if here <= 0:
            return -here / 2, None
        if there <= 0 or both <= 0:
            return None
        t = there / both
        return t * here / 2, (x1 + t * ux, y1 + t * uy)

    def _meets_others(self, a: _Point, b: _Point, c: _Point) -> bool:
        """Tell whether a vertex other than its corners lies in or on a triangle."""
        x, y = self.points[:, 0], self.points[:, 1]
        (x0, x1), (y0, y1) = ((min(s), max(s)) for s in zip(a, b, c, strict=True))
        near = np.flatnonzero((x >= x0) & (x <= x1) & (y >= y0) & (y <= y1))
        return any(
            p not in (a, b, c) and _within(p, a, b, c) for p in (self.xy[k] for k in near.tolist())
        )


def _within(p: _Point, a: _Point, b: _Point, c: _Point) -> bool:
    sides = [
        (w[0] - v[0]) * (p[1] - v[1]) - (w[1] - v[1]) * (p[0] - v[0])
        for v, w in ((a, b), (b, c), (c, a))
    ]
    return min(sides) >= 0 or max(sides) <= 0
