"""Where the parts lie, and how much one of them overlaps with the others."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from nestlib.engine.catalogue import Catalogue, Floats, Ints
from nestlib.engine.collision import overlap
from nestlib.engine.fields import Fields, overlap_value
from nestlib.engine.grid import Grid, enter
from nestlib.engine.kernel import inlined, kernel
from nestlib.engine.overlap_measure import penetration


class Layout(NamedTuple):
    """Where the parts lie.

    Parameters
    ----------
    kind : ndarray of int64, shape (n,)
        Kind of each part.
    turn : ndarray of int64, shape (n,)
        Its orientation, an index into the catalogue.
    x, y : ndarray, shape (n,)
        Its reference point.
    box : ndarray, shape (4, n)
        Its bounding box: left, bottom, right, top.
    grid : Grid
        To find those near a place.
    movable : int
        Parts from this number on are walls, which stay where they are.
    """

    kind: Ints
    turn: Ints
    x: Floats
    y: Floats
    box: Floats
    grid: Grid
    movable: int


@inlined
def put(cat: Catalogue, lay: Layout, i: int, turn: int, x: float, y: float) -> None:
    """Place part `i`."""
    lay.turn[i], lay.x[i], lay.y[i] = turn, x, y
    lay.box[0, i], lay.box[1, i] = cat.box[turn, 0] + x, cat.box[turn, 1] + y
    lay.box[2, i], lay.box[3, i] = cat.box[turn, 2] + x, cat.box[turn, 3] + y
    enter(lay.grid, i, 0.5 * (lay.box[0, i] + lay.box[2, i]), 0.5 * (lay.box[1, i] + lay.box[3, i]))


@kernel
def put_all(cat: Catalogue, lay: Layout, room: Floats, turn: Ints, x: Floats, y: Floats) -> None:
    """Place all parts, each as near to its place as it can be within the room."""
    for i in range(x.shape[0]):
        o = turn[i]
        if i >= lay.movable:
            put(cat, lay, i, o, x[i], y[i])
            continue
        px = min(room[2] - cat.box[o, 2], max(room[0] - cat.box[o, 0], x[i]))
        py = min(room[3] - cat.box[o, 3], max(room[1] - cat.box[o, 1], y[i]))
        put(cat, lay, i, o, px, py)


class Shapes(NamedTuple):
    """What the kernels know about the shapes.

    Parameters
    ----------
    cat : Catalogue
        Their orientations.
    fld : Fields
        Overlaps of their pairs, as far as they were worked out beforehand.
    """

    cat: Catalogue
    fld: Fields


@inlined
def pair_overlap(shp: Shapes, a: int, b: int, dx: float, dy: float, near: Floats) -> float:
    """Measure the overlap of `a` at (0, 0) with `b` at (dx, dy); 0 if there is none."""
    if shp.fld.field[a, b] != 0:
        return overlap_value(shp.fld, shp.cat, a, b, dx, dy)
    if overlap(shp.cat, a, b, dx, dy, near):
        return penetration(shp.cat, a, b, dx, dy)
    return 0.0


@inlined
def weighted_overlap(
    shp: Shapes,
    lay: Layout,
    weights: Floats,
    others: Ints,
    count: int,
    turn: int,
    x: float,
    y: float,
    limit: float,
    near: Floats,
    met: Ints,
) -> float:
    """Return the weighted overlap of an orientation at (x, y) with other parts.

    Infinite as soon as it reaches `limit`. `weights` holds one weight for every part; only
    the first `count` parts of `others` are looked at.
    """
    box = shp.cat.box
    left, bottom, right, top = (
        box[turn, 0] + x,
        box[turn, 1] + y,
        box[turn, 2] + x,
        box[turn, 3] + y,
    )
    m = 0
    for k in range(count):
        j = others[k]
        met[m] = j
        m += (
            (lay.box[0, j] < right)
            & (lay.box[2, j] > left)
            & (lay.box[1, j] < top)
            & (lay.box[3, j] > bottom)
        )
    total = 0.0
    for k in range(m):
        j = met[k]
        v = pair_overlap(shp, turn, lay.turn[j], lay.x[j] - x, lay.y[j] - y, near)
        if v > 0.0:
            total += weights[j] * v
            if total >= limit:
                return np.inf
    return total
