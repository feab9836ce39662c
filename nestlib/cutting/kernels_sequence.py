"""Short open ways through contours, some of which have to be cut before others.

Neighbouring stretches change places without being turned around, which keeps most orders
that are demanded (the exchange of three arcs that preserves paths: L. M. Gambardella, M.
Dorigo, "An ant colony system hybridized with a new local search for the sequential ordering
problem", INFORMS Journal on Computing 12 (2000) 237-255), stretches are turned around as a
whole or piece by piece, and each contour is entered at that of its places which is best where
it stands. Disturbed and mended as in `kernels_tour`.

Terms
-----
item
    A contour; ``order`` lists the items, ``pos`` says where each one stands.
place
    Where an item may be entered: items' places are stretches of one list, item i has those
    from ``first[i]`` to ``first[i + 1]``. ``chosen[i]`` is the one taken.
unit
    Items that stay together; an item of its own where nothing has to.
piece
    The part an item belongs to; runs of a piece are turned around as one.
pairs
    ``after[i]`` are the items that may be cut only after i, ``before[i]`` the other way
    round; both as stretches like the places.
"""

from __future__ import annotations

import math
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from nestlib.cutting.kernels_chance import below
from nestlib.cutting.kernels_compiling import njit
from nestlib.cutting.kernels_queue import push

_EPS = 1e-7

#: Longest stretch that is tried as the shorter of two, that is moved over, and turned.
_SHORT = 12
_FAR = 1500
_TURNED = 100

#: Longest stretches that a disturbance moves.
_DISTURBED = 8


class Sequencing(NamedTuple):
    """What is to be ordered; see the module for the words.

    Parameters
    ----------
    into, out : ndarray, shape (k, 2)
        Where the beam begins at each place, and where it ends then.
    first : ndarray of int, shape (n + 1,)
        Places of each item.
    unit, piece : ndarray of int, shape (n,)
        Of each item.
    after, after_first, before, before_first : ndarray of int
        Pairs.
    near : ndarray of int, shape (n, m)
        Items worth coming next.
    start : ndarray, shape (2,)
        Where the way begins.
    apart : float
        A step shorter than this costs `price` more.
    price : float
        In mm.
    """

    into: NDArray[Any]
    out: NDArray[Any]
    first: NDArray[Any]
    unit: NDArray[Any]
    piece: NDArray[Any]
    after: NDArray[Any]
    after_first: NDArray[Any]
    before: NDArray[Any]
    before_first: NDArray[Any]
    near: NDArray[Any]
    start: NDArray[Any]
    apart: float
    price: float


@njit
def _cost(q: Sequencing, d: float) -> float:
    return d + q.price if d < q.apart else d


@njit
def _step(q: Sequencing, order: NDArray[Any], chosen: NDArray[Any], i: int, j: int) -> float:
    """Cost of going from the item at place i to that at place j; none from the last."""
    if j >= len(order):
        return 0.0
    b = chosen[order[j]]
    if i < 0:
        return math.sqrt((q.into[b, 0] - q.start[0]) ** 2 + (q.into[b, 1] - q.start[1]) ** 2)
    return _between(q, chosen[order[i]], b)


@njit
def _between(q: Sequencing, a: int, b: int) -> float:
    d = math.sqrt((q.into[b, 0] - q.out[a, 0]) ** 2 + (q.into[b, 1] - q.out[a, 1]) ** 2)
    return _cost(q, d)


@njit
def way_cost(q: Sequencing, order: NDArray[Any], chosen: NDArray[Any]) -> float:
    """Return the length of a way and what short steps cost."""
    total = 0.0
    for i in range(len(order)):
        total += _step(q, order, chosen, i - 1, i)
    return total


@njit
def _same_unit(q: Sequencing, order: NDArray[Any], i: int, j: int) -> Any:
    return q.unit[order[i]] == q.unit[order[j]]


