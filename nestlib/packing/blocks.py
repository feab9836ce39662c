"""Convex blocks of convex pieces that share whole edges, until a block fills a room.

A room that was cut up by straight cuts from edge to edge, again and again, is put together
by joining two blocks at a time along an edge of equal length. That few edges are equally
long keeps the number of blocks small. Rectangles are joined bottom-up in this way, with
waste, in

P. Y. Wang, "Two algorithms for constrained two-dimensional cutting stock problems",
Operations Research 31 (1983) 573-586.
"""

from __future__ import annotations

import heapq
import math
from collections import defaultdict
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from itertools import product

from nestlib.packing.tiling_ways import Put, Ways

Point = tuple[float, float]

#: Cells of the table of edges, in multiples of the distance below which points are the same.
_CELL = 100.0

#: As much work as joining two blocks is looking at so many pairs of edges.
_BLOCK = 20


@dataclass(frozen=True, eq=False)
class Block:
    """Some pieces side by side.

    Parameters
    ----------
    counts : int
        How many pieces of each kind: see `_Counts`.
    area : float
        Its area.
    points : tuple of (float, float)
        Its corners, counter-clockwise.
    parts : tuple of (int, float, float), or of (Block, float, float)
        What it consists of and how far that is moved: one piece, or two blocks.
    """

    counts: int
    area: float
    points: tuple[Point, ...]
    parts: tuple[Put] | tuple[tuple[Block, float, float], tuple[Block, float, float]]

    @property
    def size(self) -> Point:
        """Width and height."""
        xs, ys = zip(*self.points, strict=True)
        return max(xs) - min(xs), max(ys) - min(ys)


class _Counts:
    """Numbers of pieces of each kind as one whole number, so that they add up at once."""

    def __init__(self, most: Sequence[int]) -> None:
        self.bits = max(most).bit_length() + 1
        guard = sum(1 << (k * self.bits + self.bits - 1) for k in range(len(most)))
        self.guard = guard
        self.limit = guard + sum(n << (k * self.bits) for k, n in enumerate(most))

    def one(self, kind: int) -> int:
        return 1 << (kind * self.bits)

    def allow(self, counts: int) -> bool:
        return (self.limit - counts) & self.guard == self.guard


