"""A first layout at once: one part after the other, each as far left as samples find room.

Bottom-left placing, here by sampling: B. S. Baker, E. G. Coffman, R. L. Rivest, "Orthogonal
packings in two dimensions", SIAM Journal on Computing 9 (1980) 846-855.
"""

from __future__ import annotations

import numpy as np

from nestlib.engine.catalogue import Floats, Ints
from nestlib.engine.grid import parts_near
from nestlib.engine.kernel import kernel
from nestlib.engine.layouts import Board, Snapshot
from nestlib.engine.overlap import Layout, Shapes, put, weighted_overlap
from nestlib.engine.problem import CONTACT, StripProblem
from nestlib.engine.relocation import Workspace, workspace
from nestlib.engine.rng import stream, uniform

#: Samples of all parts together, and the least and most of one part.
SAMPLES = (1_000_000, 200, 2000)

#: Parts between two chances to interrupt.
_CHUNK = 100

#: Of the way to the walls a slide takes no smaller share in its first step.
_STEP = 1e-3

#: Share of the samples near the end of what is laid, and how near, in sides of a part.
_NEAR_END = 0.5
_NEAR = 4.0


@kernel
def _is_free(
    shp: Shapes, lay: Layout, ws: Workspace, i: int, turn: int, x: float, y: float
) -> bool:
    """Tell whether part `i` would overlap none of those that are laid."""
    box = shp.cat.box
    count = parts_near(
        lay.grid,
        lay.box,
        i,
        box[turn, 0] + x,
        box[turn, 1] + y,
        box[turn, 2] + x,
        box[turn, 3] + y,
        ws.others,
    )
    return (
        weighted_overlap(shp, lay, ws.weights, ws.others, count, turn, x, y, 0.0, ws.near, ws.met)
        == 0.0
    )


@kernel
def _slide(
    shp: Shapes, lay: Layout, ws: Workspace, i: int, turn: int, place: Floats, last: float
) -> None:
    """Slide part `i` left and down while it is free, by smaller and smaller steps."""
    box = shp.cat.box
    step = 0.5 * min(box[turn, 2] - box[turn, 0], box[turn, 3] - box[turn, 1])
    step = max(step, _STEP * max(place[0] + box[turn, 0], place[1] + box[turn, 1]))
    while step > last:
        x = max(place[0] - step, -box[turn, 0])
        if x < place[0] and _is_free(shp, lay, ws, i, turn, x, place[1]):
            place[0] = x
            continue
        y = max(place[1] - step, -box[turn, 1])
        if y < place[1] and _is_free(shp, lay, ws, i, turn, place[0], y):
            place[1] = y
            continue
        step *= 0.5


@kernel
def lay_parts(
    shp: Shapes,
    lay: Layout,
    ws: Workspace,
    order: Ints,
    begin: int,
    end: int,
    room: Floats,
    samples: int,
    place: Floats,
) -> None:
    """Lay some more parts, each where its right end comes farthest left.

    Parameters
    ----------
    shp : Shapes
        The orientations.
    lay : Layout
        Holds the parts laid so far; changed.
    ws : Workspace
        Random numbers and scratch arrays; all weights are 1.
    order : ndarray of int64, shape (n,)
        The parts; those from `begin` to `end` are laid.
    begin, end : int
        Which.
    room : ndarray, shape (2,)
        How far the parts laid so far reach, changed; width of the strip.
    samples : int
        Places looked at for each part.
    place : ndarray, shape (2,)
        Scratch for one place.
    """
    box = shp.cat.box
    for k in range(begin, end):
        i = order[k]
        first, last = shp.cat.first[lay.kind[i]], shp.cat.first[lay.kind[i] + 1]
        best = first
        for turn in range(first, last):
            if box[turn, 2] - box[turn, 0] < box[best, 2] - box[best, 0]:
                best = turn
        right = room[0] + box[best, 2] - box[best, 0]
        place[0], place[1] = room[0] - box[best, 0], -box[best, 1]
        for s in range(samples):
            turn = first + int(uniform(ws.rng) * (last - first))
            low = -box[turn, 0]
            if s < _NEAR_END * samples:
                low = max(low, right - _NEAR - box[turn, 2])
            x = low + uniform(ws.rng) * (right - box[turn, 2] - low)
            y = -box[turn, 1] + uniform(ws.rng) * (room[1] - box[turn, 3] + box[turn, 1])
            if x >= low and _is_free(shp, lay, ws, i, turn, x, y):
                best, right, place[0], place[1] = turn, x + box[turn, 2], x, y
        _slide(shp, lay, ws, i, best, place, 0.001)
        put(shp.cat, lay, i, best, place[0], place[1])
        room[0] = max(room[0], place[0] + box[best, 2])


def constructed(problem: StripProblem, seed: tuple[int, ...], jitter: float = 0.0) -> Snapshot:
    """Lay all parts one after the other, the largest first.

    Parameters
    ----------
    problem : StripProblem
        The parts.
    seed : tuple of int
        Seed of the samples.
    jitter : float
        By how much the sizes that rule the order are changed at random; 0.5 is much.

    Returns
    -------
    Snapshot
        Without overlaps.
    """
    cat, n, m = problem.cat, len(problem.kind), problem.movable
    lay, ws = _empty(problem), workspace(cat, n, stream(*seed))
    shapes = Shapes(cat, problem.shapes.fld._replace(soft=np.array([CONTACT])))
    random = np.random.default_rng(seed)
    size = problem.size[:m] * np.exp(jitter * random.standard_normal(m))
    order = np.argsort(-size, kind="stable").astype(np.int64)
    total, least, most = SAMPLES
    samples, room = min(most, max(least, total // n)), np.array([0.0, problem.width])
    for begin in range(0, m, _CHUNK):
        end = min(m, begin + _CHUNK)
        lay_parts(shapes, lay, ws, order, begin, end, room, samples, np.zeros(2))
    return Snapshot(float(room[0]), lay.turn, lay.x, lay.y)


def _empty(problem: StripProblem) -> Layout:
    """Return a strip on which nothing lies but the walls."""
    lay = Board(problem).layout
    lay.box[:2], lay.box[2:] = np.inf, -np.inf
    for i, (x, y) in enumerate(problem.walls, problem.movable):
        put(problem.cat, lay, i, int(problem.cat.first[problem.kind[i]]), x, y)
    return lay
