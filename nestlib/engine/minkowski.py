"""Where two polygons meet: the Minkowski sum of one and the point mirror of the other.

Cut into convex pieces, the sum is a union of convex polygons, one for every two pieces.
Each is the common part of half-planes, and their normals are those of the two pieces.
A grid over all displacements knows of every cell whether all of it lies within one of the
polygons, none of it does, or which half-planes decide.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from nestlib.engine.catalogue import Floats, Ints
from nestlib.engine.kernel import allocating, inlined

#: What is said of cells without rules.
FREE, FULL = -1, -2

#: So far beyond a half-plane a cell is out for certain.
_ROUNDING = 1e-9


@allocating
def half_planes(
    a: Floats, a_start: Ints, i: int, ends: int, b: Floats, b_start: Ints, j: int, stops: int
) -> tuple[Floats, Ints]:
    """Return the half-planes of the sum of every convex piece of A with every one of -B.

    Parameters
    ----------
    a, b : ndarray, shape (n, 2)
        Vertices of pieces, counter-clockwise.
    a_start, b_start : ndarray of int64
        Where each piece begins, and where the last one ends.
    i, ends, j, stops : int
        The first of the pieces that are used, and the one after the last.

    Returns
    -------
    lines : ndarray, shape (m, 3)
        n . d < c, with unit normals.
    start : ndarray of int64
        Where the half-planes of each two pieces begin, and where the last ones end.
    """
    na, nb = ends - i, stops - j
    sides = nb * (a_start[ends] - a_start[i]) + na * (b_start[stops] - b_start[j])
    lines, start = np.empty((sides, 3)), np.empty(na * nb + 1, dtype=np.int64)
    m = 0
    for p in range(i, ends):
        for q in range(j, stops):
            start[(p - i) * nb + q - j] = m
            for which in range(2):
                s, first, last = a, a_start[p], a_start[p + 1]
                if which == 1:
                    s, first, last = b, b_start[q], b_start[q + 1]
                for v in range(first, last):
                    w = v + 1 if v + 1 < last else first
                    nx, ny = s[w, 1] - s[v, 1], s[v, 0] - s[w, 0]
                    h = np.hypot(nx, ny)
                    nx, ny = nx / h, ny / h
                    if which == 1:
                        nx, ny = -nx, -ny
                    ca, cb = -np.inf, -np.inf
                    for u in range(a_start[p], a_start[p + 1]):
                        ca = max(ca, nx * a[u, 0] + ny * a[u, 1])
                    for u in range(b_start[q], b_start[q + 1]):
                        cb = max(cb, -nx * b[u, 0] - ny * b[u, 1])
                    lines[m, 0], lines[m, 1], lines[m, 2] = nx, ny, ca + cb
                    m += 1
    start[na * nb] = m
    return lines, start


@allocating
def _span(p: Floats, first: int, last: int) -> tuple[float, float, float, float]:
    """Return the bounding box of some vertices."""
    x0, y0, x1, y1 = np.inf, np.inf, -np.inf, -np.inf
    for u in range(first, last):
        x0, y0, x1, y1 = min(x0, p[u, 0]), min(y0, p[u, 1]), max(x1, p[u, 0]), max(y1, p[u, 1])
    return x0, y0, x1, y1


@allocating
def raster(
    a: Floats,
    a_start: Ints,
    b: Floats,
    b_start: Ints,
    cell_side: float,
    most_cells: int,
    margin: float,
) -> tuple[Floats, NDArray[np.int32], NDArray[np.int32], Floats]:
    """Lay a grid over the sum of A and -B, and find its rules.

    Parameters
    ----------
    a, a_start, b, b_start
        As for `half_planes`.
    cell_side : float
        Side of a cell.
    most_cells : int
        Greatest number of cells along an axis; if there would be more the side grows.
    margin : float
        A cell is full only if it stays so with all half-planes moved so far inwards.

    Returns
    -------
    head : ndarray, shape (5,)
        Lower left corner, side of a cell, columns, rows.
    cell : ndarray of int32
        Of the cell up and right of each node: `FREE`, `FULL`, or where in `rule` its rules
        begin.
    rule : ndarray of int32
        Number of convex polygons; for each its number of half-planes and their indices.
    line : ndarray, shape (m, 3)
        The half-planes that are used.
    """
    na, nb = a_start.shape[0] - 1, b_start.shape[0] - 1
    lines, start = half_planes(a, a_start, 0, na, b, b_start, 0, nb)
    ax0, ay0, ax1, ay1 = _span(a, 0, a.shape[0])
    bx0, by0, bx1, by1 = _span(b, 0, b.shape[0])
    x0, y0, x1, y1 = ax0 - bx1, ay0 - by1, ax1 - bx0, ay1 - by0
    h = max(cell_side, max(x1 - x0, y1 - y0) / most_cells)
    nx, ny = int((x1 - x0) / h) + 1, int((y1 - y0) / h) + 1
    head = np.empty(5)
    head[0], head[1], head[2], head[3], head[4] = x0, y0, h, nx, ny
    boxes = np.empty((start.shape[0] - 1, 4))
    for s in range(start.shape[0] - 1):
        p, q = s // nb, s % nb
        px0, py0, px1, py1 = _span(a, a_start[p], a_start[p + 1])
        qx0, qy0, qx1, qy1 = _span(b, b_start[q], b_start[q + 1])
        boxes[s, 0], boxes[s, 1] = px0 - qx1, py0 - qy1
        boxes[s, 2], boxes[s, 3] = px1 - qx0, py1 - qy0
    cell, note, last = _survey(lines, start, boxes, head, margin)
    rule, line = _rules(cell, note, last, lines)
    return head, cell, rule, line


@inlined
def _row(
    lines: Floats, first: int, last: int, x0: float, y: float, h: float, margin: float
) -> tuple[int, int, int, int]:
    """Return the columns of a row of cells between which a polygon may meet them.

    Then those between which it holds all of a cell for certain; none if the second is less.
    """
    left, right, full, end = -1e9, 1e9, -1e9, 1e9
    for k in range(first, last):
        nx, reach = lines[k, 0], 0.5 * h * (abs(lines[k, 0]) + abs(lines[k, 1])) + _ROUNDING
        d = lines[k, 2] - lines[k, 1] * y - nx * (x0 + 0.5 * h)
        if abs(nx) < 1e-6:
            if d < -reach - 1e-3 * h:
                right = -1.0
            if d < reach + margin + 1e-3 * h:
                end = -1.0
        elif nx > 0.0:
            right = min(right, (d + reach) / (nx * h))
            end = min(end, (d - reach - margin) / (nx * h))
        else:
            left = max(left, (d + reach) / (nx * h))
            full = max(full, (d - reach - margin) / (nx * h))
    return int(left - 1e-6), int(full + 1.001), int(np.floor(end - 0.001)), int(right + 1e-6)


@allocating
def _survey(
    lines: Floats, start: Ints, boxes: Floats, head: Floats, margin: float
) -> tuple[NDArray[np.int32], NDArray[np.int32], NDArray[np.int32]]:
    """Mark full cells and note what cuts the others.

    Returns
    -------
    cell : ndarray of int32
        `FREE` or `FULL`.
    note : ndarray of int32
        Notes, each of them: the one before of the same cell or -1, a number of half-planes,
        and their indices.
    last : ndarray of int32
        The last note of each cell, or -1.
    """
    x0, y0, h, nx, ny = head[0], head[1], head[2], int(head[3]), int(head[4])
    cell = np.full((nx + 1) * (ny + 1), FREE, dtype=np.int32)
    last = np.full((nx + 1) * (ny + 1), -1, dtype=np.int32)
    note, used = np.empty(4096, dtype=np.int32), 0
    for s in range(start.shape[0] - 2, -1, -1):
        c0, c1 = int((boxes[s, 0] - x0) / h) - 1, int((boxes[s, 2] - x0) / h) + 1
        r0, r1 = int((boxes[s, 1] - y0) / h) - 1, int((boxes[s, 3] - y0) / h) + 1
        for r in range(max(0, r0), min(ny - 1, r1) + 1):
            y = y0 + (r + 0.5) * h
            left, full, end, right = _row(lines, start[s], start[s + 1], x0, y, h, margin)
            for c in range(max(0, c0, left), min(nx - 1, c1, right) + 1):
                at = r * (nx + 1) + c
                if cell[at] == FULL:
                    continue
                if full <= c <= end:
                    cell[at] = FULL
                    continue
                x = x0 + (c + 0.5) * h
                if used + start[s + 1] - start[s] + 2 > note.shape[0]:
                    wider = np.empty(2 * note.shape[0] + lines.shape[0], dtype=np.int32)
                    for k in range(used):
                        wider[k] = note[k]
                    note = wider
                cut, out = 0, False
                for k in range(start[s], start[s + 1]):
                    reach = 0.5 * h * (abs(lines[k, 0]) + abs(lines[k, 1])) + _ROUNDING
                    d = lines[k, 0] * x + lines[k, 1] * y - lines[k, 2]
                    if d >= reach:
                        out = True
                        break
                    if d > -reach - margin:
                        note[used + 2 + cut] = k
                        cut += 1
                if out:
                    continue
                if cut == 0:
                    cell[at] = FULL
                    continue
                note[used], note[used + 1] = last[at], cut
                last[at] = used
                used += 2 + cut
    return cell, note, last


@allocating
def _rules(
    cell: NDArray[np.int32], note: NDArray[np.int32], last: NDArray[np.int32], lines: Floats
) -> tuple[NDArray[np.int32], Floats]:
    """Write the notes of all cells that are cut one after the other; drop unused lines."""
    number = np.full(lines.shape[0], -1, dtype=np.int32)
    size, kept = 0, 0
    for at in range(cell.shape[0]):
        k = last[at]
        if cell[at] == FULL or k < 0:
            continue
        size += 1
        while k >= 0:
            size += 1 + note[k + 1]
            for v in range(k + 2, k + 2 + note[k + 1]):
                if number[note[v]] < 0:
                    number[note[v]] = kept
                    kept += 1
            k = note[k]
    line = np.empty((kept, 3))
    for k in range(lines.shape[0]):
        if number[k] >= 0:
            for v in range(3):
                line[number[k], v] = lines[k, v]
    rule, m = np.empty(size, dtype=np.int32), 0
    for at in range(cell.shape[0]):
        k = last[at]
        if cell[at] == FULL or k < 0:
            continue
        cell[at] = m
        first, m = m, m + 1
        rule[first] = 0
        while k >= 0:
            rule[first] += 1
            rule[m] = note[k + 1]
            m += 1
            for v in range(k + 2, k + 2 + note[k + 1]):
                rule[m] = number[note[v]]
                m += 1
            k = note[k]
    return rule, line
