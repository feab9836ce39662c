"""Conditions, linear in small moves and turns, under which parts keep apart and in their room.

As in `compaction`, every two convex pieces keep to the two sides of a line, the side of one
of them. Here that side turns with its part, and each vertex of the other piece that may
touch it has a condition of its own, linear in the small turns of both parts:

    n . (q - p) + s n' . (q0 - p0 + v) + t n . v' >= h - n . v

where p and q are the reference points, n the normal of the side and h its distance from p,
v the vertex seen from q, s and t the turns of the two parts, and ' a quarter turn. What is
left out is of the second order in the turns.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from scipy.optimize import linprog
from scipy.sparse import coo_array, csr_array

from nestlib.engine.catalogue import Floats, Ints
from nestlib.engine.compaction import Bounds, Pieces
from nestlib.engine.kernel import allocating, grown


class Conditions(NamedTuple):
    """Conditions A v <= b on v = (x, y, turns counter-clockwise, turns clockwise, length).

    Each of the n parts has one variable of each sort; a turn, in radians, is the difference
    of two that are not negative.

    Parameters
    ----------
    matrix : sparse array, shape (m + w, 4 n + 1)
        A: first the conditions that keep two parts apart, then those of the room's box.
    limit : ndarray, shape (m + w,)
        b.
    pairs : ndarray, shape (m, 2)
        The two parts of each of the former.
    """

    matrix: csr_array
    limit: Floats
    pairs: Ints


def least_cost(
    cost: Floats, matrix: csr_array, limit: Floats, between: tuple[Floats, Floats]
) -> Floats | None:
    """Return the variables of least cost that keep conditions; None if nothing does.

    Parameters
    ----------
    cost : ndarray, shape (k,)
        Of a unit of each variable.
    matrix, limit : sparse array, shape (m, k); ndarray, shape (m,)
        Matrix times variables is no greater than the limit.
    between : tuple of ndarray, shape (k,)
        Least and greatest value of each variable.
    """
    found = linprog(
        cost,
        A_ub=matrix,
        b_ub=limit,
        bounds=np.column_stack(between),
        method="highs-ds",
        options={"primal_feasibility_tolerance": 1e-9, "dual_feasibility_tolerance": 1e-9},
    )
    variables: Floats | None = found.x if found.status in (0, 1) else None
    return variables


def conditions(
    pcs: Pieces,
    box: Floats,
    radius: Floats,
    x: Floats,
    y: Floats,
    move: float,
    turn: Floats,
    bounds: Bounds,
) -> Conditions:
    """Return what must hold around a layout.

    Parameters
    ----------
    pcs : Pieces
        Each part, turned as it lies, as an orientation of its own.
    box : ndarray, shape (n, 4)
        Its box: left, bottom, right, top, seen from its reference point.
    radius : ndarray, shape (n,)
        Distance of its farthest vertex from there.
    x, y : ndarray, shape (n,)
        Reference points.
    move : float
        How far a part may move along x and y.
    turn : ndarray, shape (n,)
        How far each may turn, radians.
    bounds : Bounds
        Where parts may lie.
    """
    n, k = len(x), bounds.movable
    pairs, terms, m = _meeting(pcs, box, radius, x, y, move, turn, k)
    i, j = pairs[:m].T
    nx, ny, s, t, c = terms[:m].T
    which, where, w = _outermost(pcs, box, turn, k)
    part, side = which[:w].T
    vx, vy = where[:w].T
    row, wall = np.arange(m), m + np.arange(w)
    # Sides: left and bottom inwards, right up to the length, top up to the width.
    along = side % 2 == 0
    sign = np.where(side < 2, -1.0, 1.0)
    end = side == 2
    count = int(end.sum())
    rows = [row, row, row, row, row, row, wall, wall, wall[end]]
    cols = [i, j, n + i, n + j, 2 * n + i, 2 * n + j]
    cols += [np.where(along, part, n + part), 2 * n + part, np.full(count, 4 * n)]
    vals = [nx, -nx, ny, -ny, -s, -t]
    vals += [sign, sign * np.where(along, -vy, vx), -np.ones(count)]
    rows += [row, row, wall]
    cols += [3 * n + i, 3 * n + j, 3 * n + part]
    vals += [s, t, -vals[7]]
    matrix = coo_array(
        (np.concatenate(vals), (np.concatenate(rows), np.concatenate(cols))), (m + w, 4 * n + 1)
    )
    room = np.where(side == 3, bounds.width, 0.0) - sign * np.where(along, vx, vy)
    return Conditions(matrix.tocsr(), np.concatenate([-c, room]), pairs[:m])


@allocating
def _beyond(p: Floats, a: int, b: int, q: Floats, c: int, d: int, gap: Floats) -> tuple[float, int]:
    """Return how far vertices c to d of `q` are beyond the best side of vertices a to b of `p`.

    `gap` is where the reference point of `q` is, seen from that of `p`.
    """
    best, side = -np.inf, a
    for v in range(a, b):
        w = v + 1 if v + 1 < b else a
        nx, ny = p[w, 1] - p[v, 1], p[v, 0] - p[w, 0]
        long = np.hypot(nx, ny)
        if long == 0.0:
            continue
        least = np.inf
        for u in range(c, d):
            far = nx * (q[u, 0] + gap[0] - p[v, 0]) + ny * (q[u, 1] + gap[1] - p[v, 1])
            least = min(least, far)
        if least / long > best:
            best, side = least / long, v
    return best, side


@allocating
def _meeting(
    pcs: Pieces,
    box: Floats,
    radius: Floats,
    x: Floats,
    y: Floats,
    move: float,
    turn: Floats,
    movable: int,
) -> tuple[Ints, Floats, int]:
    """Find the conditions of all convex pieces that may touch within one step.

    Each of the m conditions is n . (p_j - p_i) + s turn_i + t turn_j >= c. The parts i and j
    are returned as an array of shape (m, 2) or longer; n, s, t and c as one of shape (m, 5).
    """
    parts, terms, m = np.empty((1024, 2), dtype=np.int64), np.empty((1024, 5)), 0
    gap, pts = np.empty(2), pcs.points
    pieces = pcs.start.shape[0] - 1
    around = np.empty((pieces, 4))
    for s in range(pieces):
        around[s, 0], around[s, 1], around[s, 2], around[s, 3] = np.inf, np.inf, -np.inf, -np.inf
        for v in range(pcs.start[s], pcs.start[s + 1]):
            for c in range(2):
                around[s, c] = min(around[s, c], pts[v, c])
                around[s, 2 + c] = max(around[s, 2 + c], pts[v, c])
    for i in range(movable):
        for j in range(i + 1, x.shape[0]):
            reach = 2.9 * move + turn[i] * radius[i] + turn[j] * radius[j]
            dx, dy = x[j] - x[i], y[j] - y[i]
            if (
                box[j, 0] + dx > box[i, 2] + reach
                or box[j, 2] + dx < box[i, 0] - reach
                or box[j, 1] + dy > box[i, 3] + reach
                or box[j, 3] + dy < box[i, 1] - reach
            ):
                continue
            for a in range(pcs.first[i], pcs.first[i + 1]):
                for b in range(pcs.first[j], pcs.first[j + 1]):
                    if (
                        around[b, 0] + dx > around[a, 2] + reach
                        or around[b, 2] + dx < around[a, 0] - reach
                        or around[b, 1] + dy > around[a, 3] + reach
                        or around[b, 3] + dy < around[a, 1] - reach
                    ):
                        continue
                    a0, a1 = pcs.start[a], pcs.start[a + 1]
                    b0, b1 = pcs.start[b], pcs.start[b + 1]
                    gap[0], gap[1] = dx, dy
                    far, v = _beyond(pts, a0, a1, pts, b0, b1, gap)
                    gap[0], gap[1] = -dx, -dy
                    back, w = _beyond(pts, b0, b1, pts, a0, a1, gap)
                    if max(far, back) > reach:
                        continue
                    own = far >= back
                    if not own:
                        a0, a1, b0, b1, v, far = b0, b1, a0, a1, w, back
                    p, q = (i, j) if own else (j, i)
                    gx, gy = x[q] - x[p], y[q] - y[p]
                    e = v + 1 if v + 1 < a1 else a0
                    nx, ny = pts[e, 1] - pts[v, 1], pts[v, 0] - pts[e, 0]
                    long = np.hypot(nx, ny)
                    nx, ny = nx / long, ny / long
                    h = nx * pts[v, 0] + ny * pts[v, 1]
                    lowest = b0
                    for u in range(b0, b1):
                        if (
                            nx * (pts[u, 0] - pts[lowest, 0]) + ny * (pts[u, 1] - pts[lowest, 1])
                            < 0
                        ):
                            lowest = u
                    both = turn[i] + turn[j]
                    for u in range(b0, b1):
                        ux, uy = pts[u, 0] - pts[lowest, 0], pts[u, 1] - pts[lowest, 1]
                        if nx * ux + ny * uy > both * np.hypot(ux, uy):
                            continue
                        if m == terms.shape[0]:
                            parts, terms = grown(parts, m, 2 * m), grown(terms, m, 2 * m)
                        s = -ny * (gx + pts[u, 0]) + nx * (gy + pts[u, 1])
                        t = -nx * pts[u, 1] + ny * pts[u, 0]
                        parts[m, 0], parts[m, 1] = p, q
                        terms[m, 0], terms[m, 1] = nx, ny
                        terms[m, 2], terms[m, 3] = s, t
                        terms[m, 4] = h - nx * pts[u, 0] - ny * pts[u, 1]
                        m += 1
    return parts, terms, m


@allocating
def _outermost(pcs: Pieces, box: Floats, turn: Floats, movable: int) -> tuple[Ints, Floats, int]:
    """List the vertices that may be the outermost of their part: part and side; vertex."""
    which, where, m = np.empty((256, 2), dtype=np.int64), np.empty((256, 2)), 0
    for i in range(movable):
        for v in range(pcs.start[pcs.first[i]], pcs.start[pcs.first[i + 1]]):
            px, py = pcs.points[v, 0], pcs.points[v, 1]
            for side in range(4):
                inward = (px - box[i, 0], py - box[i, 1], box[i, 2] - px, box[i, 3] - py)[side]
                across = (
                    max(box[i, 3] - py, py - box[i, 1])
                    if side % 2 == 0
                    else max(box[i, 2] - px, px - box[i, 0])
                )
                if inward > 1.01 * turn[i] * across + 1e-12:
                    continue
                if m == where.shape[0]:
                    which, where = grown(which, m, 2 * m), grown(where, m, 2 * m)
                which[m, 0], which[m, 1] = i, side
                where[m, 0], where[m, 1] = px, py
                m += 1
    return which, where, m
