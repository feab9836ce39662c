"""Lines that keep neighbouring convex pieces apart, for linear programs.

Every two neighbouring pieces keep to the two sides of a line: the side of one of the two
that separates them best at present.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from nestlib.engine.catalogue import Catalogue, Floats, Ints
from nestlib.engine.kernel import allocating, grown

#: Normals closer than this are one.
_SAME = 1e-9


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


@allocating
def _sides(pcs: Pieces, turn: Ints) -> tuple[Floats, Floats]:
    """Return the sides and boxes of the pieces of all orientations that are used.

    Returns
    -------
    sides : ndarray, shape (vertices, 3)
        Of the side that begins at each vertex: outward unit normal n, and c of n . p = c.
    boxes : ndarray, shape (pieces, 4)
        Left, bottom, right, top.
    """
    points = pcs.points
    sides, boxes = np.empty((points.shape[0], 3)), np.empty((pcs.start.shape[0] - 1, 4))
    done = np.zeros(pcs.first.shape[0], dtype=np.int64)
    for i in range(turn.shape[0]):
        o = turn[i]
        if done[o] == 1:
            continue
        done[o] = 1
        for k in range(pcs.first[o], pcs.first[o + 1]):
            boxes[k, 0], boxes[k, 1], boxes[k, 2], boxes[k, 3] = np.inf, np.inf, -np.inf, -np.inf
            for v in range(pcs.start[k], pcs.start[k + 1]):
                w = v + 1 if v + 1 < pcs.start[k + 1] else pcs.start[k]
                nx, ny = points[w, 1] - points[v, 1], points[v, 0] - points[w, 0]
                h = np.hypot(nx, ny)
                nx, ny = nx / h, ny / h
                sides[v, 0], sides[v, 1] = nx, ny
                sides[v, 2] = max(
                    nx * points[v, 0] + ny * points[v, 1], nx * points[w, 0] + ny * points[w, 1]
                )
                for c in range(2):
                    boxes[k, c] = min(boxes[k, c], points[v, c])
                    boxes[k, 2 + c] = max(boxes[k, 2 + c], points[v, c])
    return sides, boxes


@allocating
def _gap(
    pcs: Pieces, sides: Floats, p: int, q: int, dx: float, dy: float, rx: float, ry: float
) -> tuple[float, int]:
    """Return how far apart two pieces are by their best side, and which side that is.

    The second piece is moved by (dx, dy). The side is negative, minus one, if it is one of
    the second piece. If a side shows that they stay apart when they move by less than
    (rx, ry) towards each other the gap is infinite.
    """
    points, best, which = pcs.points, -np.inf, 0
    for own in range(2):
        k, other, sign = (p, q, 1.0) if own == 0 else (q, p, -1.0)
        for v in range(pcs.start[k], pcs.start[k + 1]):
            nx, ny = sides[v, 0], sides[v, 1]
            gap = np.inf
            shift = sign * (nx * dx + ny * dy) - sides[v, 2]
            for u in range(pcs.start[other], pcs.start[other + 1]):
                gap = min(gap, nx * points[u, 0] + ny * points[u, 1] + shift)
                if gap <= best:
                    break
            if gap > best:
                best, which = gap, v if own == 0 else -v - 1
                if gap > rx * abs(nx) + ry * abs(ny):
                    return np.inf, which
    return best, which


@allocating
def separating_lines(
    cat: Catalogue,
    pcs: Pieces,
    turn: Ints,
    x: Floats,
    y: Floats,
    group: Ints,
    sweep: Ints,
    step: Floats,
) -> tuple[Ints, Floats, int, float]:
    """Choose a line for every two convex pieces that might meet after a small move.

    Parameters
    ----------
    cat, pcs : Catalogue, Pieces
        The shapes.
    turn, x, y : ndarray, shape (n,)
        Where the parts lie.
    group : ndarray of int64, shape (n,)
        Parts of the same group keep to each other.
    sweep : ndarray of int64
        The parts to look at, by the left ends of their boxes.
    step : ndarray, shape (n, 2)
        How far each part may move along x and y.

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
    sides, boxes = _sides(pcs, turn)
    pairs, lines = np.empty((256, 2), dtype=np.int64), np.empty((256, 3))
    m, deepest, longest = 0, -np.inf, 0.0
    for k in range(sweep.shape[0]):
        longest = max(longest, step[sweep[k], 0])
    for s in range(sweep.shape[0]):
        for t in range(s + 1, sweep.shape[0]):
            i, j = sweep[s], sweep[t]
            if cat.box[turn[j], 0] + x[j] > cat.box[turn[i], 2] + x[i] + step[i, 0] + longest:
                break
            if group[i] == group[j]:
                continue
            if i > j:
                i, j = j, i
            a, b, dx, dy = turn[i], turn[j], x[j] - x[i], y[j] - y[i]
            rx, ry = step[i, 0] + step[j, 0], step[i, 1] + step[j, 1]
            if (
                cat.box[b, 0] + dx > cat.box[a, 2] + rx
                or cat.box[b, 2] + dx < cat.box[a, 0] - rx
                or cat.box[b, 1] + dy > cat.box[a, 3] + ry
                or cat.box[b, 3] + dy < cat.box[a, 1] - ry
            ):
                continue
            head = m
            for p in range(pcs.first[a], pcs.first[a + 1]):
                for q in range(pcs.first[b], pcs.first[b + 1]):
                    if (
                        boxes[q, 0] + dx > boxes[p, 2] + rx
                        or boxes[q, 2] + dx < boxes[p, 0] - rx
                        or boxes[q, 1] + dy > boxes[p, 3] + ry
                        or boxes[q, 3] + dy < boxes[p, 1] - ry
                    ):
                        continue
                    gap, side = _gap(pcs, sides, p, q, dx, dy, rx, ry)
                    deepest = max(deepest, -gap)
                    if gap == np.inf:
                        continue
                    nx, ny = sides[side, 0], sides[side, 1]
                    if side < 0:
                        nx, ny = -sides[-side - 1, 0], -sides[-side - 1, 1]
                    c = nx * dx + ny * dy - gap
                    old = False
                    for k in range(head, m):
                        if abs(lines[k, 0] - nx) < _SAME and abs(lines[k, 1] - ny) < _SAME:
                            lines[k, 2] = max(lines[k, 2], c)
                            old = True
                            break
                    if old:
                        continue
                    if m == lines.shape[0]:
                        pairs, lines = grown(pairs, m, 2 * m), grown(lines, m, 2 * m)
                    pairs[m, 0], pairs[m, 1] = i, j
                    lines[m, 0], lines[m, 1], lines[m, 2] = nx, ny, c
                    m += 1
    return pairs, lines, m, deepest
