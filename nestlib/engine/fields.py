"""Overlap of two orientations as a function of how far one is from the other.

For two polygons A and B, B moved by d meets A exactly if d lies in the Minkowski sum of A
and -B. Cut into convex pieces, that sum is a union of convex polygons, each the common
part of half-planes. A grid over d knows for every cell whether all of it lies within one of
them, none of it does, or which half-planes decide. So the exact test costs the same for
simple and for rugged outlines, touching is not overlap, and degenerate places of an
exact fit are kept. The measure of overlap is interpolated between the corners of the cells.

Pairs that are the same up to a common turn or mirroring share one field.

Minkowski sums in nesting: J. A. Bennell, J. F. Oliveira, "The geometry of nesting
problems: a tutorial", EJOR 184 (2008) 397-415.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from nestlib.engine.catalogue import Catalogue, Floats, Ints, Kind, direction, turn_points
from nestlib.engine.convex import convex_pieces
from nestlib.engine.kernel import allocating, inlined
from nestlib.engine.overlap_measure import penetration

#: Side of a cell, in units of the side of the mean part.
CELL = 0.1

#: Most cells along one axis.
MOST_CELLS = 64

#: Pairs of more convex pieces than this get no field.
MOST_SUMS = 4000

_FREE, _FULL = -1, -2


class Fields(NamedTuple):
    """Fields of all pairs of orientations.

    Parameters
    ----------
    field : ndarray of int32, shape (o, o)
        Field of each pair plus 1; negative if it is that of the pair the other way round;
        0 if it has none.
    turn : ndarray, shape (o, 4)
        Matrix, row by row, into the frame in which each orientation is neither turned nor
        mirrored.
    head : ndarray, shape (f, 8)
        Of each field: lower left corner of the grid, cells per unit of length, columns,
        rows, its first node in `cell` and `value`; the last is unused.
    cell : ndarray of int32
        Of the cell up and right of each node: -1 free, -2 overlap all over, else where in
        `rule` its rules begin.
    value : ndarray of float32
        Measure of overlap at each node.
    rule : ndarray of int32
        Number of convex polygons; for each its number of half-planes and their indices.
    line : ndarray, shape (lines, 3)
        Half-planes n . d < c with unit normal.
    soft : ndarray, shape (1,)
        Overlaps no deeper than this do not count.
    """

    field: NDArray[np.int32]
    turn: Floats
    head: Floats
    cell: NDArray[np.int32]
    value: NDArray[np.float32]
    rule: NDArray[np.int32]
    line: Floats
    soft: Floats


@allocating
def half_planes(a: Floats, a_start: Ints, b: Floats, b_start: Ints) -> tuple[Floats, Ints]:
    """Return the half-planes of the sum of every convex piece of A with every one of -B."""
    na, nb = a_start.shape[0] - 1, b_start.shape[0] - 1
    lines = np.empty((nb * a.shape[0] + na * b.shape[0], 3))
    start = np.empty(na * nb + 1, dtype=np.int64)
    m = 0
    for i in range(na):
        for j in range(nb):
            start[i * nb + j] = m
            for which in range(2):
                p, s, k = (a, a_start, i) if which == 0 else (b, b_start, j)
                for v in range(s[k], s[k + 1]):
                    w = v + 1 if v + 1 < s[k + 1] else s[k]
                    nx, ny = p[w, 1] - p[v, 1], p[v, 0] - p[w, 0]
                    h = np.hypot(nx, ny)
                    nx, ny = nx / h, ny / h
                    if which == 1:
                        nx, ny = -nx, -ny
                    ca, cb = -np.inf, -np.inf
                    for u in range(a_start[i], a_start[i + 1]):
                        ca = max(ca, nx * a[u, 0] + ny * a[u, 1])
                    for u in range(b_start[j], b_start[j + 1]):
                        cb = max(cb, -nx * b[u, 0] - ny * b[u, 1])
                    lines[m, 0], lines[m, 1], lines[m, 2] = nx, ny, ca + cb
                    m += 1
    start[na * nb] = m
    return lines, start


@allocating
def _raster(
    lines: Floats, start: Ints, x0: float, y0: float, h: float, nx: int, ny: int, margin: float
) -> tuple[NDArray[np.int32], NDArray[np.int32], int]:
    """Find the rules of every cell, and how long they are.

    A cell is full only if it stays so within `margin`.
    """
    cell = np.empty((nx + 1) * (ny + 1), dtype=np.int32)
    for k in range(cell.shape[0]):
        cell[k] = _FREE
    rule = np.empty(4096, dtype=np.int32)
    used = 0
    reach = np.empty(lines.shape[0])
    for k in range(lines.shape[0]):
        reach[k] = 0.5 * h * (abs(lines[k, 0]) + abs(lines[k, 1])) + 1e-9
    longest = lines.shape[0] + start.shape[0] + 1
    for i in range(nx):
        x = x0 + (i + 0.5) * h
        for j in range(ny):
            y = y0 + (j + 0.5) * h
            if used + longest > rule.shape[0]:
                wider = np.empty(2 * rule.shape[0] + longest, dtype=np.int32)
                for k in range(used):
                    wider[k] = rule[k]
                rule = wider
            first, sums, full = used, 0, False
            used += 1
            for s in range(start.shape[0] - 1):
                head, cut, out = used, 0, False
                used += 1
                for k in range(start[s], start[s + 1]):
                    d = lines[k, 0] * x + lines[k, 1] * y - lines[k, 2]
                    if d >= reach[k]:
                        out = True
                        break
                    if d > -reach[k] - margin:
                        rule[used] = k
                        used += 1
                        cut += 1
                if out:
                    used = head
                    continue
                if cut == 0:
                    full = True
                    break
                rule[head] = cut
                sums += 1
            if full or sums == 0:
                used = first
                cell[j * (nx + 1) + i] = _FULL if full else _FREE
            else:
                rule[first] = sums
                cell[j * (nx + 1) + i] = first
    return cell, rule, used


@allocating
def _values(
    cat: Catalogue,
    a: int,
    b: int,
    frame: Floats,
    x0: float,
    y0: float,
    h: float,
    nx: int,
    ny: int,
) -> NDArray[np.float32]:
    """Measure the overlap at every node."""
    out = np.empty((nx + 1) * (ny + 1), dtype=np.float32)
    for j in range(ny + 1):
        for i in range(nx + 1):
            x, y = x0 + i * h, y0 + j * h
            dx, dy = frame[0] * x + frame[2] * y, frame[1] * x + frame[3] * y
            out[j * (nx + 1) + i] = penetration(cat, a, b, dx, dy)
    return out


@inlined
def _decide(fld: Fields, k: int, x: float, y: float) -> bool:
    """Tell whether (x, y) lies deeper than `soft` within one of a cell's polygons."""
    soft = fld.soft[0]
    sums = fld.rule[k]
    k += 1
    for _ in range(sums):
        n = fld.rule[k]
        hit = True
        for q in range(k + 1, k + 1 + n):
            m = fld.rule[q]
            if fld.line[m, 0] * x + fld.line[m, 1] * y >= fld.line[m, 2] - soft:
                hit = False
                break
        if hit:
            return True
        k += 1 + n
    return False


