"""The geometry of bottom-left placement, on flat arrays.

Terms
-----
trapezoid
    A row ``(x0, x1, lo0, lo1, hi0, hi1)``: the region between x0 < x1, a lower line
    from (x0, lo0) to (x1, lo1) and an upper line from (x0, hi0) to (x1, hi1).
field
    The blocked part of a container, cut into trapezoids that are listed in buckets of
    equal width along x, so that only those near a moving shape are looked at.
free
    A shift of the moving shape is free if no moving trapezoid overlaps a fixed one;
    touching is no overlap. Overlaps up to `eps` count as touching.

A field and shapes cut the other way (x and y exchanged) move things along x by the very
same kernels.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple, TypeVar

from nestlib import kernel_cache

assert kernel_cache.CACHE_FOLDER  # chosen before numba is imported

import numba  # noqa: E402
import numpy as np  # noqa: E402
from numpy.typing import NDArray  # noqa: E402

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

_Function = TypeVar("_Function", bound=Callable[..., object])


def njit(function: _Function) -> _Function:
    """Compile on first use and keep the result; strict IEEE arithmetic, so it is repeatable."""
    compiler = numba.njit(cache=True, error_model="numpy")
    return kernel_cache.compiled_from(kernel_cache.SOURCES, compiler, function)


class Field(NamedTuple):
    """Fixed trapezoids in buckets; the arrays are larger than what is in use.

    Parameters
    ----------
    traps : ndarray, shape (capacity, 6)
        The trapezoids.
    first : ndarray of int, shape (capacity,)
        First bucket of each.
    members : ndarray of int, shape (buckets, depth)
        Trapezoids that reach into each bucket.
    counts : ndarray of int, shape (buckets,)
        How many of them.
    origin, width : float
        Start of the first bucket and width of each.
    """

    traps: FloatArray
    first: IntArray
    members: IntArray
    counts: IntArray
    origin: float
    width: float


@njit
def decompose(edges: FloatArray, xs: FloatArray) -> FloatArray:
    """Cut a region into vertical trapezoids.

    Parameters
    ----------
    edges : ndarray, shape (n, 4)
        Boundary edges (ax, ay, bx, by) with ax < bx; vertical ones left out.
    xs : ndarray, shape (m,)
        All different x of the vertices, increasing.

    Returns
    -------
    ndarray, shape (k, 6)
        Trapezoids whose interiors are disjoint and that cover the region.

    Notes
    -----
    Between two neighbouring x the edges do not cross, so sorted by height they bound the
    region in turn. A trapezoid runs on as long as the same two edges bound it.
    """
    n = len(edges)
    rows = np.empty((16, 6))
    count = 0
    upper = np.full(n, -1, dtype=np.int64)
    row_of = np.full(n, -1, dtype=np.int64)
    crossing = np.empty(n, dtype=np.int64)
    height = np.empty(n)
    for s in range(len(xs) - 1):
        xa, xb = xs[s], xs[s + 1]
        mid = 0.5 * (xa + xb)
        k = 0
        for e in range(n):
            if edges[e, 0] <= xa and edges[e, 2] >= xb:
                y = _line_at(edges[e, 0], edges[e, 1], edges[e, 2], edges[e, 3], mid)
                i = k
                while i > 0 and height[i - 1] > y:
                    height[i] = height[i - 1]
                    crossing[i] = crossing[i - 1]
                    i -= 1
                height[i] = y
                crossing[i] = e
                k += 1
        for i in range(0, k - 1, 2):
            e, g = crossing[i], crossing[i + 1]
            row = row_of[e]
            if row < 0 or upper[e] != g or rows[row, 1] != xa:
                if count == len(rows):
                    larger = np.empty((2 * count, 6))
                    larger[:count] = rows
                    rows = larger
                row = count
                count += 1
                row_of[e] = row
                upper[e] = g
                rows[row, 0] = xa
                rows[row, 2] = _line_at(edges[e, 0], edges[e, 1], edges[e, 2], edges[e, 3], xa)
                rows[row, 4] = _line_at(edges[g, 0], edges[g, 1], edges[g, 2], edges[g, 3], xa)
            rows[row, 1] = xb
            rows[row, 3] = _line_at(edges[e, 0], edges[e, 1], edges[e, 2], edges[e, 3], xb)
            rows[row, 5] = _line_at(edges[g, 0], edges[g, 1], edges[g, 2], edges[g, 3], xb)
    return rows[:count].copy()


@njit
def _line_at(ax: float, ay: float, bx: float, by: float, x: float) -> float:
    """Height of the line a-b at x, exact at its ends."""
    if x <= ax:
        return ay
    if x >= bx:
        return by
    return ay + (by - ay) * ((x - ax) / (bx - ax))


@njit
def _bucket(x: float, origin: float, width: float, buckets: int) -> int:
    return min(max(int(np.floor((x - origin) / width)), 0), buckets - 1)


@njit
def add(field: Field, used: int, traps: FloatArray, dx: float, dy: float) -> int:
    """Write moved trapezoids into a field that has room for them; return the deepest bucket."""
    buckets = len(field.counts)
    deepest = 0
    for i in range(len(traps)):
        j = used + i
        for k in range(2):
            field.traps[j, k] = traps[i, k] + dx
        for k in range(2, 6):
            field.traps[j, k] = traps[i, k] + dy
        first = _bucket(field.traps[j, 0], field.origin, field.width, buckets)
        last = _bucket(field.traps[j, 1], field.origin, field.width, buckets)
        field.first[j] = first
        for b in range(first, last + 1):
            field.members[b, field.counts[b]] = j
            field.counts[b] += 1
            deepest = max(deepest, field.counts[b])
    return deepest


@njit
def blocked(fixed: FloatArray, moving: FloatArray, dx: float, eps: float) -> tuple[float, float]:
    """Return the open interval of y shifts at which one trapezoid overlaps another.

    Parameters
    ----------
    fixed, moving : ndarray, shape (6,)
        The trapezoids.
    dx : float
        Shift of the moving one along x.
    eps : float
        Common x ranges up to this width count as touching.

    Returns
    -------
    tuple of float
        Lower and upper end; (0, 0) if they share no x range.

    Notes
    -----
    At one x the shift y is blocked if f_lo - m_hi < y < f_hi - m_lo. Both bounds are
    linear in x, so over the common range they are extreme at its ends.
    """
    a, b = moving[0] + dx, moving[1] + dx
    xa, xb = max(a, fixed[0]), min(b, fixed[1])
    if xb - xa <= eps:
        return 0.0, 0.0
    wm, wf = 1.0 / (b - a), 1.0 / (fixed[1] - fixed[0])
    tm, tf = (xa - a) * wm, (xa - fixed[0]) * wf
    um, uf = (xb - a) * wm, (xb - fixed[0]) * wf
    m_lo, m_rise = moving[2], moving[3] - moving[2]
    m_hi, m_top = moving[4], moving[5] - moving[4]
    f_lo, f_rise = fixed[2], fixed[3] - fixed[2]
    f_hi, f_top = fixed[4], fixed[5] - fixed[4]
    low = min(
        (f_lo + f_rise * tf) - (m_hi + m_top * tm), (f_lo + f_rise * uf) - (m_hi + m_top * um)
    )
    high = max(
        (f_hi + f_top * tf) - (m_lo + m_rise * tm), (f_hi + f_top * uf) - (m_lo + m_rise * um)
    )
    return low, high


@njit
def lowest(
    field: Field, moving: FloatArray, dx: float, low: float, high: float, eps: float
) -> float:
    """Return the lowest free y shift of a shape at one x shift.

    Parameters
    ----------
    field : Field
        What is blocked.
    moving : ndarray, shape (n, 6)
        The shape, largest trapezoids first: they rule out most.
    dx : float
        Its x shift.
    low, high : float
        Range of y shifts.
    eps : float
        Tolerance.

    Returns
    -------
    float
        Infinity if no shift in the range is free.

    Notes
    -----
    The answer is the lowest point at or above `low` that no blocked interval holds. It
    is raised out of each interval that holds it; intervals that start above it are
    kept, since it may rise into them.
    """
    y = low
    later = np.empty((64, 2))
    count = 0
    buckets = len(field.counts)
    for m in range(len(moving)):
        a, b = moving[m, 0] + dx, moving[m, 1] + dx
        first = _bucket(a, field.origin, field.width, buckets)
        last = _bucket(b, field.origin, field.width, buckets)
        for k in range(first, last + 1):
            for j in range(field.counts[k]):
                f = field.members[k, j]
                if k != max(first, field.first[f]):
                    continue
                start, end = blocked(field.traps[f], moving[m], dx, eps)
                if end <= y + eps or start >= high - eps or end - start <= eps:
                    continue
                if start < y - eps:
                    y = end
                    if y > high + eps:
                        return np.inf
                    continue
                if count == len(later):
                    larger = np.empty((2 * count, 2))
                    larger[:count] = later
                    later = larger
                later[count, 0] = start
                later[count, 1] = end
                count += 1
    raised = True
    while raised:
        raised = False
        i = 0
        while i < count:
            if later[i, 1] <= y + eps:
                count -= 1
                later[i, 0] = later[count, 0]
                later[i, 1] = later[count, 1]
            elif later[i, 0] < y - eps:
                y = later[i, 1]
                if y > high + eps:
                    return np.inf
                raised = True
                count -= 1
                later[i, 0] = later[count, 0]
                later[i, 1] = later[count, 1]
            else:
                i += 1
    return y if y < high else min(y, high)


@njit
def rest(field: Field, moving: FloatArray, dx: float, y: float, low: float, eps: float) -> float:
    """Return how far down a shape can slide from a free y shift, at one x shift.

    Parameters as `lowest`, with `y` the free shift at which it starts.
    """
    found = low
    buckets = len(field.counts)
    for m in range(len(moving)):
        a, b = moving[m, 0] + dx, moving[m, 1] + dx
        first = _bucket(a, field.origin, field.width, buckets)
        last = _bucket(b, field.origin, field.width, buckets)
        for k in range(first, last + 1):
            for j in range(field.counts[k]):
                f = field.members[k, j]
                if k != max(first, field.first[f]):
                    continue
                start, end = blocked(field.traps[f], moving[m], dx, eps)
                # Also what reaches above y holds: a steep flank that the shape slid
                # against may overlap it by more than eps in y.
                if start < y - eps and end - start > eps and end > found:
                    found = end
    return min(found, y)


@njit
def place(
    columns: Field,
    rows: Field,
    upright: FloatArray,
    lying: FloatArray,
    candidates: FloatArray,
    box: FloatArray,
    eps: float,
) -> tuple[float, float, float]:
    """Return the leftmost, then lowest place of a shape.

    Parameters
    ----------
    columns, rows : Field
        What is blocked, cut along x and, with x and y exchanged, along y.
    upright, lying : ndarray, shape (n, 6)
        The shape, cut likewise.
    candidates : ndarray, shape (k,)
        x shifts to try, increasing.
    box : ndarray, shape (4,)
        Least x, least y, largest x, largest y shift.
    eps : float
        Tolerance.

    Returns
    -------
    x, y : float
        The place; infinite if there is none.
    failed : float
        Largest candidate up to which none is free.

    Notes
    -----
    The first free candidate is moved left by bisection, then slides down and left in
    turn until it rests.
    """
    failed = -np.inf
    x, y = np.inf, np.inf
    for i in range(len(candidates)):
        y = lowest(columns, upright, candidates[i], box[1], box[3], eps)
        if y < np.inf:
            x = candidates[i]
            break
        failed = candidates[i]
    if x == np.inf:
        return x, y, failed
    left = failed
    if left > -np.inf:
        for _ in range(7):
            mid = 0.5 * (left + x)
            lower = lowest(columns, upright, mid, box[1], box[3], eps)
            if lower < np.inf:
                x, y = mid, lower
            else:
                left = mid
    for _ in range(12):
        new_x = rest(rows, lying, y, x, box[0], eps)
        new_y = rest(columns, upright, new_x, y, box[1], eps)
        still = new_x > x - eps and new_y > y - eps
        x, y = new_x, new_y
        if still:
            break
    return x, y, failed