@njit
def _edge(q: Sequencing, order: NDArray[Any], i: int) -> Any:
    """Whether a unit begins at place i."""
    return i <= 0 or i >= len(order) or not _same_unit(q, order, i - 1, i)


@njit
def _may_swap(
    q: Sequencing, order: NDArray[Any], pos: NDArray[Any], i: int, j: int, k: int
) -> bool:
    """Whether places i..j may come after places j+1..k."""
    if not _same_unit(q, order, i, k) and not (
        _edge(q, order, i) and _edge(q, order, j + 1) and _edge(q, order, k + 1)
    ):
        return False
    if j - i < k - j:
        for p in range(i, j + 1):
            for s in q.after[q.after_first[order[p]] : q.after_first[order[p] + 1]]:
                if j < pos[s] <= k:
                    return False
    else:
        for p in range(j + 1, k + 1):
            for s in q.before[q.before_first[order[p]] : q.before_first[order[p] + 1]]:
                if i <= pos[s] <= j:
                    return False
    return True


@njit
def _write(
    order: NDArray[Any], pos: NDArray[Any], i: int, held: NDArray[Any], span: NDArray[Any]
) -> None:
    for p in range(len(held)):
        order[i + p] = held[p]
        pos[held[p]] = i + p
    span[0] = min(span[0], i)
    span[1] = max(span[1], i + len(held) - 1)


@njit
def _swap(
    order: NDArray[Any], pos: NDArray[Any], i: int, j: int, k: int, span: NDArray[Any]
) -> None:
    _write(order, pos, i, np.concatenate((order[j + 1 : k + 1], order[i : j + 1])), span)


@njit
def _swap_saves(
    q: Sequencing, order: NDArray[Any], chosen: NDArray[Any], i: int, j: int, k: int
) -> float:
    saved = _step(q, order, chosen, i - 1, i) + _step(q, order, chosen, j, j + 1)
    saved += _step(q, order, chosen, k, k + 1)
    saved -= _step(q, order, chosen, i - 1, j + 1) + _step(q, order, chosen, k, i)
    return saved - _step(q, order, chosen, j, k + 1)


@njit
def _exchange(
    q: Sequencing,
    order: NDArray[Any],
    pos: NDArray[Any],
    chosen: NDArray[Any],
    at: int,
    to: int,
    span: NDArray[Any],
    ends: NDArray[Any],
) -> float:
    """Let the item at place `to` follow that at place `at`, if an exchange pays."""
    n = len(order)
    best, bi, bj, bk = _EPS, -1, -1, -1
    if to > at + 1 and to - at <= _FAR:
        for k in range(to, min(n, to + _SHORT)):
            saved = _swap_saves(q, order, chosen, at + 1, to - 1, k)
            if saved > best and _may_swap(q, order, pos, at + 1, to - 1, k):
                best, bi, bj, bk = saved, at + 1, to - 1, k
        for i in range(max(0, at - _SHORT), at + 1):
            saved = _swap_saves(q, order, chosen, i, at, to - 1)
            if saved > best and _may_swap(q, order, pos, i, at, to - 1):
                best, bi, bj, bk = saved, i, at, to - 1
    elif 0 <= to < at and at - to <= _FAR:
        for j in range(to, at):
            if to + _SHORT <= j < at - _SHORT:
                continue
            saved = _swap_saves(q, order, chosen, to, j, at)
            if saved > best and _may_swap(q, order, pos, to, j, at):
                best, bi, bj, bk = saved, to, j, at
    if bi < 0:
        return 0.0
    for p, e in enumerate((bi - 1, bi, bj, bj + 1, bk, min(bk + 1, n - 1))):
        ends[p] = order[max(e, 0)]
    _swap(order, pos, bi, bj, bk, span)
    return best


@njit
def _turned(q: Sequencing, order: NDArray[Any], i: int, j: int, singly: bool) -> NDArray[Any]:
    """Items of places i..j the other way round, one by one or by runs of a piece."""
    held = np.empty(j - i + 1, order.dtype)
    filled = 0
    p = j
    while p >= i:
        b = p
        while not singly and b > i and q.piece[order[b - 1]] == q.piece[order[p]]:
            b -= 1
        for s in range(b, p + 1):
            held[filled] = order[s]
            filled += 1
        p = b - 1
    return held


