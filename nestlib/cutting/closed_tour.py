"""Short closed tours: through all points, or through one point of every cluster."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterable, Sequence
from itertools import permutations

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.spatial import KDTree

from nestlib.cutting import kernels_clusters, kernels_tour
from nestlib.cutting.kernels_chance import seeded
from nestlib.model.contour import FloatArray

#: How many neighbours of a point moves look at.
_NEIGHBOURS = 10

#: Disturbances between two looks at the clock.
_AT_ONCE = 500

#: Up to so many stops all orders are tried.
_TINY = 5

Clusters = Sequence[Sequence[int]]


def closed_tour(
    points: ArrayLike,
    clusters: Clusters | None = None,
    *,
    seconds: float | None = None,
    rounds: int | None = None,
    seed: int = 0,
    whole: bool = False,
) -> list[int]:
    """Return a short closed tour.

    Parameters
    ----------
    points : array_like, shape (n, 2)
        Where they are.
    clusters : sequence of sequence of int, optional
        Groups of points, one of each to be visited; without them all points are.
    seconds : float, optional
        When to stop; once the kernels are compiled, the first of both limits counts.
    rounds : int, optional
        How many times to disturb the tour; the same number and the same seed give the
        same tour. Without any limit 10 for each stop.
    seed : int
        Of all chance.
    whole : bool
        Whether distances are rounded to whole numbers, as in TSPLIB (G. Reinelt,
        "TSPLIB - a traveling salesman problem library", ORSA Journal on Computing 3 (1991)
        376-384).

    Returns
    -------
    list of int
        Points in the order of the tour.

    Raises
    ------
    ValueError
        If a cluster is empty.

    Examples
    --------
    >>> len(closed_tour([(0, 0), (2, 2), (2, 0), (0, 2), (1, 3), (3, 1)]))
    6
    """
    xy = np.ascontiguousarray(points, dtype=np.float64).reshape(-1, 2)
    if clusters is not None and not all(len(c) for c in clusters):
        raise ValueError("every cluster needs a point")
    if seconds is None and rounds is None:
        rounds = 10 * (len(xy) if clusters is None else len(clusters))
    if clusters is not None:
        return _through_clusters(xy, clusters, seconds, rounds, seed, whole)
    return _through_all(xy, seconds, rounds, seed, whole)


def _through_all(
    xy: FloatArray, seconds: float | None, rounds: int | None, seed: int, whole: bool
) -> list[int]:
    n = len(xy)
    if n <= _TINY:
        return _tried(xy, whole)
    near = _near(xy)
    tour = _along_a_curve(xy)
    state = seeded(seed)
    kernels_tour.search(xy, whole, near, tour, state, 0)

    def run(some: int) -> None:
        kernels_tour.search(xy, whole, near, tour, state, some)

    run(1)  # compiled before the clock runs
    _until(run, seconds, rounds)
    return [int(i) for i in tour]


def _through_clusters(
    xy: FloatArray,
    clusters: Clusters,
    seconds: float | None,
    rounds: int | None,
    seed: int,
    whole: bool,
) -> list[int]:
    steps = xy[:, None] - xy[None]
    d = np.hypot(steps[..., 0], steps[..., 1])
    d = np.floor(d + 0.5) if whole else d
    members = np.array([i for c in clusters for i in c], dtype=np.int64)
    first = np.cumsum([0, *(len(c) for c in clusters)]).astype(np.int64)
    middles = np.array([xy[list(c)].mean(axis=0) for c in clusters]).reshape(-1, 2)
    order = _along_a_curve(middles).astype(np.int64)
    chosen = members[first[:-1]].copy()
    state = seeded(seed)
    if len(clusters) <= _TINY:
        return _tried_clusters(d, members, first, chosen)

    def run(some: int) -> None:
        kernels_clusters.search(d, members, first, order, chosen, state, some)

    run(0)  # compiled before the clock runs
    _until(run, seconds, rounds)
    return [int(chosen[c]) for c in order]


def _until(run: Callable[[int], None], seconds: float | None, rounds: int | None) -> None:
    """Run disturbances until a limit is reached; Ctrl-C ends it too, between two bundles."""
    end = time.monotonic() + (np.inf if seconds is None else seconds)
    left = np.inf if rounds is None else rounds
    while left > 0 and time.monotonic() < end:
        some = int(min(_AT_ONCE, left))
        run(some)
        left -= some


def _tried(xy: FloatArray, whole: bool) -> list[int]:
    """The shortest of all orders."""
    orders = [(0, *rest) for rest in permutations(range(1, len(xy)))] if len(xy) else [()]

    def length(order: Iterable[int]) -> float:
        steps = np.hypot(*(xy[list(order)] - np.roll(xy[list(order)], 1, axis=0)).T)
        return float((np.floor(steps + 0.5) if whole else steps).sum())

    return list(min(orders, key=length))


def _tried_clusters(
    d: FloatArray, members: NDArray[np.int64], first: NDArray[np.int64], chosen: NDArray[np.int64]
) -> list[int]:
    """The best points of the best of all orders."""
    m = len(chosen)
    best, found = np.inf, list[int]()
    for rest in permutations(range(1, m)):
        order = np.array([0, *rest][:m], dtype=np.int64)
        length = kernels_clusters.best_points(d, members, first, order, chosen) if m else 0.0
        if length < best:
            best, found = length, [int(chosen[c]) for c in order]
    return found


def _near(xy: FloatArray) -> NDArray[np.int64]:
    """Neighbours of every point, the nearest first, without itself."""
    k = min(_NEIGHBOURS + 1, len(xy))
    found = KDTree(xy).query(xy, k)[1].reshape(len(xy), -1)
    # Where several points coincide the first found may be another one.
    rows = [[j for j in row if j != i][: k - 1] for i, row in enumerate(found.tolist())]
    return np.array(rows, dtype=np.int64)


def _along_a_curve(xy: FloatArray) -> NDArray[np.int32]:
    """Points along a space-filling curve.

    L. K. Platzman, J. J. Bartholdi, "Spacefilling curves and the planar travelling salesman
    problem", Journal of the ACM 36 (1989) 719-737; here Hilbert's curve of 2^16 steps a side.
    """
    low = xy.min(axis=0)
    size = max(float(np.ptp(xy, axis=0).max()), 1e-12)
    x, y = ((xy - low) / size * 65535).astype(np.int64).T
    along = np.zeros(len(xy), dtype=np.int64)
    for bit in range(15, -1, -1):
        s = 1 << bit
        right, up = (x & s) > 0, (y & s) > 0
        along += s * s * ((3 * right) ^ up)
        flip = ~up & right
        x, y = np.where(flip, 65535 - x, x), np.where(flip, 65535 - y, y)
        x, y = np.where(~up, y, x), np.where(~up, x, y)
    return np.argsort(along, kind="stable").astype(np.int32)
