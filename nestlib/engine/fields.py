"""Overlap of two orientations as a function of how far one is from the other.

For two polygons A and B, B moved by d meets A exactly if d lies in the Minkowski sum of A
and -B. A grid over d (module `minkowski`) says so at the same cost for simple and for rugged
outlines; touching is not overlap, and degenerate places of an exact fit are kept. The
measure of overlap is interpolated between the corners of the cells, and worked out for a
corner when it is first asked for: whoever asks first, the answer is the same.

Pairs that are the same up to a common turn or mirroring share one field.

Minkowski sums in nesting: J. A. Bennell, J. F. Oliveira, "The geometry of nesting
problems: a tutorial", EJOR 184 (2008) 397-415.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from nestlib.engine.catalogue import Catalogue, Floats, Ints, Kind, Turn, direction, turn_points
from nestlib.engine.convex import convex_pieces
from nestlib.engine.kernel import allocating, inlined, kernel
from nestlib.engine.minkowski import FREE, raster
from nestlib.engine.overlap_measure import penetration

#: Side of a cell, in units of the side of the mean part.
CELL = 0.1

#: Most cells along one axis.
MOST_CELLS = 64

#: Pairs of more convex pieces than this get no field.
MOST_SUMS = 20_000

#: Most bytes of all fields together.
MOST_BYTES = 300_000_000

#: Most work for all fields together: one for each field, one for each `SUMS` pairs of pieces.
MOST_WORK = 30_000.0

#: Pairs of convex pieces that cost as much as a field of simple outlines.
SUMS = 30


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
        rows, its first node in `cell` and `value`, and the two orientations it was made
        for: the number of the first times o plus that of the second.
    cell : ndarray of int32
        Of the cell up and right of each node: -1 free, -2 overlap all over, else where in
        `rule` its rules begin.
    value : ndarray of float32
        Measure of overlap at each node; not a number as long as nobody asked.
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


@kernel
def _measured(fld: Fields, cat: Catalogue, f: int, i: int, j: int, u: float, v: float) -> float:
    """Work out the measure at the corners of a cell and interpolate.

    Always for the pair the field was made for, so that it does not matter who asks.
    """
    head = fld.head[f]
    n = fld.field.shape[0]
    pair = np.int64(head[7])
    a, b = pair // n, pair % n
    for r in range(2):
        for c in range(2):
            p = np.int64(head[6]) + (j + r) * (np.int64(head[4]) + 1) + i + c
            if np.isnan(fld.value[p]):
                x, y = head[0] + (i + c) / head[2], head[1] + (j + r) / head[3]
                dx = fld.turn[a, 0] * x + fld.turn[a, 2] * y
                dy = fld.turn[a, 1] * x + fld.turn[a, 3] * y
                fld.value[p] = penetration(cat, a, b, dx, dy)
    p = np.int64(head[6]) + j * (np.int64(head[4]) + 1) + i
    wide = np.int64(head[4]) + 1
    low = (1.0 - u) * fld.value[p] + u * fld.value[p + 1]
    high = (1.0 - u) * fld.value[p + wide] + u * fld.value[p + wide + 1]
    return float((1.0 - v) * low + v * high)


@inlined
def overlap_value(fld: Fields, cat: Catalogue, a: int, b: int, dx: float, dy: float) -> float:
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
    if k == FREE:
        return 0.0
    if k >= 0 and not _decide(fld, k, x, y):
        return 0.0
    u -= i
    v -= j
    low = (1.0 - u) * fld.value[p] + u * fld.value[p + 1]
    high = (1.0 - u) * fld.value[p + wide] + u * fld.value[p + wide + 1]
    found = (1.0 - v) * low + v * high
    if np.isnan(found):
        found = _measured(fld, cat, f - 1, int(i), int(j), u, v)
    return float(found)


def no_fields(cat: Catalogue) -> Fields:
    """Return fields that know no pair."""
    return _Builder(cat, []).fields(0.0)


def fields(
    cat: Catalogue,
    kinds: Sequence[Kind],
    soft: float,
    deepest: float = 0.02,
    quantities: Sequence[int] | None = None,
) -> Fields:
    """Build the fields of all pairs of orientations, as far as time and memory allow.

    What is left out is measured without a field, which takes longer. Pairs that are likely
    to be asked for come first: those of many and of large pieces.

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
    quantities : sequence of int, optional
        How many there are of each kind; 0 for what never moves. Pairs that cannot come
        about get no field. By default any two may meet.
    """
    builder = _Builder(cat, kinds)
    work = 0.0
    for a, b, cost in _in_order(builder, quantities):
        work += cost
        if work > MOST_WORK or builder.bytes > MOST_BYTES:
            break
        builder.add(a, b, deepest)
    return builder.fields(soft)


def _in_order(builder: _Builder, quantities: Sequence[int] | None) -> list[tuple[int, int, float]]:
    """Return pairs of kinds that may meet and what their fields cost, useful ones first."""
    kinds = builder.kinds
    many = np.full(len(kinds), 2.0) if quantities is None else np.array(quantities, dtype=float)
    spans = np.array([np.subtract(k.polygon.bounds[2:], k.polygon.bounds[:2]) for k in kinds])
    found = []
    for a in range(len(kinds)):
        for b in range(a, len(kinds)):
            sums = len(builder.pieces[a]) * len(builder.pieces[b])
            if sums > MOST_SUMS or not (many[a] or many[b]) or (a == b and many[a] < 2):
                continue
            turns = _relations(kinds[a].turns, kinds[b].turns, a == b)[0]
            if not turns:  # of a kind that fits in no turn, and of which none is wanted
                continue
            cost = len(turns) * (1.0 + sums / SUMS)
            use = max(many[a], 1.0) * max(many[b], 1.0) * float(np.prod(spans[a] + spans[b]))
            found.append((-use / cost, a, b, cost))
    return [(a, b, cost) for _, a, b, cost in sorted(found)]


#: How one outline lies, seen from another: whether it is mirrored, and its angle.
_Relation = tuple[bool, float]


@lru_cache(maxsize=256)
def _relations(
    first: tuple[Turn, ...], second: tuple[Turn, ...], same: bool
) -> tuple[tuple[_Relation, ...], NDArray[np.int32], NDArray[np.int64]]:
    """Return the distinct ways in which two kinds with these turns lie to each other.

    Returns
    -------
    relations : tuple
        Each of them.
    number : ndarray of int32, shape (first, second)
        That of each two turns plus 1; negative if it is that of the second and the first,
        which happens only between orientations of the same kind.
    made : ndarray of int64, shape (relations, 2)
        Two turns that have each of them.
    """
    known: dict[_Relation, int] = {}
    number, made = np.empty((len(first), len(second)), np.int32), []
    for i, (s, f) in enumerate(first):
        for j, (t, g) in enumerate(second):
            angle = round((s - t if f else t - s) % 360.0, 9) % 360.0
            swap = same and f == g and angle > 180.0
            relation = (f != g, round(360.0 - angle, 9) if swap else angle)
            if relation not in known:
                known[relation] = len(known) + 1
                made.append((j, i) if swap else (i, j))
            number[i, j] = -known[relation] if swap else known[relation]
    return tuple(known), number, np.array(made)


class _Builder:
    """Fields that are put into common arrays one after the other."""

    def __init__(self, cat: Catalogue, kinds: Sequence[Kind]) -> None:
        self.cat, self.kinds = cat, kinds
        self.pieces = [convex_pieces(k.polygon) for k in kinds]
        self.drawn = [flat(p) for p in self.pieces]
        self.seen: dict[tuple[int, _Relation], tuple[Floats, Ints]] = {}
        self.field = np.zeros((len(cat.angle), len(cat.angle)), np.int32)
        self.heads: list[tuple[float, ...]] = []
        self.cells, self.rules = [np.zeros(0, np.int32)], [np.zeros(0, np.int32)]
        self.lines = [np.zeros((0, 3))]
        self.sizes = [0, 0, 0]

    @property
    def bytes(self) -> int:
        """Return what the fields take so far."""
        nodes, rules, lines = self.sizes
        return 8 * nodes + 4 * rules + 24 * lines

    def add(self, a: int, b: int, deepest: float) -> None:
        """Build the fields of two kinds."""
        relations, number, made = _relations(self.kinds[a].turns, self.kinds[b].turns, a == b)
        first = len(self.heads)
        o, p = int(self.cat.first[a]), int(self.cat.first[b])
        for relation, (i, j) in zip(relations, made.tolist(), strict=True):
            self._build(a, b, relation, (o + i) * len(self.field) + p + j, deepest)
        shifted = number + np.sign(number) * first
        self.field[o : o + shifted.shape[0], p : p + shifted.shape[1]] = shifted
        if a != b:
            self.field[p : p + shifted.shape[1], o : o + shifted.shape[0]] = -shifted.T

    def _build(self, a: int, b: int, relation: _Relation, pair: int, deepest: float) -> None:
        points, start = self.drawn[a]
        others, starts = self._turned(b, relation)
        head, cell, rule, line = raster(points, start, others, starts, CELL, MOST_CELLS, deepest)
        nodes, rules, lines = self.sizes
        _shift(cell, rule, rules, lines)
        x, y, side, columns, rows = head
        self.heads.append((x, y, 1 / side, 1 / side, columns, rows, nodes, pair))
        self.cells.append(cell)
        self.rules.append(rule)
        self.lines.append(line)
        self.sizes = [nodes + len(cell), rules + len(rule), lines + len(line)]

    def _turned(self, kind: int, relation: _Relation) -> tuple[Floats, Ints]:
        """Return the pieces of a kind as they lie; they stay counter-clockwise."""
        if (kind, relation) not in self.seen:
            (points, start), (flip, angle) = self.drawn[kind], relation
            if flip:
                points, start = flat([p[::-1] for p in self.pieces[kind]])
            self.seen[kind, relation] = (turn_points(points, angle, flip), start)
        return self.seen[kind, relation]

    def fields(self, soft: float) -> Fields:
        """Return all that were built."""
        cell = np.concatenate(self.cells)
        return Fields(
            self.field,
            _frames(self.cat),
            np.array(self.heads, dtype=np.float64).reshape(-1, 8),
            cell,
            np.full(len(cell), np.nan, np.float32),
            np.concatenate(self.rules),
            np.concatenate(self.lines),
            np.array([soft]),
        )


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
