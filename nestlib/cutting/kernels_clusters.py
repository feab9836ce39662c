"""Closed tours through one point of every cluster.

For a given order of the clusters the best points are found exactly, as a shortest way through
layers (M. Fischetti, J. J. Salazar Gonzalez, P. Toth, "A branch-and-cut algorithm for the
symmetric generalized traveling salesman problem", Operations Research 45 (1997) 378-394). The
order is searched by putting clusters elsewhere with the point that fits best there and by
turning stretches around (local searches as in G. Gutin, D. Karapetyan, "A memetic algorithm for
the generalized traveling salesman problem", Natural Computing 9 (2010) 47-60), disturbed and
mended as in `kernels_tour`.

Clusters are stretches of one list: cluster c holds ``members[first[c]:first[c + 1]]``.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from nestlib.cutting.kernels_chance import below
from nestlib.cutting.kernels_compiling import njit

_EPS = 1e-9


@njit
def best_points(
    d: NDArray[np.float64],
    members: NDArray[Any],
    first: NDArray[Any],
    order: NDArray[Any],
    chosen: NDArray[Any],
) -> float:
    """Choose the best point of each cluster for an order; return the tour's length."""
    m = len(order)
    widest = 0
    lead = 0
    for i in range(m):
        size = first[order[i] + 1] - first[order[i]]
        widest = max(widest, size)
        if size < first[order[lead] + 1] - first[order[lead]]:
            lead = i
    came = np.zeros((m, widest), np.int32)
    cost, following = np.empty(widest), np.empty(widest)
    best = np.inf
    top = order[lead]
    for start in members[first[top] : first[top + 1]]:
        held, width = top, 1
        cost[0] = 0.0
        for step in range(1, m):
            c = order[(lead + step) % m]
            for k in range(first[c + 1] - first[c]):
                b = members[first[c] + k]
                low, via = np.inf, 0
                for j in range(width):
                    a = start if step == 1 else members[first[held] + j]
                    if cost[j] + d[a, b] < low:
                        low, via = cost[j] + d[a, b], j
                following[k] = low
                came[step, k] = via
            width = first[c + 1] - first[c]
            cost[:width] = following[:width]
            held = c
        for j in range(width):
            a = start if m == 1 else members[first[held] + j]
            if cost[j] + d[a, start] < best - _EPS:
                best = cost[j] + d[a, start]
                k = j
                for step in range(m - 1, 0, -1):
                    c = order[(lead + step) % m]
                    chosen[c] = members[first[c] + k]
                    k = came[step, k]
                chosen[top] = start
    return best


@njit
def _put_elsewhere(
    d: NDArray[np.float64],
    members: NDArray[Any],
    first: NDArray[Any],
    order: NDArray[Any],
    chosen: NDArray[Any],
    i: int,
) -> bool:
    """Put the cluster at place i where it costs least, with the point that fits there."""
    m = len(order)
    c = order[i]
    p, q = chosen[order[i - 1]], chosen[order[(i + 1) % m]]
    freed = d[p, chosen[c]] + d[chosen[c], q] - d[p, q]
    low, place, point = freed - _EPS, -1, chosen[c]
    for k in range(m):
        after = (k + 1) % m
        a = chosen[order[k if k != i else i - 1]]
        b = chosen[order[after if after != i else (i + 1) % m]]
        for x in members[first[c] : first[c + 1]]:
            added = d[a, x] + d[x, b] - d[a, b]
            if added < low:
                low, place, point = added, k, x
    if place < 0:
        return False
    chosen[c] = point
    if place != i and (place + 1) % m != i:
        if place > i:
            for k in range(i, place):
                order[k] = order[k + 1]
            order[place] = c
        else:
            for k in range(i, place + 1, -1):
                order[k] = order[k - 1]
            order[place + 1] = c
    return True


@njit
def _turn(d: NDArray[np.float64], order: NDArray[Any], chosen: NDArray[Any]) -> bool:
    """Turn the first stretch around that is worth it."""
    m = len(order)
    for i in range(m - 1):
        a, b = chosen[order[i - 1]], chosen[order[i]]
        for j in range(i + 1, m):
            e, f = chosen[order[j]], chosen[order[(j + 1) % m]]
            if f == b:
                continue
            if d[a, e] + d[b, f] < d[a, b] + d[e, f] - _EPS:
                order[i : j + 1] = order[i : j + 1][::-1].copy()
                return True
    return False


@njit
def descend(
    d: NDArray[np.float64],
    members: NDArray[Any],
    first: NDArray[Any],
    order: NDArray[Any],
    chosen: NDArray[Any],
) -> float:
    """Bring a tour to a local optimum of all moves; return its length."""
    length = best_points(d, members, first, order, chosen)
    while True:
        moved = True
        while moved:
            moved = False
            for i in range(len(order)):
                moved |= _put_elsewhere(d, members, first, order, chosen, i)
            moved |= _turn(d, order, chosen)
        found = best_points(d, members, first, order, chosen)
        if found >= length - _EPS:
            return found
        length = found


@njit
def search(
    d: NDArray[np.float64],
    members: NDArray[Any],
    first: NDArray[Any],
    order: NDArray[Any],
    chosen: NDArray[Any],
    state: NDArray[np.uint64],
    rounds: int,
) -> float:
    """Disturb and mend a tour so many times, in place; it never becomes longer.

    Parameters
    ----------
    d : ndarray, shape (n, n)
        Distances of all points.
    members, first : ndarray of int
        Points of the clusters, see the module.
    order : ndarray of int, shape (m,)
        Clusters, four at least.
    chosen : ndarray of int, shape (m,)
        Point of each cluster.
    state : ndarray of uint64
        Of chance.
    rounds : int
        How many disturbances.

    Returns
    -------
    float
        Length of the tour.
    """
    m = len(order)
    length = descend(d, members, first, order, chosen)
    kept, kept_chosen = order.copy(), chosen.copy()
    for _ in range(rounds):
        i = below(state, m - 2)
        one = 1 + below(state, (m - i) // 2)
        two = 1 + below(state, m - i - one)
        held = order[i : i + one].copy()
        order[i : i + two] = order[i + one : i + one + two].copy()
        order[i + two : i + two + one] = held[::-1] if below(state, 2) else held
        found = descend(d, members, first, order, chosen)
        if found <= length + _EPS:
            length = found
            kept[:] = order
            kept_chosen[:] = chosen
        else:
            order[:] = kept
            chosen[:] = kept_chosen
    return length
