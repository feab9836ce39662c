"""Strokes joined end to end.

Terms
-----
node
    A place where ends of strokes meet.
free end
    A node that only one stroke reaches. Gaps are closed between free ends only, so that
    a short edge is never swallowed by the tolerance.
spur
    Strokes that hang on a contour and lead to a free end.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components
from scipy.spatial import cKDTree

from nestlib.drawings.sketch import Place, Stroke, Style, chain
from nestlib.model.contour import Contour, FloatArray

IntArray = NDArray[np.int64]

#: Ends closer than this are the same point, rounded differently, and are joined without
#: a word; in mm.
ROUNDING = 1e-3


@dataclass(frozen=True, eq=False)
class Run:
    """Strokes that follow one another.

    Parameters
    ----------
    contour : Contour
        Closed or open, in mm.
    style : Style
        That of the first stroke.
    order : int
        Position of the first stroke in the file.
    """

    contour: Contour
    style: Style
    order: int


@dataclass(frozen=True)
class Gap:
    """A gap that was closed, or that was left open because it is too wide."""

    size: float
    place: Place


@dataclass
class Joined:
    """What became of the strokes.

    Parameters
    ----------
    closed : list of Run
        Contours.
    open : list of Run
        Chains with two free ends.
    branching : list of Run
        Pieces of contours that branch.
    branches : list of (list of Place, Style)
        For each contour that branches, where.
    gaps : list of Gap
        Those that were closed.
    crumbs : list of Stroke
        Strokes too short to matter, left out.
    """

    closed: list[Run] = field(default_factory=list)
    open: list[Run] = field(default_factory=list)
    branching: list[Run] = field(default_factory=list)
    branches: list[tuple[list[Place], Style]] = field(default_factory=list)
    gaps: list[Gap] = field(default_factory=list)
    crumbs: list[Stroke] = field(default_factory=list)


def join(strokes: Iterable[Stroke], tolerance: float) -> Joined:
    """Join strokes whose ends meet.

    Parameters
    ----------
    strokes : iterable of Stroke
        Closed ones are contours already.
    tolerance : float
        Free ends closer than this are joined, nearest first, in mm.

    Returns
    -------
    Joined
    """
    result = Joined()
    edges = []
    for stroke in strokes:
        contour = stroke.contour
        if contour.closed:
            result.closed.append(Run(contour, stroke.style, stroke.order))
        elif contour.length <= 2 * ROUNDING:
            result.crumbs.append(stroke)
        else:
            edges.append(stroke)
    if edges:
        _Net(edges, tolerance, result).follow()
    result.closed.sort(key=lambda run: run.order)
    return result


class _Net:
    """Open strokes as edges between nodes."""

    def __init__(self, strokes: Sequence[Stroke], tolerance: float, result: Joined) -> None:
        self.strokes, self.result = strokes, result
        ends = np.array([s.contour.points[[0, -1]] for s in strokes]).reshape(-1, 2)
        nodes = _clusters(ends, ROUNDING)
        nodes = self._bridge(ends, nodes, tolerance)
        count = int(nodes.max()) + 1
        weight = np.bincount(nodes, minlength=count)
        self.places = np.column_stack(
            [np.bincount(nodes, ends[:, k], minlength=count) / weight for k in (0, 1)]
        )
        #: Nodes at the two ends of each edge.
        self.pairs = nodes.reshape(-1, 2)
        self.at: list[set[int]] = [set() for _ in range(count)]
        for edge, (a, b) in enumerate(self.pairs):
            self.at[a].add(edge)
            self.at[b].add(edge)

    def _bridge(self, ends: FloatArray, nodes: IntArray, tolerance: float) -> IntArray:
        """Join free ends across gaps, nearest first."""
        free = np.flatnonzero(np.bincount(nodes)[nodes] == 1)
        pairs = cKDTree(ends[free]).query_pairs(tolerance, output_type="ndarray")
        gaps = sorted((math.dist(ends[free[i]], ends[free[j]]), free[i], free[j]) for i, j in pairs)
        used: set[int] = set()
        nodes = nodes.copy()
        for size, i, j in gaps:
            if i in used or j in used or self._is_short(i, j, size):
                continue
            used.update((i, j))
            nodes[j] = nodes[i]
            x, y = (ends[i] + ends[j]) / 2
            self.result.gaps.append(Gap(size, (float(x), float(y))))
        return np.unique(nodes, return_inverse=True)[1].astype(np.int64)

    def _is_short(self, i: int, j: int, gap: float) -> bool:
        """Whether two ends belong to one stroke that is hardly longer than its gap."""
        return i // 2 == j // 2 and self.strokes[i // 2].contour.length < 4 * gap

    def follow(self) -> None:
        """Take the net apart into contours, open chains and what branches."""
        for nodes in self._components():
            edges = {e for n in nodes for e in self.at[n]}
            degrees = {n: self._degree(n) for n in nodes}
            if max(degrees.values()) > 2:
                self._prune(nodes, edges)
            else:
                self._take(edges, self.result.open)

    def _components(self) -> list[list[int]]:
        count = len(self.at)
        graph = coo_array((np.ones(len(self.pairs)), self.pairs.T), shape=(count, count))
        labels = connected_components(graph, directed=False)[1]
        groups: list[list[int]] = [[] for _ in range(int(labels.max()) + 1)]
        for node, label in enumerate(labels):
            groups[label].append(node)
        return groups

    def _degree(self, node: int) -> int:
        return sum(2 if self.pairs[e][0] == self.pairs[e][1] else 1 for e in self.at[node])

    def _prune(self, nodes: list[int], edges: set[int]) -> None:
        """Cut the spurs off a branching piece; what is left may be a clean contour."""
        crowded = [n for n in nodes if self._degree(n) > 2]
        style = self.strokes[min(edges)].style
        spurs: set[int] = set()
        ends = [n for n in nodes if self._degree(n) == 1]
        while ends:
            node = ends.pop()
            for edge in list(self.at[node]):
                spurs.add(edge)
                a, b = self.pairs[edge]
                self.at[a].discard(edge)
                self.at[b].discard(edge)
                ends.extend(n for n in (a, b) if self._degree(n) == 1)
        still = [n for n in nodes if self._degree(n) > 2]
        bodies = self.result.branching if still else self.result.open
        places = [self._place(n) for n in (still or crowded)]
        self.result.branches.append((places, style))
        self._take(edges - spurs, bodies)
        for edge in spurs:
            for node in self.pairs[edge]:
                self.at[node].add(edge)
        self._take(spurs, self.result.branching)

    def _place(self, node: int) -> Place:
        x, y = self.places[node]
        return float(x), float(y)

    def _take(self, edges: set[int], opens: list[Run]) -> None:
        """Walk all given edges; closed runs are contours, the others go to `opens`."""
        left = set(edges)
        starts = sorted(
            (e, end) for e in edges for end in (0, 1) if self._degree(self.pairs[e][end]) != 2
        )
        for edge, end in starts:
            if edge in left:
                self._finish(self._walk(edge, end, left), opens)
        for edge in sorted(edges):
            if edge in left:
                self._finish(self._walk(edge, 0, left), opens)

    def _walk(self, edge: int, end: int, left: set[int]) -> list[tuple[int, int]]:
        """Edges from one end of an edge as far as the way is clear, each with its first end."""
        steps = []
        while True:
            left.discard(edge)
            steps.append((edge, end))
            node = self.pairs[edge][1 - end]
            onward = [e for e in self.at[node] if e in left]
            if self._degree(node) != 2 or not onward:
                return steps
            edge = onward[0]
            end = 0 if self.pairs[edge][0] == node else 1

    def _finish(self, steps: list[tuple[int, int]], opens: list[Run]) -> None:
        """Make a run of the edges that were walked."""
        pieces = []
        for edge, end in steps:
            contour = self.strokes[edge].contour
            contour = contour.reversed() if end else contour
            points = contour.points.copy()
            points[0] = self.places[self.pairs[edge][end]]
            points[-1] = self.places[self.pairs[edge][1 - end]]
            pieces.append(Contour(points, contour.bulges, closed=False))
        whole = chain(pieces)
        first = self.strokes[min(edge for edge, _ in steps)]
        start, stop = self.pairs[steps[0][0]][steps[0][1]], self._last_node(steps)
        if start == stop and (len(steps) > 1 or len(whole) > 2) and self._degree(start) == 2:
            closed = Contour(whole.points[:-1], whole.bulges[:-1])
            self.result.closed.append(Run(closed, first.style, first.order))
        else:
            opens.append(Run(whole, first.style, first.order))

    def _last_node(self, steps: list[tuple[int, int]]) -> int:
        edge, end = steps[-1]
        return int(self.pairs[edge][1 - end])


def _clusters(points: FloatArray, distance: float) -> IntArray:
    """Number the groups of points that hang together by steps of at most `distance`."""
    pairs = cKDTree(points).query_pairs(distance, output_type="ndarray")
    count = len(points)
    graph = coo_array((np.ones(len(pairs)), pairs.T), shape=(count, count))
    return np.asarray(connected_components(graph, directed=False)[1], dtype=np.int64)