class Joining:
    """Joins pieces to ever larger blocks for one room.

    Parameters
    ----------
    ways : Ways
        The pieces.
    most : sequence of int
        How many pieces of each kind there are.
    corners : sequence of (float, float)
        Of the convex room, counter-clockwise.
    eps : float
        Points closer than this are the same.
    """

    def __init__(
        self, ways: Ways, most: Sequence[int], corners: Sequence[Point], eps: float
    ) -> None:
        self.eps, self.corners = eps, corners
        self.room = Block(0, _area(corners), tuple(corners), ((0, 0.0, 0.0),))
        self.width, self.height = (s + eps for s in self.room.size)
        self.counts = _Counts(most)
        self.edges: dict[tuple[int, int], list[tuple[Block, int]]] = defaultdict(list)
        self.queue: list[tuple[float, int, Block]] = []
        self.seen: set[tuple[int, tuple[tuple[int, int], ...]]] = set()
        self.done = 0
        for way, outline in enumerate(ways.outlines):
            points = tuple((float(x), float(y)) for x, y in outline)
            if is_convex(points):
                counts = self.counts.one(int(ways.kinds[way]))
                self._push(Block(counts, _area(points), points, ((way, 0.0, 0.0),)))

    def run(self, effort: int, over: Callable[[], bool]) -> Iterator[tuple[Put, ...]]:
        """Yield ways to fill the room, small blocks being joined first.

        Parameters
        ----------
        effort : int
            How many pairs of equal edges to look at; a new block counts as `_BLOCK` of them.
        over : callable
            Asked now and then whether to end early.
        """
        while self.queue and self.done < effort and not over():
            block = heapq.heappop(self.queue)[2]
            if shift := self._fills(block):
                yield tuple(_puts(block, *shift))
                continue
            for k, (dx, dy) in enumerate(_steps(block.points)):
                self.edges[round(dx / self._cell), round(dy / self._cell)].append((block, k))
            for k, (dx, dy) in enumerate(_steps(block.points)):
                for other, j in self._edges_like(-dx, -dy):
                    self.done += 1
                    self._join(block, k, other, j)

    @property
    def _cell(self) -> float:
        return _CELL * self.eps

    def _edges_like(self, dx: float, dy: float) -> Iterator[tuple[Block, int]]:
        """Edges that are the same vector, in the up to four cells where they may be listed."""
        x, y = dx / self._cell, dy / self._cell
        near = 1.5 / _CELL
        columns, rows = ({round(v - near), round(v + near)} for v in (x, y))
        for cell in product(sorted(columns), sorted(rows)):
            yield from self.edges.get(cell, ())

    def _join(self, a: Block, i: int, b: Block, j: int) -> None:
        counts = a.counts + b.counts
        area = a.area + b.area
        if area > self.room.area * (1 + 1e-9) or not self.counts.allow(counts):
            return
        n, m = len(a.points), len(b.points)
        end, start = a.points[(i + 1) % n], b.points[j]
        dx, dy = end[0] - start[0], end[1] - start[1]
        first = [a.points[(i + 1 + k) % n] for k in range(n)]
        second = [b.points[(j + 2 + k) % m] for k in range(m - 2)]
        points = first + [(x + dx, y + dy) for x, y in second]
        # Only the two ends of the common edge may have become straight, or dents.
        bends = {0: self._bend(points, 0), n - 1: self._bend(points, n - 1)}
        if min(bends.values()) < -self.eps:
            return
        kept = tuple(p for k, p in enumerate(points) if bends.get(k, 1.0) > self.eps)
        block = Block(counts, area, kept, ((a, 0.0, 0.0), (b, dx, dy)))
        width, height = block.size
        if width <= self.width and height <= self.height:
            self._push(block)

    def _bend(self, points: Sequence[Point], k: int) -> float:
        """How far a vertex lies outside the line through its neighbours."""
        (ax, ay), (bx, by), (cx, cy) = points[k - 1], points[k], points[(k + 1) % len(points)]
        across = (bx - ax) * (cy - ay) - (by - ay) * (cx - ax)
        return across / math.hypot(cx - ax, cy - ay)

    def _push(self, block: Block) -> None:
        x, y = min(block.points)
        cells = (
            (round((p - x) / self._cell), round((q - y) / self._cell)) for p, q in block.points
        )
        key = block.counts, tuple(sorted(cells))
        if key not in self.seen:
            self.seen.add(key)
            self.done += _BLOCK
            heapq.heappush(self.queue, (block.area, len(self.seen), block))

    def _fills(self, block: Block) -> Point | None:
        """How far a block has to be moved so that it fills the room; None if it cannot."""
        if len(block.points) != len(self.corners) or abs(block.area / self.room.area - 1) > 1e-9:
            return None
        (x, y), (u, v) = min(self.corners), min(block.points)
        dx, dy = x - u, y - v
        apart = (
            min(max(abs(p + dx - s), abs(q + dy - t)) for s, t in self.corners)
            for p, q in block.points
        )
        return (dx, dy) if max(apart) <= 10 * self.eps else None


def is_convex(points: Sequence[Point]) -> bool:
    """Return whether a ring, counter-clockwise, bends to the left everywhere.

    Parameters
    ----------
    points : sequence of (float, float)
        Its vertices; none on a straight line.
    """
    steps = list(_steps(points))
    return all(
        u * z - v * w > 0 for (u, v), (w, z) in zip(steps, steps[1:] + steps[:1], strict=True)
    )


def _steps(points: Sequence[Point]) -> Iterator[Point]:
    """The edges as vectors."""
    for k, (x, y) in enumerate(points):
        u, v = points[(k + 1) % len(points)]
        yield u - x, v - y


def _area(points: Sequence[Point]) -> float:
    x0, y0 = points[0]
    ends = zip(points, (*points[1:], points[0]), strict=True)
    return 0.5 * sum((x - x0) * (v - y0) - (u - x0) * (y - y0) for (x, y), (u, v) in ends)


def _puts(block: Block, dx: float, dy: float) -> Iterator[Put]:
    """All pieces of a block that is moved."""
    for part, x, y in block.parts:
        if isinstance(part, Block):
            yield from _puts(part, dx + x, dy + y)
        else:
            yield part, dx + x, dy + y
