"""Free a layout of its overlaps by linear programs that move and also turn its parts.

Where no listed angle lets a part in, a part between two of them may fit. The conditions of
`turning_conditions` are asked for as far as they can be had: each pair of parts may miss
them by some depth, and the sum of these depths is made least. A step is kept small and the
parts are then turned exactly, so that the depth shrinks as by Newton's method; the linear
program of `compaction` takes the rest away.

Separation by linear programs: Z. Li, V. Milenkovic, "Compaction and separation algorithms
for non-convex polygons and their applications", EJOR 84 (1995) 539-561, there without turns.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_array, hstack

from nestlib.engine.catalogue import Floats
from nestlib.engine.compaction import Bounds
from nestlib.engine.turning import FreeLayout, Outlines, exact
from nestlib.engine.turning_conditions import Conditions, conditions, least_cost

#: Costs of a turn, per radian, of a coordinate and of the length, compared with a depth.
_TURN, _COORDINATE = 1e-4, 1e-5

#: A turned part may stick out of the box by so much before the next step pulls it back.
_ROUNDING = 1e-12


@dataclass(frozen=True)
class FreeingParams:
    """How far the steps go, and when to give up.

    Parameters
    ----------
    trust : float
        How far a part may move along x and y in one step, in sides of the mean part.
    turn : float
        How far it may turn, degrees.
    least_turn : float
        Steps that small are the last.
    rounds : int
        Most steps.
    hopeful : float
        Layouts whose depths add up to no more than this are handed to `exact`.
    """

    trust: float = 0.3
    turn: float = 8.0
    least_turn: float = 0.1
    rounds: int = 16
    hopeful: float = 1e-3


class _Around:
    """A layout and what must hold around it."""

    def __init__(
        self, outlines: Outlines, layout: FreeLayout, bounds: Bounds, move: float, turn: Floats
    ) -> None:
        self.layout, self.bounds, self.move, self.turn = layout, bounds, move, turn
        cat, pcs = outlines.at(layout.angle, layout.flip)
        x, y = layout.x, layout.y
        self.must: Conditions = conditions(pcs, cat.box, outlines.radius, x, y, move, turn, bounds)
        n = len(x)
        self.now = np.concatenate([x, y, np.zeros(2 * n), [bounds.length]])
        pairs = np.sort(self.must.pairs, axis=1)
        self.pairs, pair = np.unique(pairs, axis=0, return_inverse=True)
        self.pair = pair.ravel()
        self.depth = self._depth()

    def _depth(self) -> float:
        """Return how deep parts are in each other, and how far out of the box, altogether."""
        missed = self.must.matrix @ self.now - self.must.limit
        m = len(self.pair)
        deep = np.zeros(len(self.pairs))
        np.maximum.at(deep, self.pair, missed[:m])
        return float(deep.sum() + missed[m:].max(initial=0.0))

    def step(self) -> tuple[float, FreeLayout] | None:
        """Return the least depth in reach, to the first order, and the layout that has it."""
        n, m, k = len(self.layout.x), len(self.pair), len(self.pairs)
        rows = len(self.must.limit)
        missing = coo_array((-np.ones(m), (np.arange(m), self.pair)), (rows, k))
        free = np.where(np.arange(n) < self.bounds.movable, self.move, 0.0)
        x, y = self.layout.x, self.layout.y
        least = np.concatenate([x - free, y - free, np.zeros(2 * n + 1 + k)])
        most = [x + free, y + free, self.turn, self.turn, [self.bounds.length]]
        cost = [np.full(2 * n, _COORDINATE / n), np.full(2 * n, _TURN), [_COORDINATE]]
        v = least_cost(
            np.concatenate([*cost, np.ones(k)]),
            hstack([self.must.matrix, missing]).tocsr(),
            self.must.limit,
            (least, np.concatenate([*most, np.full(k, np.inf)])),
        )
        if v is None:
            return None
        turned = self.layout.angle + np.degrees(v[2 * n : 3 * n] - v[3 * n : 4 * n])
        moved = replace(self.layout, angle=turned, x=v[:n], y=v[n : 2 * n])
        return float(v[4 * n + 1 :].sum()), moved


def freed(
    outlines: Outlines,
    layout: FreeLayout,
    bounds: Bounds,
    may_turn: NDArray[np.bool_],
    params: FreeingParams | None = None,
    over: Callable[[], bool] = lambda: False,
) -> FreeLayout | None:
    """Move and turn parts a little, again and again, until none overlap.

    Parameters
    ----------
    outlines : Outlines
        The parts.
    layout : FreeLayout
        With overlaps, within the box of the room.
    bounds : Bounds
        Where parts may lie; the length is finite.
    may_turn : ndarray of bool, shape (n,)
        Which parts may turn by any angle; the others keep theirs.
    params : FreeingParams, optional
        How far the steps go.
    over : callable
        Whether to stop.

    Returns
    -------
    FreeLayout
        Exact, and no longer than the bounds; None if the overlaps stay.
    """
    p = params or FreeingParams()
    turn, move, handed = p.turn, p.trust, np.inf

    def around(tried: FreeLayout) -> _Around:
        limit = np.where(may_turn, np.radians(turn), 0.0)
        return _Around(outlines, tried, bounds, move, limit)

    here = around(layout)
    for _ in range(p.rounds):
        if over():
            return None
        if here.depth <= p.hopeful and here.depth < 0.1 * handed:
            handed = here.depth
            found = exact(outlines, here.layout, bounds, max(0.02, move), over)
            if found is not None:
                return found
        step = here.step()
        if step is None or here.depth - step[0] < 1e-3 * here.depth + _ROUNDING:
            return None
        there = around(step[1])
        gained = (here.depth - there.depth) / (here.depth - step[0])
        if gained > 0.0:
            here = there
        if gained <= 0.5:
            turn, move = 0.4 * turn, 0.4 * move
            if turn < p.least_turn:
                return None
            here = around(here.layout)
    return None