@njit
def _may_turn(
    q: Sequencing, order: NDArray[Any], pos: NDArray[Any], i: int, j: int, singly: bool
) -> bool:
    """Whether no item of places i..j comes before one that it has to follow."""
    for p in range(i, j + 1):
        for s in q.before[q.before_first[order[p]] : q.before_first[order[p] + 1]]:
            if i <= pos[s] <= j:
                if singly or q.piece[s] != q.piece[order[p]]:
                    return False
                for between in range(pos[s], p):
                    if q.piece[order[between]] != q.piece[s]:
                        return False
    return True


@njit
def _turn(
    q: Sequencing,
    order: NDArray[Any],
    pos: NDArray[Any],
    chosen: NDArray[Any],
    i: int,
    j: int,
    span: NDArray[Any],
    ends: NDArray[Any],
) -> float:
    """Turn places i..j around, if it pays."""
    if not 0 < j - i < _TURNED:
        return 0.0
    within = _same_unit(q, order, i, j)
    if not within and not (_edge(q, order, i) and _edge(q, order, j + 1)):
        return 0.0
    for singly in (True, False):
        f, g = (
            (i, j) if singly else (min(j, _run_end(q, order, i)), max(i, _run_begin(q, order, j)))
        )
        # Within, steps cost nearly the same both ways: only promising ones are measured.
        cost = _step(q, order, chosen, i - 1, g)
        if j + 1 < len(order):
            cost += _step(q, order, chosen, f, j + 1)
        old = _step(q, order, chosen, i - 1, i) + _step(q, order, chosen, j, j + 1)
        if cost > old - _EPS:
            continue
        before, now = old, cost
        for p in range(i + 1, j + 1):
            before += _step(q, order, chosen, p - 1, p)
        held = _turned(q, order, i, j, singly)
        for p in range(1, len(held)):
            now += _between(q, chosen[held[p - 1]], chosen[held[p]])
        if before - now > _EPS and _may_turn(q, order, pos, i, j, singly):
            ends[0], ends[1], ends[2] = order[max(i - 1, 0)], order[i], order[j]
            ends[3], ends[4], ends[5] = order[min(j + 1, len(order) - 1)], held[0], held[-1]
            _write(order, pos, i, held, span)
            return before - now
    return 0.0


@njit
def _choose(
    q: Sequencing,
    order: NDArray[Any],
    pos: NDArray[Any],
    chosen: NDArray[Any],
    a: int,
    span: NDArray[Any],
) -> float:
    """Enter an item where it is best; return what it saves."""
    i = pos[a]
    was = chosen[a]
    now = _step(q, order, chosen, i - 1, i) + _step(q, order, chosen, i, i + 1)
    low, best = now - _EPS, was
    for c in range(q.first[a], q.first[a + 1]):
        chosen[a] = c
        cost = _step(q, order, chosen, i - 1, i) + _step(q, order, chosen, i, i + 1)
        if cost < low:
            low, best = cost, c
    chosen[a] = best
    if best == was:
        return 0.0
    span[0], span[1] = min(span[0], i), max(span[1], i)
    return now - low


