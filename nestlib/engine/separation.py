"""Move overlapping parts apart until nothing overlaps or no progress is made."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from nestlib.engine.catalogue import Floats, Ints
from nestlib.engine.grid import parts_near
from nestlib.engine.kernel import kernel
from nestlib.engine.lattice import Lattice, no_lattice
from nestlib.engine.lattice_places import best_lattice_place
from nestlib.engine.meetings import Meetings, decay, gather, meetings, raise_weight, spread
from nestlib.engine.overlap import Layout, Shapes, pair_overlap, put, weighted_overlap
from nestlib.engine.relocation import Effort, Workspace, best_place
from nestlib.engine.rng import uniform


class Way(NamedTuple):
    """How places are looked for: on a lattice if it has places, else by samples.

    Parameters
    ----------
    effort : Effort
        How hard to look by samples.
    lattice : Lattice
        On which the parts lie.
    total : ndarray of float32, shape (m,)
        Scratch for its maps.
    """

    effort: Effort
    lattice: Lattice
    total: NDArray[np.float32]


def by_samples(effort: Effort) -> Way:
    """Return the way that needs no lattice."""
    return Way(effort, no_lattice(), np.zeros(0, np.float32))


@kernel
def collisions(shp: Shapes, lay: Layout, ws: Workspace, pairs: Ints, depths: Floats) -> int:
    """List the overlapping pairs.

    Returns how many; `pairs`, shape (m, 2), and `depths`, shape (m,), hold the first m.
    """
    found = 0
    for i in range(lay.movable):
        count = parts_near(
            lay.grid,
            lay.box,
            i,
            lay.box[0, i],
            lay.box[1, i],
            lay.box[2, i],
            lay.box[3, i],
            ws.others,
        )
        for k in range(count):
            j = ws.others[k]
            if j < i:
                continue
            dx, dy = lay.x[j] - lay.x[i], lay.y[j] - lay.y[i]
            v = pair_overlap(shp, lay.turn[i], lay.turn[j], dx, dy, ws.near)
            if v > 0.0:
                if found < depths.shape[0]:
                    pairs[found, 0], pairs[found, 1] = i, j
                    depths[found] = v
                found += 1
    return found


@kernel
def reweigh(met: Meetings, pairs: Ints, depths: Floats, found: int) -> float:
    """Make overlapping pairs heavier, the others lighter; return the sum of overlaps."""
    worst, total = 0.0, 0.0
    for k in range(found):
        worst = max(worst, depths[k])
        total += depths[k]
    decay(met, 0.95)
    for k in range(found):
        factor = 1.2 + 0.8 * depths[k] / worst
        raise_weight(met, pairs[k, 0], pairs[k, 1], factor / 0.95)
    return total


@kernel
def sweep(
    shp: Shapes,
    lay: Layout,
    met: Meetings,
    ws: Workspace,
    room: Floats,
    way: Way,
    pairs: Ints,
    depths: Floats,
) -> float:
    """Move every overlapping part once, in random order; then adapt the weights.

    Parameters
    ----------
    shp : Shapes
        The orientations.
    lay : Layout
        Where the parts lie; changed.
    met : Meetings
        Weights of the pairs; changed.
    ws : Workspace
        Random numbers and scratch arrays.
    room : ndarray, shape (4,)
        Box within which parts must stay.
    way : Way
        How places are looked for.
    pairs, depths : ndarray, shapes (m, 2) and (m,)
        Scratch for overlapping pairs.

    Returns
    -------
    float
        Sum of the overlaps left; 0 if nothing overlaps.
    """
    most = depths.shape[0]
    meeting = min(most, collisions(shp, lay, ws, pairs, depths))
    seen, order = ws.seen, ws.order
    seen[:] = 0
    m = 0
    for k in range(meeting):
        for i in (pairs[k, 0], pairs[k, 1]):
            if i < lay.movable and not seen[i]:
                seen[i] = 1
                order[m] = i
                m += 1
    for k in range(m - 1, 0, -1):
        j = int(uniform(ws.rng) * (k + 1))
        order[k], order[j] = order[j], order[k]
    for k in range(m):
        i = order[k]
        spread(met, i, ws.weights)
        count = parts_near(
            lay.grid,
            lay.box,
            i,
            lay.box[0, i],
            lay.box[1, i],
            lay.box[2, i],
            lay.box[3, i],
            ws.others,
        )
        now = weighted_overlap(
            shp,
            lay,
            ws.weights,
            ws.others,
            count,
            lay.turn[i],
            lay.x[i],
            lay.y[i],
            np.inf,
            ws.near,
            ws.met,
        )
        if now > 0.0:
            ws.counts[1] += 1
            if way.lattice.pitch > 0.0:
                found = best_lattice_place(shp, way.lattice, way.total, lay, ws, room, i)
            else:
                found = best_place(shp, lay, ws, room, i, way.effort)
            if found < now:
                put(shp.cat, lay, i, int(ws.places[0, 1]), ws.places[0, 2], ws.places[0, 3])
        gather(met, i, ws.weights)
    ws.counts[2] += 1
    meeting = min(most, collisions(shp, lay, ws, pairs, depths))
    return reweigh(met, pairs, depths, meeting)


class Progress(NamedTuple):
    """State of one separation, kept between calls.

    Parameters
    ----------
    met : Meetings
        Weights of the pairs.
    turn, x, y : ndarray, shape (n,)
        The layout with the least overlap so far.
    loss : ndarray, shape (2,)
        Its overlap, and that at the beginning of the present attempt.
    counts : ndarray of int64, shape (2,)
        Sweeps without progress; attempts in a row that failed.
    pairs, depths : ndarray, shapes (m, 2) and (m,)
        Scratch for overlapping pairs.
    """

    met: Meetings
    turn: Ints
    x: Floats
    y: Floats
    loss: Floats
    counts: Ints
    pairs: Ints
    depths: Floats


def progress(parts: int) -> Progress:
    """Return the state of a separation that has not begun."""
    return Progress(
        meetings(parts),
        np.zeros(parts, np.int64),
        np.zeros(parts),
        np.zeros(parts),
        np.array([np.inf, np.inf]),
        np.zeros(2, np.int64),
        np.zeros((20 * parts, 2), np.int64),
        np.zeros(20 * parts),
    )


@kernel
def separate(
    shp: Shapes,
    lay: Layout,
    pro: Progress,
    ws: Workspace,
    room: Floats,
    way: Way,
    stall: int,
    strikes: int,
    sweeps: int,
) -> bool:
    """Sweep some more; after `strikes` attempts that stalled, give up.

    Parameters
    ----------
    shp, lay, ws, room, way
        As for `sweep`.
    pro : Progress
        Where the separation stands; changed.
    stall : int
        An attempt ends after so many sweeps that did not lower the overlap by 2 %.
    strikes : int
        Attempts in a row without such a gain.
    sweeps : int
        Most sweeps of this call.

    Returns
    -------
    bool
        Whether the separation has ended; it succeeded if ``pro.loss[0]`` is 0.
    """
    for _ in range(sweeps):
        loss = sweep(shp, lay, pro.met, ws, room, way, pro.pairs, pro.depths)
        if loss < pro.loss[0]:
            pro.counts[0] = 0 if loss < 0.98 * pro.loss[0] else pro.counts[0] + 1
            pro.loss[0] = loss
            for i in range(lay.x.shape[0]):
                pro.turn[i], pro.x[i], pro.y[i] = lay.turn[i], lay.x[i], lay.y[i]
            if loss == 0.0:
                return True
        else:
            pro.counts[0] += 1
        if pro.counts[0] >= stall:
            pro.counts[1] = 0 if pro.loss[0] < 0.98 * pro.loss[1] else pro.counts[1] + 1
            if pro.counts[1] >= strikes:
                return True
            pro.counts[0], pro.loss[1] = 0, pro.loss[0]
            for i in range(lay.x.shape[0]):
                put(shp.cat, lay, i, pro.turn[i], pro.x[i], pro.y[i])
    return False
