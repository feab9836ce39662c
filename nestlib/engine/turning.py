"""Make a layout shorter by linear programs that also turn the parts a little.

As in `compaction`, every two convex pieces keep to the two sides of a line, the side of one
of them. Here that side turns with its part, and each vertex of the other piece that may
touch it has a condition of its own, linear in the small turns of both parts:

    n . (q - p) + s n' . (q0 - p0 + v) + t n . v' >= h - n . v

where p and q are the reference points, n the normal of the side and h its distance from p,
v the vertex seen from q, s and t the turns of the two parts, and ' a quarter turn. A step
is kept small, the outlines are then turned exactly, and the linear program of `compaction`
puts right what the first order left out. So every layout that is kept is exact.

The program extends Z. Li, V. Milenkovic, "Compaction and separation algorithms for
non-convex polygons and their applications", EJOR 84 (1995) 539-561, by the turns.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import linprog
from scipy.sparse import coo_array

from nestlib.engine.catalogue import Catalogue, Floats, Ints, Turn, turn_points
from nestlib.engine.compaction import Bounds, Pieces, compact
from nestlib.engine.kernel import allocating, grown
from nestlib.engine.layouts import Snapshot
from nestlib.engine.problem import StripProblem

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
        self.radius = radius[self.kind]

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
def _conditions(
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
def _sides(pcs: Pieces, box: Floats, turn: Floats, movable: int) -> tuple[Ints, Floats, int]:
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
    box, x, y = cat.box, layout.x, layout.y
    pairs, terms, m = _conditions(pcs, box, outlines.radius, x, y, move, turn, k)
    i, j = pairs[:m].T
    nx, ny, s, t, c = terms[:m].T
    which, where, w = _sides(pcs, box, turn, k)
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
    # A turn is the difference of two variables that are not negative.
    rows += [row, row, wall]
    cols += [3 * n + i, 3 * n + j, 3 * n + part]
    vals += [s, t, -vals[7]]
    b = np.concatenate(
        [-c, np.where(side == 3, bounds.width, 0.0) - sign * np.where(along, vx, vy)]
    )
    free = np.where(np.arange(n) < k, move, 0.0)
    least = np.concatenate([x - free, y - free, np.zeros(2 * n + 1)])
    most = np.concatenate([x + free, y + free, turn, turn, [bounds.length]])
    cost = np.concatenate([np.full(2 * n, 1e-5 / n), np.full(2 * n, _TURN_COST), [1.0]])
    found = linprog(
        cost,
        A_ub=coo_array(
            (np.concatenate(vals), (np.concatenate(rows), np.concatenate(cols))),
            (m + w, 4 * n + 1),
        ).tocsr(),
        b_ub=b,
        bounds=np.column_stack([least, most]),
        method="highs-ds",
        options={"primal_feasibility_tolerance": 1e-9, "dual_feasibility_tolerance": 1e-9},
    )
    if found.x is None or found.status not in (0, 1):
        return None
    v = found.x
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