@njit
def _improve(
    q: Sequencing,
    order: NDArray[Any],
    pos: NDArray[Any],
    chosen: NDArray[Any],
    a: int,
    span: NDArray[Any],
    ends: NDArray[Any],
) -> float:
    """Carry out the first move that pays and gives `a` a nearer follower."""
    at = pos[a]
    here = _step(q, order, chosen, at, at + 1)
    last = at + 1 == len(order)
    for c in q.near[a]:
        d = _between(q, chosen[a], chosen[c])
        if not last and d >= here - _EPS:
            continue
        saved = _exchange(q, order, pos, chosen, at, pos[c], span, ends)
        if saved == 0.0 and pos[c] > at + 1:
            saved = _turn(q, order, pos, chosen, at + 1, _run_end(q, order, pos[c]), span, ends)
            if saved == 0.0:
                saved = _turn(q, order, pos, chosen, at + 1, pos[c], span, ends)
        if saved == 0.0 and pos[c] < at:
            # Turned around, the one before c would come next to the one after a.
            saved = _turn(q, order, pos, chosen, pos[c], at - 1, span, ends)
            if saved == 0.0:
                saved = _turn(q, order, pos, chosen, pos[c] + 1, at, span, ends)
        if saved > 0.0:
            return saved
    return 0.0


@njit
def _run_begin(q: Sequencing, order: NDArray[Any], i: int) -> int:
    """Place of the first item of the run of a piece that ends or goes on at place i."""
    while i > 0 and q.piece[order[i - 1]] == q.piece[order[i]]:
        i -= 1
    return i


@njit
def _run_end(q: Sequencing, order: NDArray[Any], i: int) -> int:
    """Place of the last item of the run of a piece that begins or goes on at place i."""
    while i + 1 < len(order) and q.piece[order[i + 1]] == q.piece[order[i]]:
        i += 1
    return i


@njit
def _descend(
    q: Sequencing,
    order: NDArray[Any],
    pos: NDArray[Any],
    chosen: NDArray[Any],
    queue: NDArray[Any],
    queued: NDArray[np.bool_],
    count: int,
    span: NDArray[Any],
) -> float:
    """Carry out moves until no item in the queue has one; return what they save."""
    ends = np.empty(6, np.int64)
    total = 0.0
    while count:
        count -= 1
        a = queue[count]
        queued[a] = False
        total += _choose(q, order, pos, chosen, a, span)
        saved = _improve(q, order, pos, chosen, a, span, ends)
        if saved > 0.0:
            total += saved
            for e in ends:
                count = push(queue, queued, count, e)
            count = push(queue, queued, count, a)
    return total


@njit
def _unit_end(q: Sequencing, order: NDArray[Any], i: int) -> int:
    while not _edge(q, order, i + 1):
        i += 1
    return i


@njit
def _disturb(
    q: Sequencing,
    order: NDArray[Any],
    pos: NDArray[Any],
    chosen: NDArray[Any],
    state: NDArray[np.uint64],
    span: NDArray[Any],
    ends: NDArray[Any],
) -> float:
    """Let two short stretches change places where that is allowed; return what it costs."""
    n = len(order)
    i = below(state, n)
    j = min(n - 1, i + below(state, _DISTURBED))
    k = min(n - 1, j + 1 + below(state, _DISTURBED))
    if k <= j:
        return np.inf
    if not _same_unit(q, order, i, k):
        while not _edge(q, order, i):
            i -= 1
        j = _unit_end(q, order, j)
        if j + 1 >= n:
            return np.inf
        k = _unit_end(q, order, max(k, j + 1))
    if not _may_swap(q, order, pos, i, j, k):
        return np.inf
    cost = -_swap_saves(q, order, chosen, i, j, k)
    for p, e in enumerate((max(i - 1, 0), i, j, j + 1, k, min(k + 1, n - 1))):
        ends[p] = order[e]
    _swap(order, pos, i, j, k, span)
    return cost