@inlined
def overlap_value(fld: Fields, a: int, b: int, dx: float, dy: float) -> float:
    """Measure the overlap of `a` at (0, 0) with `b` at (dx, dy); 0 if there is none.

    The pair is known to have a field.
    """
    f = fld.field[a, b]
    if f < 0:
        a, f, dx, dy = b, -f, -dx, -dy
    head = fld.head[f - 1]
    x = fld.turn[a, 0] * dx + fld.turn[a, 1] * dy
    y = fld.turn[a, 2] * dx + fld.turn[a, 3] * dy
    u = (x - head[0]) * head[2]
    v = (y - head[1]) * head[3]
    if not (u >= 0.0 and v >= 0.0 and u < head[4] and v < head[5]):
        return 0.0
    i, j = np.int64(u), np.int64(v)
    wide = np.int64(head[4]) + 1
    p = np.int64(head[6]) + j * wide + i
    k = fld.cell[p]
    if k == _FREE:
        return 0.0
    if k >= 0 and not _decide(fld, k, x, y):
        return 0.0
    u -= i
    v -= j
    low = (1.0 - u) * fld.value[p] + u * fld.value[p + 1]
    high = (1.0 - u) * fld.value[p + wide] + u * fld.value[p + wide + 1]
    return float((1.0 - v) * low + v * high)


def flat(pieces: Sequence[Floats]) -> tuple[Floats, Ints]:
    """Return all vertices in one array, and where each piece begins."""
    return np.concatenate(pieces), np.cumsum([0, *map(len, pieces)]).astype(np.int64)


def _frames(cat: Catalogue) -> Floats:
    """Return for every orientation the matrix that turns it back, shape (o, 4)."""
    found = np.empty((len(cat.angle), 4))
    for o, (angle, flip) in enumerate(zip(cat.angle, cat.flip, strict=True)):
        (c, s), m = direction(float(angle)), -1.0 if flip else 1.0
        found[o] = m * c, m * s, -s, c
    return found


def no_fields(cat: Catalogue) -> Fields:
    """Return fields that know no pair."""
    o = len(cat.angle)
    few = np.zeros(0, np.int32)
    return Fields(
        np.zeros((o, o), np.int32),
        np.zeros((o, 4)),
        np.zeros((0, 8)),
        few,
        np.zeros(0, np.float32),
        few,
        np.zeros((0, 3)),
        np.zeros(1),
    )


