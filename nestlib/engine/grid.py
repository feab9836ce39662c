"""Which parts are near? A uniform grid over the middles of bounding boxes."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from nestlib.engine.catalogue import Catalogue, Floats, Ints
from nestlib.engine.kernel import inlined, kernel

#: With fewer parts all of them are looked at.
FEW = 80

#: Side of a cell in units of the side of the mean part.
_CELL = 1.5


class Grid(NamedTuple):
    """Parts in the cells of a grid; whatever lies outside belongs to the nearest cell.

    Parameters
    ----------
    frame : ndarray, shape (4,)
        Origin, and half the width and height of the largest bounding box.
    shape : ndarray of int64, shape (2,)
        Columns and rows; no cells if all parts are to be looked at.
    first : ndarray of int64, shape (cells,)
        First part of each cell, or -1.
    after, before, cell : ndarray of int64, shape (n,)
        Next and last part of the same cell, or -1; cell of each part, or -1.
    """

    frame: Floats
    shape: Ints
    first: Ints
    after: Ints
    before: Ints
    cell: Ints


def grid(cat: Catalogue, parts: int, width: float, height: float) -> Grid:
    """Return an empty grid over a room from (0, 0) to (width, height)."""
    none = np.full(parts, -1, np.int64)
    half = (cat.box[:, 2:] - cat.box[:, :2]).max(axis=0) / 2
    frame = np.array([0.0, 0.0, *half])
    if parts <= FEW:
        return Grid(frame, np.zeros(2, np.int64), np.zeros(0, np.int64), none, none, none)
    columns, rows = int(width / _CELL) + 1, int(height / _CELL) + 1
    first = np.full(columns * rows, -1, np.int64)
    return Grid(frame, np.array([columns, rows]), first, none, none.copy(), none.copy())


@inlined
def _index(origin: float, cells: int, at: float) -> int:
    return min(cells - 1, max(0, int((at - origin) / _CELL)))


@kernel
def enter(g: Grid, i: int, x: float, y: float) -> None:
    """Note that the middle of part `i` is now at (x, y)."""
    if g.first.shape[0] == 0:
        return
    c = _index(g.frame[1], g.shape[1], y) * g.shape[0] + _index(g.frame[0], g.shape[0], x)
    old = g.cell[i]
    if old == c:
        return
    if old >= 0:
        if g.before[i] >= 0:
            g.after[g.before[i]] = g.after[i]
        else:
            g.first[old] = g.after[i]
        if g.after[i] >= 0:
            g.before[g.after[i]] = g.before[i]
    g.cell[i], g.before[i], g.after[i] = c, -1, g.first[c]
    if g.first[c] >= 0:
        g.before[g.first[c]] = i
    g.first[c] = i


@kernel
def parts_near(
    g: Grid, box: Floats, i: int, left: float, bottom: float, right: float, top: float, out: Ints
) -> int:
    """List the parts other than `i` whose bounding box meets a given one; return how many.

    `box` has shape (4, n), `out` shape (n + 1,).
    """
    m = 0
    if g.first.shape[0] == 0:
        for j in range(box.shape[1]):
            out[m] = j
            m += (
                (box[0, j] < right)
                & (box[2, j] > left)
                & (box[1, j] < top)
                & (box[3, j] > bottom)
                & (j != i)
            )
        return m
    c0, c1 = (
        _index(g.frame[0], g.shape[0], left - g.frame[2]),
        _index(g.frame[0], g.shape[0], right + g.frame[2]),
    )
    r0, r1 = (
        _index(g.frame[1], g.shape[1], bottom - g.frame[3]),
        _index(g.frame[1], g.shape[1], top + g.frame[3]),
    )
    for r in range(r0, r1 + 1):
        for c in range(c0, c1 + 1):
            j = g.first[r * g.shape[0] + c]
            while j >= 0:
                out[m] = j
                m += (
                    (box[0, j] < right)
                    & (box[2, j] > left)
                    & (box[1, j] < top)
                    & (box[3, j] > bottom)
                    & (j != i)
                )
                j = g.after[j]
    return m