@njit
def search(
    q: Sequencing, order: NDArray[Any], chosen: NDArray[Any], state: NDArray[np.uint64], rounds: int
) -> None:
    """Disturb and mend a way so many times, in place; it never becomes more costly.

    Parameters
    ----------
    q : Sequencing
        What is to be ordered, two items at least.
    order, chosen : ndarray of int
        A way that keeps all pairs and units.
    state : ndarray of uint64
        Of chance.
    rounds : int
        How many disturbances; with 0 the way is only brought to a local optimum.
    """
    n = len(order)
    pos = np.empty(n, np.int64)
    queue, queued = np.empty(n, np.int64), np.zeros(n, np.bool_)
    ends = np.empty(6, np.int64)
    span = np.array([n, -1])
    count = 0
    for i in range(n - 1, -1, -1):
        pos[order[i]] = i
        if rounds == 0:
            count = push(queue, queued, count, order[i])
    _descend(q, order, pos, chosen, queue, queued, count, span)
    kept, kept_chosen = order.copy(), chosen.copy()
    for _ in range(rounds):
        span[0], span[1] = n, -1
        cost = _disturb(q, order, pos, chosen, state, span, ends)
        if cost == np.inf:
            continue
        count = 0
        for e in ends:
            count = push(queue, queued, count, e)
        cost -= _descend(q, order, pos, chosen, queue, queued, count, span)
        for i in range(span[0], span[1] + 1):
            if cost <= _EPS:
                kept[i] = order[i]
                kept_chosen[order[i]] = chosen[order[i]]
            else:
                order[i] = kept[i]
                pos[order[i]] = i
                chosen[order[i]] = kept_chosen[order[i]]


@njit
def best_places(q: Sequencing, order: NDArray[Any], chosen: NDArray[Any]) -> None:
    """Choose the best places of all items for an order: a shortest way through layers."""
    n = len(order)
    widest = 0
    for a in range(n):
        widest = max(widest, q.first[a + 1] - q.first[a])
    came = np.zeros((n, widest), np.int32)
    cost, following = np.zeros(widest), np.zeros(widest)
    for i in range(n):
        a = order[i]
        for k in range(q.first[a + 1] - q.first[a]):
            b = q.first[a] + k
            if i == 0:
                x, y = q.into[b, 0] - q.start[0], q.into[b, 1] - q.start[1]
                following[k] = math.sqrt(x**2 + y**2)
                continue
            low, via = np.inf, 0
            p = order[i - 1]
            for j in range(q.first[p + 1] - q.first[p]):
                found = cost[j] + _between(q, q.first[p] + j, b)
                if found < low:
                    low, via = found, j
            following[k] = low
            came[i, k] = via
        cost[:] = following
    a = order[n - 1]
    k = int(np.argmin(cost[: q.first[a + 1] - q.first[a]]))
    for i in range(n - 1, -1, -1):
        chosen[order[i]] = q.first[order[i]] + k
        k = came[i, k]


@njit
def nearest_first(q: Sequencing) -> tuple[NDArray[Any], NDArray[Any]]:
    """Always go to the nearest place of an item that may come; return order and places.

    A unit that is begun is finished, and none is begun before all that it has to follow.
    """
    n = len(q.first) - 1
    order, chosen = np.empty(n, np.int64), q.first[:-1].copy()
    waits = np.zeros(n, np.int64)
    outside = np.zeros(n, np.int64)
    left = np.zeros(n, np.int64)
    done = np.zeros(n, np.bool_)
    for a in range(n):
        left[q.unit[a]] += 1
        for b in q.before[q.before_first[a] : q.before_first[a + 1]]:
            waits[a] += 1
            outside[q.unit[a]] += q.unit[b] != q.unit[a]
    x, y, within = q.start[0], q.start[1], -1
    for i in range(n):
        low, best, place = np.inf, -1, -1
        for a in range(n):
            if done[a] or waits[a]:
                continue
            if q.unit[a] != within if within >= 0 else outside[q.unit[a]] > 0:
                continue
            for c in range(q.first[a], q.first[a + 1]):
                d = (q.into[c, 0] - x) ** 2 + (q.into[c, 1] - y) ** 2
                if d < low:
                    low, best, place = d, a, c
        order[i], chosen[best], done[best] = best, place, True
        x, y = q.out[place]
        for b in q.after[q.after_first[best] : q.after_first[best + 1]]:
            waits[b] -= 1
            outside[q.unit[b]] -= q.unit[b] != q.unit[best]
        left[q.unit[best]] -= 1
        within = q.unit[best] if left[q.unit[best]] else -1
    return order, chosen