def fields(cat: Catalogue, kinds: Sequence[Kind], soft: float, deepest: float = 0.02) -> Fields:
    """Build the fields of all pairs of orientations.

    Parameters
    ----------
    cat : Catalogue
        The orientations of `kinds`.
    kinds : sequence of Kind
        Their outlines.
    soft : float
        Overlaps no deeper than this do not count.
    deepest : float
        Greatest value that `soft` may be given later.
    """
    pieces = [flat(convex_pieces(k.polygon)) for k in kinds]
    owner = np.repeat(np.arange(len(kinds)), np.diff(cat.first))
    field = np.zeros((len(owner), len(owner)), np.int32)
    known: dict[_Key, int] = {}
    built: list[_Grid] = []
    for a, b in zip(*np.nonzero(owner[:, None] <= owner[None, :]), strict=True):
        key, sign = _key(cat, owner, int(a), int(b))
        if len(pieces[key[0]][1]) * len(pieces[key[1]][1]) > MOST_SUMS:
            continue
        if key not in known:
            known[key] = len(built) + 1
            first, second = (int(a), int(b)) if sign > 0 else (int(b), int(a))
            built.append(_pair(cat, first, second, pieces[key[0]], pieces[key[1]], key, deepest))
        field[a, b] = sign * known[key]
        if owner[a] != owner[b]:
            field[b, a] = -known[key]
    return _joined(cat, field, built, soft) if built else no_fields(cat)


#: Two kinds, whether one of them is mirrored, and the angle of the second in the frame of
#: the first.
_Key = tuple[int, int, bool, float]


def _key(cat: Catalogue, owner: Ints, a: int, b: int) -> tuple[_Key, int]:
    """Return what a pair has in common with all that share its field.

    The sign is negative if that field is for `b` and `a`.
    """
    mirrored = bool(cat.flip[a] != cat.flip[b])
    angle = float(cat.angle[b] - cat.angle[a]) * (-1 if cat.flip[a] else 1)
    angle = round(angle % 360.0, 9) % 360.0
    swap = owner[a] == owner[b] and not mirrored and angle > 180.0
    if swap:
        angle = round(360.0 - angle, 9)
    return (int(owner[a]), int(owner[b]), mirrored, angle), -1 if swap else 1


class _Grid(NamedTuple):
    """Field of one pair."""

    head: tuple[float, float, float, int, int]
    cell: NDArray[np.int32]
    rule: NDArray[np.int32]
    line: Floats
    value: NDArray[np.float32]


def _pair(
    cat: Catalogue,
    a: int,
    b: int,
    first: tuple[Floats, Ints],
    second: tuple[Floats, Ints],
    key: _Key,
    deepest: float,
) -> _Grid:
    """Build the field of one pair, seen in the frame of the first."""
    points, start = first[0], first[1]
    others, starts = second
    if key[2]:
        others, starts = _mirrored(others, starts)
    others = turn_points(others, key[3])
    x0, y0 = points.min(axis=0) - others.max(axis=0)
    x1, y1 = points.max(axis=0) - others.min(axis=0)
    h = max(CELL, max(x1 - x0, y1 - y0) / MOST_CELLS)
    nx, ny = int((x1 - x0) / h) + 1, int((y1 - y0) / h) + 1
    line, sums = half_planes(points, start, others, starts)
    cell, rule, used = _raster(line, sums, x0, y0, h, nx, ny, deepest)
    value = _values(cat, a, b, _frames(cat)[a], x0, y0, h, nx, ny)
    return _Grid((x0, y0, h, nx, ny), cell, rule[:used].copy(), line, value)


def _mirrored(points: Floats, start: Ints) -> tuple[Floats, Ints]:
    """Mirror pieces; their vertices stay counter-clockwise."""
    return flat([turn_points(points[i:j][::-1], 0.0, True) for i, j in pairwise(start)])


def _joined(cat: Catalogue, field: NDArray[np.int32], built: list[_Grid], soft: float) -> Fields:
    """Put all fields into common arrays."""
    nodes, rules, lines = 0, 0, 0
    heads = []
    for g in built:
        x0, y0, h, nx, ny = g.head
        heads.append((x0, y0, 1 / h, 1 / h, nx, ny, nodes, 0.0))
        _shift(g.cell, g.rule, rules, lines)
        nodes, rules, lines = nodes + len(g.cell), rules + len(g.rule), lines + len(g.line)
    return Fields(
        field,
        _frames(cat),
        np.array(heads),
        np.concatenate([g.cell for g in built]),
        np.concatenate([g.value for g in built]),
        np.concatenate([g.rule for g in built]),
        np.concatenate([g.line for g in built]),
        np.array([soft]),
    )


@allocating
def _shift(cell: NDArray[np.int32], rule: NDArray[np.int32], rules: int, lines: int) -> None:
    """Make indices of one field those of all fields together."""
    k = 0
    while k < rule.shape[0]:
        sums = rule[k]
        k += 1
        for _ in range(sums):
            n = rule[k]
            for q in range(k + 1, k + 1 + n):
                rule[q] += lines
            k += 1 + n
    for k in range(cell.shape[0]):
        if cell[k] >= 0:
            cell[k] += rules
