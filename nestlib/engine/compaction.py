"""Make a layout exact and shorter by linear programs.

Every pair of neighbouring convex pieces keeps to the two sides of a line (module
`separating_lines`). With these lines fixed, the shortest strip is a linear program in the
positions; then the lines are chosen anew.

Of many parts only those in a window move, each on its own; what is to the left stays, what
is to the right moves along as a whole. The window goes through the strip from left to right,
so that the time grows as the number of parts.

Z. Li, V. Milenkovic, "Compaction and separation algorithms for non-convex polygons and
their applications", EJOR 84 (1995) 539-561; A. M. Gomes, J. F. Oliveira, "Solving irregular
strip packing problems by hybridising simulated annealing and linear programming", EJOR 171
(2006) 811-829.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import linprog
from scipy.sparse import coo_array

from nestlib.engine.catalogue import Catalogue, Floats, Ints, Kind, turn_points
from nestlib.engine.convex import convex_pieces
from nestlib.engine.separating_lines import Pieces, separating_lines

__all__ = ["EXACT", "Bounds", "Pieces", "compact", "pieces"]

#: Overlaps no deeper than this, in units of the side of the mean part, are contacts.
EXACT = 1e-8

#: With more parts than this a window is moved through the strip.
WHOLE = 120

#: Parts in a window, and by how many it goes on.
WINDOW, ONWARD = 60, 30

#: Gains below this share of the length are not worth another linear program.
_LEAST = 1e-5

#: What an overlap costs for its depth, and a coordinate compared with the length.
_OVERLAP, _COORDINATE = 50.0, 1e-5

#: Groups of parts that stay and of parts that move along; those that move have their number.
_STAYS, _ALONG = -1, -2


def pieces(cat: Catalogue, kinds: Sequence[Kind]) -> Pieces:
    """Cut all orientations into convex pieces."""
    first, start, points = [0], [0], []
    for kind in kinds:
        found = convex_pieces(kind.polygon)
        for angle, flip in kind.turns:
            for p in found:
                points.append(turn_points(p[::-1] if flip else p, angle, flip))
                start.append(start[-1] + len(p))
            first.append(len(start) - 1)
    return Pieces(np.array(first), np.array(start), np.concatenate(points))


class Bounds(NamedTuple):
    """Where parts may lie.

    Parameters
    ----------
    width : float
        Height of the room along y.
    length : float
        Greatest length of the room along x; infinite for a strip.
    movable : int
        Parts from this number on are walls.
    """

    width: float
    length: float
    movable: int


def compact(
    cat: Catalogue,
    pcs: Pieces,
    turn: Ints,
    x: Floats,
    y: Floats,
    bounds: Bounds,
    trust: float = 0.2,
    rounds: int = 12,
    over: Callable[[], bool] = lambda: False,
) -> tuple[float, Floats, Floats] | None:
    """Move parts a little so that they do not overlap and the strip is short.

    Parameters
    ----------
    cat, pcs : Catalogue, Pieces
        The shapes.
    turn, x, y : ndarray, shape (n,)
        Layout whose parts overlap little or not at all.
    bounds : Bounds
        Where parts may lie.
    trust : float
        How far a part may move along x and y in one step.
    rounds : int
        Most linear programs; of many parts, most of those that one part takes part in.
    over : callable
        Whether to stop after the linear program in hand, with what is exact until then.

    Returns
    -------
    length, x, y
        The layout, exact within `EXACT`; None if no such was found.
    """
    layout = _Layout(cat, pcs, turn, cat.box[turn], x.copy(), y.copy(), bounds, trust)
    whole = bounds.movable <= WHOLE
    best: tuple[float, Floats, Floats] | None = None
    for _ in range(rounds if whole else max(1, rounds * ONWARD // WINDOW)):
        if over() or not (layout.move_all() if whole else layout.move_windows(over)):
            break
        length = layout.length
        if layout.deepest > EXACT or length > bounds.length + EXACT:
            continue
        gain = np.inf if best is None else best[0] - length
        if gain > 0:
            best = (length, layout.x.copy(), layout.y.copy())
        if gain < _LEAST * length:
            break
    return best


_Lines = tuple[Ints, Floats]


@dataclass
class _Layout:
    """A layout whose parts are moved by linear programs."""

    cat: Catalogue
    pcs: Pieces
    turn: Ints
    box: Floats
    x: Floats
    y: Floats
    bounds: Bounds
    trust: float

    def __post_init__(self) -> None:
        n, m = len(self.x), self.bounds.movable
        self.every = np.where(np.arange(n) < m, np.arange(n), _STAYS)
        self.lines: _Lines | None = None
        self.deepest = np.inf

    @property
    def length(self) -> float:
        """Return where the last part ends."""
        return float((self.x + self.box[:, 2])[: self.bounds.movable].max())

    def move_all(self) -> bool:
        """Move all parts by one linear program; return whether it had a solution."""
        if self.lines is None:
            self._look()
        done = self.lines is not None and self._solve(self.every, self.lines)
        self._look()
        return done

    def move_windows(self, over: Callable[[], bool]) -> bool:
        """Move the parts of one window after the other; return whether any moved."""
        m, walls = self.bounds.movable, len(self.x) > self.bounds.movable
        middle = self.x + (self.box[:, 0] + self.box[:, 2]) / 2
        order = np.argsort(middle[:m], kind="stable")
        done = False
        for first in range(0, max(m - WINDOW, 0) + ONWARD, ONWARD):
            if over():
                return False
            inside = order[first : first + WINDOW]
            group = np.full(len(self.x), _STAYS)
            if not walls:
                group[order[first + WINDOW :]] = _ALONG
            group[inside] = inside
            lines, _ = self._lines(group, self._near(inside))
            done |= self._solve(group, lines)
        self._look()
        return done

    def _look(self) -> None:
        """Choose the lines between all parts, and see how deep they overlap."""
        self.lines, self.deepest = self._lines(self.every, np.arange(len(self.x)))

    def _near(self, inside: Ints) -> Ints:
        """Return all parts that some parts, or two on either side of them, may meet."""
        left, right = self.x + self.box[:, 0], self.x + self.box[:, 2]
        more = (self.box[:, 2] - self.box[:, 0]).max() + 2 * self.trust
        low, high = left[inside].min() - more, right[inside].max() + more
        return np.flatnonzero((right >= low) & (left <= high))

    def _lines(self, group: Ints, among: Ints) -> tuple[_Lines, float]:
        step = np.zeros((len(self.x), 2))
        step[group >= 0] = self.trust
        step[group == _ALONG, 0] = self.trust
        sweep = among[np.argsort((self.x + self.box[:, 0])[among], kind="stable")]
        pairs, lines, m, deepest = separating_lines(
            self.cat, self.pcs, self.turn, self.x, self.y, group, sweep, step
        )
        return (pairs[:m], lines[:m]), deepest

    def _solve(self, group: Ints, lines: _Lines) -> bool:
        """Move parts so that lines keep them apart, or as far apart as they can be."""
        if self._solved(group, lines, False):
            return True
        return len(lines[1]) > 0 and self._solved(group, lines, True)

    def _solved(self, group: Ints, lines: _Lines, elastic: bool) -> bool:
        """Solve one linear program; return False if nothing satisfies it.

        Its variables are x and y of the parts that move; the length of the strip, or by how
        much the parts move that move along; and, if it is elastic, the depth of overlaps.
        """
        free, along = np.flatnonzero(group >= 0), bool((group == _ALONG).any())
        pairs, normals = lines[0], lines[1]
        k, m = len(free), len(normals)
        matrix, limit = self._apart(group, free, pairs, normals)
        if not along:
            ends = np.arange(k)
            matrix.append((m + ends, ends, np.ones(k)))
            matrix.append((m + ends, np.full(k, 2 * k), -np.ones(k)))
            limit = np.concatenate([limit, -self.box[free, 2]])
        low, high = self._ranges(free, group == _ALONG)
        cost = np.append(np.full(2 * k, _COORDINATE / k), 1.0)
        if elastic:
            row = np.arange(m)
            matrix.append((row, 2 * k + 1 + row, -np.ones(m)))
            cost = np.append(cost, self._weights(pairs))
            low, high = np.append(low, np.zeros(m)), np.append(high, np.full(m, np.inf))
        rows, columns, values = (np.concatenate(part) for part in zip(*matrix, strict=True))
        found = linprog(
            cost,
            A_ub=coo_array((values, (rows, columns)), (len(limit), len(cost))).tocsc(),
            b_ub=limit,
            bounds=np.column_stack([low, high]),
            method="highs-ds",
            options={
                "presolve": False,
                "primal_feasibility_tolerance": 1e-10,
                "dual_feasibility_tolerance": 1e-9,
            },
        )
        if found.x is None or found.status not in (0, 1):
            return False
        self.x[free], self.y[free] = found.x[:k], found.x[k : 2 * k]
        self.x[group == _ALONG] += found.x[2 * k]
        return True

    def _apart(
        self, group: Ints, free: Ints, pairs: Ints, normals: Floats
    ) -> tuple[list[tuple[NDArray[np.int64], NDArray[np.int64], Floats]], Floats]:
        """Return the entries of the matrix for lines, and their limits."""
        k, column = len(free), np.full(len(self.x), -1)
        column[free] = np.arange(k)
        matrix, limit = [], -normals[:, 2]
        for part, sign in zip(pairs.T, (1.0, -1.0), strict=True):
            nx, ny = sign * normals[:, 0], sign * normals[:, 1]
            moves, along = group[part] >= 0, group[part] == _ALONG
            own = column[part[moves]]
            matrix.append((np.flatnonzero(moves), own, nx[moves]))
            matrix.append((np.flatnonzero(moves), k + own, ny[moves]))
            matrix.append((np.flatnonzero(along), np.full(along.sum(), 2 * k), nx[along]))
            limit = limit - np.where(moves, 0.0, nx * self.x[part] + ny * self.y[part])
        return matrix, limit

    def _weights(self, pairs: Ints) -> Floats:
        """Return what overlaps cost: less on the right, where the window is going to be."""
        at: Floats = self.x[pairs].sum(axis=1) / 2
        share: Floats = (at - at.min()) / max(float(np.ptp(at)), 1e-9)
        return _OVERLAP * (2.0 - share)

    def _ranges(self, free: Ints, along: NDArray[np.bool_]) -> tuple[Floats, Floats]:
        """Return the least and greatest value of all coordinates and of what comes last."""
        x, y, box, trust = self.x[free], self.y[free], self.box[free], self.trust
        low = np.concatenate([np.maximum(x - trust, -box[:, 0]), np.maximum(y - trust, -box[:, 1])])
        high = np.concatenate([x + trust, np.minimum(y + trust, self.bounds.width - box[:, 3])])
        least, most = 0.0, self.bounds.length
        if along.any():
            end = float((self.x + self.box[:, 2])[along].max())
            least, most = -trust, max(-trust, min(trust, self.bounds.length - end))
        return np.append(low, least), np.append(np.maximum(low, high), most)
