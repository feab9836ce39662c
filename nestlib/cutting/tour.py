"""Short ways through points.

References
----------
OR-Tools' routing library, which combines local search moves (among them those of
S. Lin and B. Kernighan, "An effective heuristic algorithm for the traveling-salesman
problem", Operations Research 21 (1973) 498-516) with guided local search
(C. Voudouris, E. Tsang, "Guided local search and its application to the traveling
salesman problem", European Journal of Operational Research 113 (1999) 469-499).
"""

from __future__ import annotations

from itertools import permutations
from typing import Any

import numpy as np
from numpy.typing import ArrayLike
from ortools.constraint_solver import pywrapcp, routing_enums_pb2

from nestlib.model.contour import FloatArray

#: Routing works on integers: distances in 1/100 mm.
_GRID = 100.0

#: Up to this many points all orders are tried.
_TINY = 5

#: Up to this many points guided local search looks beyond the first local optimum, for
#: as many solutions; counting them instead of seconds keeps the way reproducible.
_SMALL = 60
_SOLUTIONS = 100

#: Above this many points the way is mended in windows of so many points.
_LARGE = 150


def short_way(points: ArrayLike, start: ArrayLike = (0.0, 0.0)) -> list[int]:
    """Return the order of a short open way from a start through all points.

    Parameters
    ----------
    points : array_like, shape (n, 2)
        In mm.
    start : array_like, shape (2,)
        Where the way begins.

    Returns
    -------
    list of int
        A permutation of ``range(n)``, always the same for the same points.

    Examples
    --------
    >>> short_way([(30, 0), (10, 0), (20, 0)])
    [1, 2, 0]
    """
    xy = np.asarray(points, dtype=np.float64).reshape(-1, 2)
    origin = np.asarray(start, dtype=np.float64)
    if len(xy) <= _TINY:
        return _tried(xy, origin)
    if len(xy) <= _LARGE:
        return _routed(xy, origin)
    return _mended(xy, origin, _nearest_first(xy, origin))


def _tried(xy: FloatArray, start: FloatArray) -> list[int]:
    """The shortest of all orders."""
    orders = np.array(list(permutations(range(len(xy)))), dtype=np.intp)
    stops = np.concatenate([np.broadcast_to(start, (len(orders), 1, 2)), xy[orders]], axis=1)
    steps = np.diff(stops, axis=1)
    lengths = np.hypot(steps[..., 0], steps[..., 1]).sum(axis=1)
    return [int(i) for i in orders[np.argmin(lengths)]]


def _nearest_first(xy: FloatArray, start: FloatArray) -> list[int]:
    """Always go to the nearest point that is left."""
    left, here, order = np.arange(len(xy)), start, []
    while len(left):
        k = int(np.argmin(np.hypot(*(xy[left] - here).T)))
        order.append(int(left[k]))
        here, left = xy[left[k]], np.delete(left, k)
    return order


def _mended(xy: FloatArray, start: FloatArray, order: list[int]) -> list[int]:
    """Route the points of overlapping windows again, between fixed ends."""
    for first in range(0, len(order), _LARGE // 2):
        window = order[first : first + _LARGE]
        before = xy[order[first - 1]] if first else start
        rest = order[first + len(window) :]
        after = xy[rest[0]] if rest else None
        order[first : first + len(window)] = [window[i] for i in _routed(xy[window], before, after)]
    return order


def _routed(xy: FloatArray, start: FloatArray, end: FloatArray | None = None) -> list[int]:
    """Order of a short way from `start` through all points, to `end` if there is one."""
    if len(xy) < 2:
        return list(range(len(xy)))
    last = len(xy) + 1
    manager = pywrapcp.RoutingIndexManager(last + 1, 1, [0], [last])
    model = pywrapcp.RoutingModel(manager)
    arcs = model.RegisterTransitMatrix(_distances(xy, start, end))
    model.SetArcCostEvaluatorOfAllVehicles(arcs)
    solution = model.SolveWithParameters(_parameters(len(xy)))
    order, index = [], solution.Value(model.NextVar(model.Start(0)))
    while not model.IsEnd(index):
        order.append(int(manager.IndexToNode(index)) - 1)
        index = solution.Value(model.NextVar(index))
    return order


def _distances(xy: FloatArray, start: FloatArray, end: FloatArray | None) -> list[list[int]]:
    """Whole-number distances between start, points and end; an open end is near to all."""
    nodes = np.vstack([start, xy, start if end is None else end])
    steps = nodes[:, None] - nodes[None]
    lengths = np.rint(np.hypot(steps[..., 0], steps[..., 1]) * _GRID).astype(np.int64)
    if end is None:
        lengths[:, -1] = lengths[-1, :] = 0
    return [[int(d) for d in row] for row in lengths]


def _parameters(n: int) -> Any:
    parameters = pywrapcp.DefaultRoutingSearchParameters()
    parameters.first_solution_strategy = routing_enums_pb2.FirstSolutionStrategy.PATH_CHEAPEST_ARC
    method = routing_enums_pb2.LocalSearchMetaheuristic
    parameters.local_search_metaheuristic = method.GREEDY_DESCENT
    if n <= _SMALL:
        parameters.local_search_metaheuristic = method.GUIDED_LOCAL_SEARCH
        parameters.solution_limit = _SOLUTIONS
    return parameters
