"""Closed tours through all points: 2-opt and Or-opt, disturbed and mended again and again.

Moves look at near neighbours only, and at points whose surroundings have changed (J. L.
Bentley, "Fast algorithms for geometric traveling salesman problems", ORSA Journal on
Computing 4 (1992) 387-411). Between two searches two short neighbouring stretches change
places, and what is longer afterwards is taken back (O. Martin, S. W. Otto, E. W. Felten,
"Large-step Markov chains for the traveling salesman problem", Complex Systems 5 (1991)
299-326). Or-opt: I. Or, thesis, Northwestern University (1976).

A tour is an array of points; `pos` says where in it each point stands. Both are rings.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np
from numpy.typing import NDArray

from nestlib.cutting.kernels_chance import below
from nestlib.cutting.kernels_compiling import njit
from nestlib.cutting.kernels_queue import push

_EPS = 1e-7

#: Longest stretch that Or-opt moves, and that a disturbance moves.
_SEGMENT = 3
_STRETCH = 50


@njit
def apart(xy: NDArray[np.float64], a: int, b: int, whole: bool) -> float:
    """Return the distance of two points, rounded to a whole number on demand."""
    d = math.sqrt((xy[a, 0] - xy[b, 0]) ** 2 + (xy[a, 1] - xy[b, 1]) ** 2)
    return math.floor(d + 0.5) if whole else d


@njit
def tour_length(xy: NDArray[np.float64], tour: NDArray[Any], whole: bool) -> float:
    """Return the length of a closed tour."""
    total = 0.0
    for i in range(len(tour)):
        total += apart(xy, tour[i - 1], tour[i], whole)
    return total


@njit
def _reverse(tour: NDArray[Any], pos: NDArray[Any], i: int, j: int) -> None:
    """Turn the stretch from place i to place j around, or all the rest: the same ring."""
    n = len(tour)
    size = (j - i) % n + 1
    if 2 * size > n:
        i, j = (j + 1) % n, (i - 1) % n
        size = n - size
    for _ in range(size // 2):
        a, b = tour[i], tour[j]
        tour[i], tour[j] = b, a
        pos[b], pos[a] = i, j
        i = i + 1 if i + 1 < n else 0
        j = j - 1 if j > 0 else n - 1


@njit
def _shift(tour: NDArray[Any], pos: NDArray[Any], i: int, size: int, p: int, turned: bool) -> None:
    """Move `size` points from place i on to between places p and p + 1, maybe turned."""
    n = len(tour)
    held = np.empty(size, np.int32)
    for k in range(size):
        held[k] = tour[(i + k) % n]
    ahead = (p - (i + size - 1)) % n
    behind = (i - 1 - p) % n
    if ahead <= behind:
        for k in range(ahead):
            c = tour[(i + size + k) % n]
            tour[(i + k) % n] = c
            pos[c] = (i + k) % n
        first = (i + ahead) % n
    else:
        for k in range(behind):
            c = tour[(i - 1 - k) % n]
            tour[(i + size - 1 - k) % n] = c
            pos[c] = (i + size - 1 - k) % n
        first = (p + 1) % n
    for k in range(size):
        c = held[size - 1 - k] if turned else held[k]
        tour[(first + k) % n] = c
        pos[c] = (first + k) % n


@njit
def _two_opt(
    xy: NDArray[np.float64],
    whole: bool,
    near: NDArray[Any],
    tour: NDArray[Any],
    pos: NDArray[Any],
    a: int,
    ends: NDArray[Any],
) -> tuple[float, int]:
    """Turn a stretch around that begins or ends at a; return what it saves."""
    n = len(tour)
    for step in (1, -1):
        b = tour[(pos[a] + step) % n]
        d_ab = apart(xy, a, b, whole)
        for k in range(near.shape[1]):
            c = near[a, k]
            gain = d_ab - apart(xy, a, c, whole)
            if gain <= _EPS:
                break
            d = tour[(pos[c] + step) % n]
            gain += apart(xy, c, d, whole) - apart(xy, b, d, whole)
            if gain > _EPS:
                if step == 1:
                    _reverse(tour, pos, pos[b], pos[c])
                else:
                    _reverse(tour, pos, pos[a], pos[d])
                ends[0], ends[1], ends[2], ends[3] = a, b, c, d
                return gain, 4
    return 0.0, 0


@njit
def _or_opt(
    xy: NDArray[np.float64],
    whole: bool,
    near: NDArray[Any],
    tour: NDArray[Any],
    pos: NDArray[Any],
    a: int,
    ends: NDArray[Any],
) -> tuple[float, int]:
    """Move up to three points with a at one end; return what it saves."""
    n = len(tour)
    for size in range(1, min(_SEGMENT, n - 3) + 1):
        for front in (True, False):
            i = pos[a] if front else (pos[a] - size + 1) % n
            s, e = tour[i], tour[(i + size - 1) % n]
            p, q = tour[(i - 1) % n], tour[(i + size) % n]
            o = e if front else s
            freed = apart(xy, p, s, whole) + apart(xy, e, q, whole) - apart(xy, p, q, whole)
            for k in range(near.shape[1]):
                c = near[a, k]
                d_ac = apart(xy, a, c, whole)
                if d_ac >= freed - _EPS:
                    break
                if (pos[c] - i) % n < size:
                    continue
                for step in (1, -1):
                    x = tour[(pos[c] + step) % n]
                    if (pos[x] - i) % n < size:
                        continue
                    gain = freed - d_ac - apart(xy, o, x, whole) + apart(xy, c, x, whole)
                    if gain > _EPS:
                        at = pos[c] if step == 1 else pos[x]
                        _shift(tour, pos, i, size, at, (step == 1) != front)
                        ends[0], ends[1], ends[2] = p, q, s
                        ends[3], ends[4], ends[5] = e, c, x
                        return gain, 6
    return 0.0, 0


@njit
def descend(
    xy: NDArray[np.float64],
    whole: bool,
    near: NDArray[Any],
    tour: NDArray[Any],
    pos: NDArray[Any],
    queue: NDArray[Any],
    queued: NDArray[np.bool_],
    count: int,
) -> float:
    """Carry out moves until no point in the queue has one; return what they save."""
    ends = np.empty(6, np.int64)
    saved = 0.0
    while count:
        count -= 1
        a = queue[count]
        queued[a] = False
        while True:
            gain, touched = _two_opt(xy, whole, near, tour, pos, a, ends)
            if touched == 0:
                gain, touched = _or_opt(xy, whole, near, tour, pos, a, ends)
            if touched == 0:
                break
            saved += gain
            for k in range(touched):
                count = push(queue, queued, count, ends[k])
    return saved


@njit
def _disturb(
    xy: NDArray[np.float64],
    whole: bool,
    tour: NDArray[Any],
    pos: NDArray[Any],
    state: NDArray[np.uint64],
    queue: NDArray[Any],
    queued: NDArray[np.bool_],
) -> tuple[float, int]:
    """Let two short stretches change places; return what it costs, and the queue's length."""
    n = len(tour)
    most = max(1, min(_STRETCH, (n - 2) // 2))
    one, two = 1 + below(state, most), 1 + below(state, most)
    i = below(state, n)
    held = np.empty(one + two, np.int32)
    for k in range(one + two):
        held[k] = tour[(i + 1 + k) % n]
    before, after = tour[i], tour[(i + one + two + 1) % n]
    a, b, c, d = held[0], held[one - 1], held[one], held[one + two - 1]
    added = apart(xy, before, c, whole) + apart(xy, d, a, whole) + apart(xy, b, after, whole)
    added -= apart(xy, before, a, whole) + apart(xy, b, c, whole) + apart(xy, d, after, whole)
    for k in range(one + two):
        moved = held[(k + one) % (one + two)]
        tour[(i + 1 + k) % n] = moved
        pos[moved] = (i + 1 + k) % n
    count = 0
    for end in (before, a, b, c, d, after):
        count = push(queue, queued, count, end)
    return added, count


@njit
def search(
    xy: NDArray[np.float64],
    whole: bool,
    near: NDArray[Any],
    tour: NDArray[Any],
    state: NDArray[np.uint64],
    rounds: int,
) -> None:
    """Disturb and mend a tour so many times; the tour never becomes longer.

    Parameters
    ----------
    xy : ndarray, shape (n, 2)
        Points, five at least.
    whole : bool
        Whether distances are rounded to whole numbers.
    near : ndarray of int, shape (n, k)
        Neighbours of each point, the nearest first.
    tour : ndarray of int32, shape (n,)
        Changed in place.
    state : ndarray of uint64
        Of chance, changed in place.
    rounds : int
        How many disturbances; with 0 the tour is only brought to a local optimum.
    """
    n = len(tour)
    pos = np.empty(n, np.int32)
    queue, queued = np.empty(n, np.int32), np.zeros(n, np.bool_)
    count = 0
    for i in range(n - 1, -1, -1):
        pos[tour[i]] = i
        if rounds == 0:
            count = push(queue, queued, count, tour[i])
    descend(xy, whole, near, tour, pos, queue, queued, count)
    kept, kept_pos = tour.copy(), pos.copy()
    for _ in range(rounds):
        added, count = _disturb(xy, whole, tour, pos, state, queue, queued)
        added -= descend(xy, whole, near, tour, pos, queue, queued, count)
        if added > _EPS:
            tour[:] = kept
            pos[:] = kept_pos
        else:
            kept[:] = tour
            kept_pos[:] = pos
