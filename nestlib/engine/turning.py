"""Make a layout shorter by linear programs that also turn the parts a little.

A step is kept small, for its conditions (`turning_conditions`) are exact in the first order
only; the outlines are then turned exactly, and the linear program of `compaction` puts right
what was left out. So every layout that is kept is exact.

The program extends Z. Li, V. Milenkovic, "Compaction and separation algorithms for
non-convex polygons and their applications", EJOR 84 (1995) 539-561, by the turns.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from copy import copy
from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from nestlib.engine.catalogue import Catalogue, Floats, Ints, Turn, turn_points
from nestlib.engine.compaction import Bounds, Pieces, compact
from nestlib.engine.layouts import Snapshot
from nestlib.engine.problem import StripProblem
from nestlib.engine.turning_conditions import conditions, least_cost

#: So much higher than the strip, as a share of its width, a turned part may be.
_HIGHER = 1e-10

#: Cost of a turn, in lengths per radian and part: parts that need not turn do not.
_TURN_COST = 1e-4


@dataclass(frozen=True)
class FreeLayout:
    """A layout in which every part has an angle of its own.

    Parameters
    ----------
    length : float
        Of the strip, in units of the side of the mean part.
    angle : ndarray, shape (n,)
        Degrees counter-clockwise.
    flip : ndarray of int64, shape (n,)
        1 for a part that is mirrored before it is turned, else 0.
    x, y : ndarray, shape (n,)
        Reference points.
    """

    length: float
    angle: Floats
    flip: Ints
    x: Floats
    y: Floats


@dataclass(frozen=True)
class TurningParams:
    """How far the steps go.

    Parameters
    ----------
    trust : float
        How far a part may move along x and y in one step.
    turn : float
        How far it may turn, degrees.
    least_turn : float
        Steps that small are the last.
    rounds : int
        Most steps.
    gain : float
        Least share of the length that a step must promise.
    """

    trust: float = 0.1
    turn: float = 4.0
    least_turn: float = 0.05
    rounds: int = 40
    gain: float = 2e-5


def free_layout(problem: StripProblem, snap: Snapshot) -> FreeLayout:
    """Return a layout at listed angles as one with angles of its own."""
    return FreeLayout(
        snap.length, problem.cat.angle[snap.turn], problem.cat.flip[snap.turn], snap.x, snap.y
    )


class Outlines:
    """The convex pieces of every part, at any angle.

    Parameters
    ----------
    problem : StripProblem
        The parts.
    """

    def __init__(self, problem: StripProblem) -> None:
        # As drawn and mirrored, whatever turns the problem lists.
        both = [((0.0, False), (0.0, True)) for _ in problem.kinds]
        drawn = problem.with_turns(both, tabulate=False)
        pcs, self.cat, self.kind = drawn.pieces, problem.cat, problem.kind
        self.drawn: dict[tuple[int, int], tuple[Floats, Ints]] = {}
        radius = np.zeros(len(problem.kinds))
        for k in range(len(problem.kinds)):
            for flip in range(2):
                o = 2 * k + flip
                start = pcs.start[pcs.first[o] : pcs.first[o + 1] + 1]
                points = pcs.points[start[0] : start[-1]]
                self.drawn[k, flip] = points, np.diff(start)
                radius[k] = np.hypot(*points.T).max()
        self.radii, self.radius = radius, radius[self.kind]

    def of(self, kind: Ints) -> Outlines:
        """Return the same for other parts of the same kinds.

        Parameters
        ----------
        kind : ndarray of int64, shape (n,)
            Kind of each part.
        """
        other = copy(self)
        other.kind, other.radius = kind, self.radii[kind]
        return other

    def at(self, angle: Floats, flip: Ints) -> tuple[Catalogue, Pieces]:
        """Return the parts, each turned by its angle, as orientations 0 to n - 1.

        Of the catalogue only the boxes are meant to be used.
        """
        drawn = [self.drawn[int(k), int(f)] for k, f in zip(self.kind, flip, strict=True)]
        points = [turn_points(p, float(t)) for t, (p, _) in zip(angle, drawn, strict=True)]
        sizes = [size for _, size in drawn]
        first = np.cumsum([0, *map(len, sizes)])
        start = np.cumsum(np.concatenate([[0], *sizes]))
        box = np.array([[*p.min(axis=0), *p.max(axis=0)] for p in points])
        return self.cat._replace(box=box), Pieces(first, start, np.concatenate(points))


class _Step(NamedTuple):
    """What one linear program proposes."""

    length: float
    turn: Floats
    x: Floats
    y: Floats


def _step(
    outlines: Outlines,
    layout: FreeLayout,
    bounds: Bounds,
    move: float,
    turn: Floats,
) -> _Step | None:
    """Solve the linear program around a layout; None if nothing satisfies it."""
    n, k = len(layout.x), bounds.movable
    cat, pcs = outlines.at(layout.angle, layout.flip)
    x, y = layout.x, layout.y
    must = conditions(pcs, cat.box, outlines.radius, x, y, move, turn, bounds)
    free = np.where(np.arange(n) < k, move, 0.0)
    least = np.concatenate([x - free, y - free, np.zeros(2 * n + 1)])
    most = np.concatenate([x + free, y + free, turn, turn, [bounds.length]])
    cost = np.concatenate([np.full(2 * n, 1e-5 / n), np.full(2 * n, _TURN_COST), [1.0]])
    v = least_cost(cost, must.matrix, must.limit, (least, most))
    if v is None:
        return None
    return _Step(float(v[4 * n]), v[2 * n : 3 * n] - v[3 * n : 4 * n], v[:n], v[n : 2 * n])


def exact(
    outlines: Outlines,
    layout: FreeLayout,
    bounds: Bounds,
    trust: float,
    over: Callable[[], bool] = lambda: False,
) -> FreeLayout | None:
    """Make a layout exact at the angles it has; None if that fails."""
    cat, pcs = outlines.at(layout.angle, layout.flip)
    high = cat.box[: bounds.movable, 3] - cat.box[: bounds.movable, 1]
    if high.max(initial=0.0) > bounds.width * (1.0 + _HIGHER):
        return None
    turn = np.arange(len(layout.x))
    found = compact(cat, pcs, turn, layout.x, layout.y, bounds, trust, over=over)
    return None if found is None else replace(layout, length=found[0], x=found[1], y=found[2])


def refined(
    outlines: Outlines,
    layout: FreeLayout,
    bounds: Bounds,
    may_turn: NDArray[np.bool_],
    params: TurningParams | None = None,
    over: Callable[[], bool] = lambda: False,
) -> FreeLayout:
    """Shorten a layout by moving and turning its parts a little, again and again.

    Parameters
    ----------
    outlines : Outlines
        The parts.
    layout : FreeLayout
        Without overlaps.
    bounds : Bounds
        Where parts may lie.
    may_turn : ndarray of bool, shape (n,)
        Which parts may turn by any angle; the others keep theirs.
    params : TurningParams
        How far the steps go.
    over : callable
        Whether to stop.

    Returns
    -------
    FreeLayout
        Exact, and never longer.
    """
    params = params or TurningParams()
    best, turn, move = layout, params.turn, params.trust
    for _ in range(params.rounds):
        if over():
            break
        limit = np.where(may_turn, np.radians(turn), 0.0)
        step = _step(outlines, best, bounds, move, limit)
        if step is None or best.length - step.length < params.gain * best.length:
            break
        tried = replace(best, angle=best.angle + np.degrees(step.turn), x=step.x, y=step.y)
        found = exact(outlines, tried, bounds, max(0.02, move), over)
        if found is not None and found.length < best.length:
            gained = (best.length - found.length) / (best.length - step.length)
            best = found
            if gained > 0.5:
                turn, move = min(1.5 * turn, 2 * params.turn), min(1.5 * move, 2 * params.trust)
                continue
        turn, move = 0.4 * turn, 0.4 * move
        if turn < params.least_turn:
            break
    return best


def with_own_angles(
    problem: StripProblem,
    layout: FreeLayout,
    turns: Sequence[Sequence[Turn]] | None = None,
    tabulate: bool = True,
) -> tuple[StripProblem, Snapshot]:
    """Return a layout as one at listed angles, of a problem that lists them.

    Parameters
    ----------
    problem : StripProblem
        The parts.
    layout : FreeLayout
        Where they lie.
    turns : sequence of sequence of (float, bool), optional
        For every kind turns that the new problem is to allow as well.
    tabulate : bool
        Whether fields are to be worked out for it.

    Returns
    -------
    problem, snapshot
    """
    used = [(float(a), bool(f)) for a, f in zip(layout.angle, layout.flip, strict=True)]
    allowed = [dict.fromkeys(own) for own in turns or [() for _ in problem.kinds]]
    for k, turn in zip(problem.kind, used, strict=True):
        allowed[k][turn] = None
    extended = problem.with_turns([list(own) for own in allowed], tabulate)
    at = [{turn: i for i, turn in enumerate(kind.turns)} for kind in extended.kinds]
    first = extended.cat.first
    turned = [first[k] + at[k][own] for k, own in zip(problem.kind, used, strict=True)]
    return extended, Snapshot(layout.length, np.array(turned, np.int64), layout.x, layout.y)
