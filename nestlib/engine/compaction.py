"""Make a layout exact and shorter by linear programs.

Every pair of neighbouring convex pieces keeps to the two sides of a line: the side of one
of the two that separates them best at present. With these lines fixed, the shortest strip
is a linear program in the positions; then the lines are chosen anew.

Z. Li, V. Milenkovic, "Compaction and separation algorithms for non-convex polygons and
their applications", EJOR 84 (1995) 539-561; A. M. Gomes, J. F. Oliveira, "Solving irregular
strip packing problems by hybridising simulated annealing and linear programming", EJOR 171
(2006) 811-829.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from scipy.optimize import linprog
from scipy.sparse import coo_array

from nestlib.engine.catalogue import Catalogue, Floats, Ints, Kind, turn_points
from nestlib.engine.convex import convex_pieces
from nestlib.engine.kernel import allocating, grown
from nestlib.engine.minkowski import half_planes

#: Overlaps no deeper than this, in units of the side of the mean part, are contacts.
EXACT = 1e-8


class Pieces(NamedTuple):
    """Convex pieces of all orientations.

    Parameters
    ----------
    first : ndarray of int64, shape (o + 1,)
        Pieces of each orientation.
    start : ndarray of int64, shape (pieces + 1,)
        Vertices of each piece.
    points : ndarray, shape (vertices, 2)
        Vertices, counter-clockwise.
    """

    first: Ints
    start: Ints
    points: Floats


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


@allocating
def separating_lines(
    cat: Catalogue, pcs: Pieces, turn: Ints, x: Floats, y: Floats, reach: float, movable: int
) -> tuple[Ints, Floats, int, float]:
    """Choose a line for every two convex pieces of different parts that are close.

    Returns
    -------
    pairs : ndarray, shape (m, 2)
        Parts i and j.
    lines : ndarray, shape (m, 3)
        n and c: the pieces are apart if n . (p_j - p_i) >= c.
    m : int
        How many there are.
    deepest : float
        How deep the worst two pieces are in each other; negative if all are apart.
    """
    n = x.shape[0]
    pairs, lines = np.empty((256, 2), dtype=np.int64), np.empty((256, 3))
    m, deepest = 0, -np.inf
    for i in range(movable):
        a = turn[i]
        for j in range(i + 1, n):
            b = turn[j]
            dx, dy = x[j] - x[i], y[j] - y[i]
            if (
                cat.box[b, 0] + dx > cat.box[a, 2] + reach
                or cat.box[b, 2] + dx < cat.box[a, 0] - reach
                or cat.box[b, 1] + dy > cat.box[a, 3] + reach
                or cat.box[b, 3] + dy < cat.box[a, 1] - reach
            ):
                continue
            planes, start = half_planes(
                pcs.points,
                pcs.start,
                pcs.first[a],
                pcs.first[a + 1],
                pcs.points,
                pcs.start,
                pcs.first[b],
                pcs.first[b + 1],
            )
            head = m
            for s in range(start.shape[0] - 1):
                best, k = -np.inf, 0
                for q in range(start[s], start[s + 1]):
                    d = planes[q, 0] * dx + planes[q, 1] * dy - planes[q, 2]
                    if d > best:
                        best, k = d, q
                deepest = max(deepest, -best)
                if best > reach:
                    continue
                old = False
                for q in range(head, m):
                    if (
                        abs(lines[q, 0] - planes[k, 0]) < 1e-9
                        and abs(lines[q, 1] - planes[k, 1]) < 1e-9
                    ):
                        lines[q, 2] = max(lines[q, 2], planes[k, 2])
                        old = True
                        break
                if old:
                    continue
                if m == lines.shape[0]:
                    pairs, lines = grown(pairs, m, 2 * m), grown(lines, m, 2 * m)
                pairs[m, 0], pairs[m, 1] = i, j
                for c in range(3):
                    lines[m, c] = planes[k, c]
                m += 1
    return pairs, lines, m, deepest


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


def _ranges(
    box: Floats, x: Floats, y: Floats, bounds: Bounds, trust: float
) -> tuple[Floats, Floats]:
    """Return the least and greatest coordinates of all parts."""
    free = np.arange(len(x)) < bounds.movable
    low = [np.maximum(x - trust, -box[:, 0]), np.maximum(y - trust, -box[:, 1])]
    high = [x + trust, np.minimum(y + trust, bounds.width - box[:, 3])]
    least = np.concatenate([np.where(free, v, c) for v, c in zip(low, (x, y), strict=True)])
    most = np.concatenate([np.where(free, v, c) for v, c in zip(high, (x, y), strict=True)])
    return least, np.maximum(least, most)


def _solve(
    box: Floats,
    pairs: Ints,
    lines: Floats,
    x: Floats,
    y: Floats,
    bounds: Bounds,
    trust: float,
    elastic: bool,
) -> tuple[Floats, Floats] | None:
    """Solve one linear program; None if nothing satisfies it."""
    n, m, k = len(x), len(lines), bounds.movable
    row, part = np.arange(m), np.arange(k)
    i, j = pairs.T
    nx, ny, c = lines.T
    rows = [row, row, row, row, m + part, m + part]
    cols = [i, j, n + i, n + j, part, np.full(k, 2 * n)]
    vals = [nx, -nx, ny, -ny, np.ones(k), -np.ones(k)]
    cost = np.concatenate([np.full(2 * n, 1e-5 / n), [1.0]])
    low, high = _ranges(box, x, y, bounds, trust)
    low, high = np.append(low, 0.0), np.append(high, bounds.length)
    if elastic:
        rows.append(row)
        cols.append(2 * n + 1 + row)
        vals.append(-np.ones(m))
        cost = np.concatenate([cost, np.full(m, 50.0)])
        low, high = np.concatenate([low, np.zeros(m)]), np.concatenate([high, np.full(m, np.inf)])
    a = coo_array(
        (np.concatenate(vals), (np.concatenate(rows), np.concatenate(cols))), (m + k, len(cost))
    ).tocsr()
    b = np.concatenate([-c, -box[:k, 2]])
    found = linprog(
        cost,
        A_ub=a,
        b_ub=b,
        bounds=np.column_stack([low, high]),
        method="highs-ds",
        options={"primal_feasibility_tolerance": 1e-10, "dual_feasibility_tolerance": 1e-9},
    )
    if found.x is None or found.status not in (0, 1):
        return None
    return found.x[:n], found.x[n : 2 * n]


def compact(
    cat: Catalogue,
    pcs: Pieces,
    turn: Ints,
    x: Floats,
    y: Floats,
    bounds: Bounds,
    trust: float = 0.2,
    rounds: int = 12,
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
        Most linear programs.

    Returns
    -------
    length, x, y
        The layout, exact within `EXACT`; None if no such was found.
    """
    box = cat.box[turn]
    reach = 2.9 * trust
    best: tuple[float, Floats, Floats] | None = None
    pairs, lines, m, deepest = separating_lines(cat, pcs, turn, x, y, reach, bounds.movable)
    for _ in range(rounds):
        found = _solve(box, pairs[:m], lines[:m], x, y, bounds, trust, False)
        if found is None:
            found = _solve(box, pairs[:m], lines[:m], x, y, bounds, trust, True)
        if found is None:
            return best
        x, y = found
        pairs, lines, m, deepest = separating_lines(cat, pcs, turn, x, y, reach, bounds.movable)
        length = float((x + box[:, 2])[: bounds.movable].max())
        if deepest > EXACT or length > bounds.length + EXACT:
            continue
        gain = np.inf if best is None else best[0] - length
        if gain > 0:
            best = (length, x, y)
        if gain < 1e-5 * length:
            break
    return best
