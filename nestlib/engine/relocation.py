"""Move one part to where it overlaps least: sampling, then descent.

Sampling followed by descent from the best few: J. Gardeyn, G. Vanden Berghe, T. Wauters,
arXiv:2509.13329 (2025).
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from nestlib.engine.catalogue import Catalogue, Floats, Ints
from nestlib.engine.grid import parts_near
from nestlib.engine.kernel import kernel
from nestlib.engine.overlap import Layout, Shapes, weighted_overlap
from nestlib.engine.rng import Stream, uniform


class Effort(NamedTuple):
    """How hard to look for a place.

    Parameters
    ----------
    around : int
        Samples near the present place.
    anywhere : int
        Samples over the whole container.
    refined : int
        How many of the best are refined.
    coarse, medium, fine : float
        Steps of the descent as a share of the smaller side: first, last of the
        candidates, last of the winner.
    close : float
        Samples nearer than this share of half the smaller side are one.
    """

    around: int = 20
    anywhere: int = 30
    refined: int = 3
    coarse: float = 0.25
    medium: float = 0.02
    fine: float = 0.001
    close: float = 0.3


class Workspace(NamedTuple):
    """Scratch arrays of one stream.

    Parameters
    ----------
    rng : ndarray of uint64, shape (1,)
        State of the random numbers.
    weights : ndarray, shape (n,)
        Row of weights of the part in hand.
    near : ndarray, shape (4, most edges)
        Edges of one orientation.
    met, others : ndarray of int64, shape (n + 1,)
        Parts that may meet the part in hand.
    places : ndarray, shape (8, 4)
        Best places so far: value, turn, x, y.
    counts : ndarray of int64, shape (4,)
        Evaluations of places, searches for a place, sweeps.
    seen, order : ndarray of int64, shape (n,)
        Parts of a sweep.
    """

    rng: Stream
    weights: Floats
    near: Floats
    met: Ints
    others: Ints
    places: Floats
    counts: Ints
    seen: Ints
    order: Ints


def workspace(cat: Catalogue, parts: int, rng: Stream) -> Workspace:
    """Return scratch arrays for layouts of so many parts."""
    most = int(np.diff(cat.edge_start).max())
    counts = np.zeros(4, dtype=np.int64)
    return Workspace(
        rng,
        np.ones(parts),
        np.empty((4, most)),
        np.empty(parts + 1, np.int64),
        np.empty(parts + 1, np.int64),
        np.empty((8, 4)),
        counts,
        np.zeros(parts, np.int64),
        np.zeros(parts, np.int64),
    )


@kernel
def _keep(
    places: Floats, most: int, value: float, turn: int, x: float, y: float, close: float
) -> None:
    """Insert a place into the list of the best; of two that are close the better stays."""
    k = most - 1
    for c in range(most):
        if (
            places[c, 0] < np.inf
            and places[c, 1] == turn
            and abs(places[c, 2] - x) < close
            and abs(places[c, 3] - y) < close
        ):
            if places[c, 0] <= value:
                return
            k = c
            break
    while k > 0 and places[k - 1, 0] > value:
        for c in range(4):
            places[k, c] = places[k - 1, c]
        k -= 1
    places[k, 0], places[k, 1], places[k, 2], places[k, 3] = value, turn, x, y


@kernel
def _descend(
    shp: Shapes,
    lay: Layout,
    ws: Workspace,
    room: Floats,
    i: int,
    place: Floats,
    step: float,
    last: float,
) -> None:
    """Walk downhill along random axes; a step that helps grows, one that does not shrinks."""
    cat = shp.cat
    turn = int(place[1])
    low_x, low_y = room[0] - cat.box[turn, 0], room[1] - cat.box[turn, 1]
    high_x, high_y = room[2] - cat.box[turn, 2], room[3] - cat.box[turn, 3]
    hx, hy = step, step
    wide = 0.5 * (cat.box[turn, 2] - cat.box[turn, 0]) + step
    high = 0.5 * (cat.box[turn, 3] - cat.box[turn, 1]) + step
    mx, my, count = np.inf, np.inf, 0
    while (hx > last or hy > last) and place[0] > 0.0:
        u = uniform(ws.rng)
        sx = hx if u < 0.25 or u >= 0.5 else 0.0
        sy = hy if u >= 0.25 else 0.0
        sign = -1.0 if u >= 0.75 else 1.0
        better = False
        for d in (1.0, -1.0):
            x = min(high_x, max(low_x, place[2] + d * sx))
            y = min(high_y, max(low_y, place[3] + d * sign * sy))
            if x == place[2] and y == place[3]:
                continue
            if not (abs(x - mx) <= step and abs(y - my) <= step):
                mx, my = x, y
                qx = x + 0.5 * (cat.box[turn, 0] + cat.box[turn, 2])
                qy = y + 0.5 * (cat.box[turn, 1] + cat.box[turn, 3])
                count = parts_near(
                    lay.grid, lay.box, i, qx - wide, qy - high, qx + wide, qy + high, ws.others
                )
            ws.counts[0] += 1
            v = weighted_overlap(
                shp, lay, ws.weights, ws.others, count, turn, x, y, place[0], ws.near, ws.met
            )
            if v < place[0]:
                place[0], place[2], place[3] = v, x, y
                better = True
                break
        g = 1.1 if better else 0.5
        if u < 0.25:
            hx *= g
        elif u < 0.5:
            hy *= g
        else:
            hx *= np.sqrt(g)
            hy *= np.sqrt(g)


@kernel
def best_place(
    shp: Shapes, lay: Layout, ws: Workspace, room: Floats, i: int, effort: Effort
) -> float:
    """Find a place for part `i` and leave it in ``ws.places[0]``.

    Parameters
    ----------
    shp : Shapes
        The orientations.
    lay : Layout
        Where the parts lie.
    ws : Workspace
        Its row of weights is that of part `i`.
    room : ndarray, shape (4,)
        Box within which the part must stay.
    i : int
        The part.
    effort : Effort
        How many places are tried.

    Returns
    -------
    float
        Its weighted overlap there; infinite if no orientation fits into the room.
    """
    cat, places, most = shp.cat, ws.places, effort.refined
    for k in range(most):
        places[k, 0] = np.inf
    first, last = cat.first[lay.kind[i]], cat.first[lay.kind[i] + 1]
    cx, cy = lay.x[i], lay.y[i]
    rx = 0.5 * (lay.box[2, i] - lay.box[0, i])
    ry = 0.5 * (lay.box[3, i] - lay.box[1, i])
    far = 0.0
    for turn in range(first, last):
        for c in range(4):
            far = max(far, abs(cat.box[turn, c]))
    few = lay.grid.first.shape[0] == 0
    count = parts_near(
        lay.grid, lay.box, i, cx - rx - far, cy - ry - far, cx + rx + far, cy + ry + far, ws.others
    )
    for s in range(effort.around + effort.anywhere):
        if s == effort.around and few:
            count = parts_near(lay.grid, lay.box, i, -np.inf, -np.inf, np.inf, np.inf, ws.others)
        turn = first + int(uniform(ws.rng) * (last - first))
        low_x, low_y = room[0] - cat.box[turn, 0], room[1] - cat.box[turn, 1]
        high_x, high_y = room[2] - cat.box[turn, 2], room[3] - cat.box[turn, 3]
        if s < effort.around:
            low_x, high_x = max(low_x, min(cx - rx, high_x)), min(high_x, max(cx + rx, low_x))
            low_y, high_y = max(low_y, min(cy - ry, high_y)), min(high_y, max(cy + ry, low_y))
        if high_x < low_x or high_y < low_y:
            continue
        x = low_x + uniform(ws.rng) * (high_x - low_x)
        y = low_y + uniform(ws.rng) * (high_y - low_y)
        if s >= effort.around and not few:
            count = parts_near(
                lay.grid,
                lay.box,
                i,
                x + cat.box[turn, 0],
                y + cat.box[turn, 1],
                x + cat.box[turn, 2],
                y + cat.box[turn, 3],
                ws.others,
            )
        ws.counts[0] += 1
        v = weighted_overlap(
            shp, lay, ws.weights, ws.others, count, turn, x, y, places[most - 1, 0], ws.near, ws.met
        )
        if v < places[most - 1, 0]:
            _keep(places, most, v, turn, x, y, effort.close * min(rx, ry))
    best = 0
    for k in range(most):
        if places[k, 0] < np.inf:
            turn = int(places[k, 1])
            side = min(cat.box[turn, 2] - cat.box[turn, 0], cat.box[turn, 3] - cat.box[turn, 1])
            _descend(shp, lay, ws, room, i, places[k], effort.coarse * side, effort.medium * side)
            if places[k, 0] < places[best, 0]:
                best = k
    if places[best, 0] < np.inf:
        turn = int(places[best, 1])
        side = min(cat.box[turn, 2] - cat.box[turn, 0], cat.box[turn, 3] - cat.box[turn, 1])
        _descend(shp, lay, ws, room, i, places[best], effort.medium * side, effort.fine * side)
        for c in range(4):
            places[0, c] = places[best, c]
    return float(places[0, 0])
