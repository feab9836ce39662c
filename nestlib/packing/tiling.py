"""Sheets filled without any waste: strips, tiles and other jigsaws.

Where the pieces are as large as the sheets altogether, hardly any search that moves pieces
about finds the way they fit, but one that matches edges does: first of convex blocks
(`blocks`), which puts together what straight cuts have cut up, then of corners (`corners`),
which takes longer but needs neither convex pieces nor a convex room.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

from nestlib.packing.blocks import Joining
from nestlib.packing.corners import CornerSearch
from nestlib.packing.interface import PackedSheet
from nestlib.packing.problem import Problem
from nestlib.packing.sheets import choose_layouts, pattern
from nestlib.packing.tiling_ways import Put, Ways, corners_of, region_of

#: The pieces take at least this share of the containers where a jigsaw is worth trying.
FULL = 0.97

#: Most kinds of pieces, pieces for each container, and vertices of a piece.
_KINDS, _PIECES, _VERTICES = 100, 100, 30

#: Most pieces for the search of corners, which goes as deep as there are pieces.
_DEEP = 200

#: Effort: regions looked at; for each of them so many pairs of edges of blocks.
EFFORT, _PAIRS = 20_000, 75

#: Most layouts handed back.
_MOST = 300

#: Points closer than this share of the largest room are the same.
_SAME = 1e-9


@dataclass(frozen=True)
class Tiling:
    """Containers filled without any waste.

    Parameters
    ----------
    plan : tuple of PackedSheet
        As many as can be made of the pieces at the same time, as far as known.
    found : tuple of PackedSheet
        All different layouts.
    complete : bool
        Whether the pieces left over could fill no further container.
    """

    plan: tuple[PackedSheet, ...] = ()
    found: tuple[PackedSheet, ...] = ()
    complete: bool = False


def is_tight(problem: Problem) -> bool:
    """Return whether it is worthwhile to look for containers filled without any waste.

    The pieces have to be few, without holes, and to take almost all of the least number of
    containers of one kind, or of all containers there are.

    Parameters
    ----------
    problem : Problem
        What is to be placed where.

    Examples
    --------
    >>> from shapely import MultiPolygon, box
    >>> from nestlib.packing import Container, Shape
    >>> from nestlib.packing.problem import prepare
    >>> tray = Container("tray", MultiPolygon([box(0, 0, 4, 3)]), area=12.0)
    >>> for quantity in (6, 5):
    ...     tile = Shape("tile", box(0, 0, 2, 1), area=2.0, quantity=quantity)
    ...     is_tight(prepare([tile], [tray]))
    True
    False
    """
    shapes = [s for s, n in enumerate(problem.required) if n]
    polygons = [problem.shapes[s].polygon for s in shapes]
    if not 0 < len(shapes) <= _KINDS or any(
        p.interiors or len(p.exterior.coords) > _VERTICES for p in polygons
    ):
        return False
    pieces = sum(problem.required)
    total = sum(n * a for n, a in zip(problem.required, problem.polygon_areas, strict=True))
    return any(
        pieces <= _PIECES * number and FULL * area <= total and smallest <= total * (1 + _SAME)
        for number, area, smallest in _choices(problem, total)
    )


def _choices(problem: Problem, total: float) -> Iterable[tuple[float, float, float]]:
    """Choices of containers that could be just enough: how many, their area, the smallest."""
    rooms = [(r.area, q) for r, q in zip(problem.rooms, problem.quantities, strict=True)]
    rooms = [(area, q) for area, q in rooms if area > 0 and q > 0]
    for area, quantity in rooms:
        number = max(1, math.ceil(total / area * (1 - _SAME)))
        if number <= quantity:
            yield number, number * area, area
    if rooms and len(rooms) > 1 and all(q < math.inf for _, q in rooms):
        yield sum(q for _, q in rooms), sum(a * q for a, q in rooms), min(rooms)[0]


def _never() -> bool:
    return False


def tile(
    problem: Problem,
    *,
    effort: int = EFFORT,
    seed: int = 0,
    over: Callable[[], bool] = _never,
) -> Tiling:
    """Fill containers without any waste.

    Parameters
    ----------
    problem : Problem
        What is to be placed where. Fillers and pieces with holes are left out.
    effort : int
        How much to try: regions looked at in the search of corners.
    seed : int
        Of all chance; the same seed and effort give the same result.
    over : callable
        Asked often whether to end early.

    Returns
    -------
    Tiling
        Without any sheets if nothing was found.
    """
    return _Tiler(problem, seed, over).run(effort)


class _Tiler:
    """One call of `tile`."""

    def __init__(self, problem: Problem, seed: int, over: Callable[[], bool]) -> None:
        self.problem, self.seed, self.over = problem, seed, over
        self.eps = _SAME * max((max(r.size) for r in problem.rooms), default=0.0)
        self.shapes = [
            s
            for s, n in enumerate(problem.required)
            if n and not problem.shapes[s].polygon.interiors
        ]
        self.most = [problem.required[s] for s in self.shapes]
        self.ways = [Ways(problem, c, self.shapes, self.eps) for c in range(len(problem.rooms))]
        self.found: dict[object, PackedSheet] = {}

    def run(self, effort: int) -> Tiling:
        if not self.shapes:
            return Tiling()
        self._join_blocks(_PAIRS * effort)
        result = self._result()
        if result.complete or self.over() or sum(self.most) > _DEEP:
            return result
        searches = [result.plan, ()] if result.plan else [()]
        for plan in searches:
            self._fill_corners(plan, effort // len(searches))
            result = self._result()
            if result.complete or self.over():
                break
        return result

    def _join_blocks(self, effort: int) -> None:
        for c, container in enumerate(self.problem.containers):
            corners = corners_of(container.room, self.eps)
            if corners and self.problem.quantities[c] > 0 and self.ways[c].outlines:
                joining = Joining(self.ways[c], self.most, corners, self.eps)
                for puts in joining.run(effort // len(self.ways), self.over):
                    self._keep(c, puts)

    def _fill_corners(self, plan: Sequence[PackedSheet], effort: int) -> None:
        """Search the corners of the containers that a plan leaves, with the pieces it leaves."""
        containers = self.problem.containers
        search = CornerSearch(
            self.ways,
            [region_of(c.room, self.eps) for c in containers],
            self._stock(plan),
            self._left(plan),
            [self.problem.polygon_areas[s] for s in self.shapes],
            self.eps,
        )
        search.run(effort, self.seed, self.over)
        for c, puts in search.found:
            self._keep(c, puts)

    def _stock(self, plan: Sequence[PackedSheet]) -> list[float]:
        used = [sum(s.runs for s in plan if s.container == c) for c in range(len(self.ways))]
        return [q - n for q, n in zip(self.problem.quantities, used, strict=True)]

    def _left(self, plan: Sequence[PackedSheet]) -> list[int]:
        made = [p.shape for s in plan for p in s.placements for _ in range(s.runs)]
        return [n - made.count(s) for s, n in zip(self.shapes, self.most, strict=True)]

    def _keep(self, container: int, puts: Sequence[Put]) -> None:
        placements = tuple(map(self.ways[container].placement, puts))
        sheet = PackedSheet(container, placements)
        if len(self.found) < _MOST and self._is_allowed(sheet):
            self.found.setdefault(pattern(sheet), sheet)

    def _is_allowed(self, sheet: PackedSheet) -> bool:
        counts: Counter[int] = Counter()
        for p in sheet.placements:
            if not self.problem.allowed(p.shape, counts):
                return False
            counts[p.shape] += 1
        return True

    def _result(self) -> Tiling:
        found = tuple(self.found.values())
        if not found:
            return Tiling()
        chosen = choose_layouts(self.problem, found, self.seed)
        full = {(s.container, s.placements) for s in found}
        plan = tuple(s for s in chosen if (s.container, s.placements) in full)
        left = sum(
            n * self.problem.polygon_areas[s]
            for s, n in zip(self.shapes, self._left(plan), strict=True)
        )
        rooms = [
            r.area for r, q in zip(self.problem.rooms, self._stock(plan), strict=True) if q > 0
        ]
        return Tiling(plan, found, left < min(rooms, default=math.inf) * (1 - _SAME))
