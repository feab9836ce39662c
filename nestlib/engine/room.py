"""Place all parts in a room of any outline."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np
from shapely.geometry import Polygon

from nestlib.engine.attempts import Task, Worker
from nestlib.engine.items import Item
from nestlib.engine.layouts import Snapshot
from nestlib.engine.problem import StripProblem
from nestlib.engine.search import StripParams
from nestlib.engine.stock import walls


def fit(
    parts: Sequence[Item],
    room: Polygon,
    seed: int = 0,
    params: StripParams | None = None,
    over: Callable[[], bool] = lambda: False,
    tries: int = 100,
) -> tuple[StripProblem, Snapshot] | None:
    """Find places for all parts in a room.

    Parameters
    ----------
    parts : sequence of Item
        What to place, all of it.
    room : Polygon
        May have holes; its bounding box begins at (0, 0) in the result.
    seed : int
        Seed of the random numbers.
    params : StripParams, optional
        How hard to search.
    over : callable
        Whether to stop.
    tries : int
        Most tries.

    Returns
    -------
    problem, layout
        None if no layout without overlaps was found.
    """
    p = params or StripParams()
    x0, y0, x1, y1 = room.bounds
    problem = StripProblem.of(parts, y1 - y0, walls(room))
    worker, random = Worker(problem, p.effort), np.random.default_rng(seed)
    length = (x1 - x0) * problem.scale
    worker.board.scatter(length, random)
    lay = worker.board.layout
    failed = [Snapshot(length, lay.turn.copy(), lay.x.copy(), lay.y.copy())]
    for k in range(tries):
        at = min(int(abs(random.normal(0.0, 0.25)) * len(failed)), len(failed) - 1)
        task = Task(failed[at], length, k > 0, (seed, k), 100, 2, p.mend, p.soft)
        found = worker.try_out(task, over)
        if found.exact is not None:
            return problem, found.exact
        if over():
            break
        failed = sorted([*failed[k == 0 :], found.snap], key=lambda s: s.loss)
    return None
