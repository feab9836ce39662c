"""Which patterns of a part there are: pairs, rows, and rows two deep.

Every piece keeps an edge of its own on the outline, so that it hangs in the sheet until the
outline is cut, last of all: patterns are never more than two pieces deep.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import shapely
from shapely import Polygon
from shapely.geometry.base import BaseGeometry

from nestlib.bundling.joining import facing, joined
from nestlib.bundling.pattern import Pattern, single
from nestlib.geometry.polygons import region
from nestlib.geometry.transform import placed
from nestlib.model import Part, Spacing

#: Shorter edges are not worth a cut of their own, in mm: common practice, no source.
LEAST_EDGE = 10.0

#: What every piece keeps on the outline, as a share of its own contour, at least.
_KEPT = 1 / 12

#: Longest row, and most units that a row consists of two of.
_LONGEST = 8


def patterns(part: Part, spacing: Spacing, most: int, *, half_turns: bool = True) -> list[Pattern]:
    """Return patterns of two pieces and more.

    Parameters
    ----------
    part : Part
        Its holes count for nothing.
    spacing : Spacing
        Kerf, and the distance to what shares no cut.
    most : int
        Most pieces in one pattern.
    half_turns : bool
        Whether pieces may lie turned by half a turn beside each other.

    Returns
    -------
    list of Pattern
        Each once, from small to large, with its lower left corner at (0, 0).

    Examples
    --------
    >>> from nestlib.model import Contour
    >>> tile = Part("tile", Contour.rectangle(40, 30))
    >>> [len(p.members) for p in patterns(tile, Spacing(0.2, 3, 10), 4)]
    [2, 2, 3, 3, 4, 4, 4]
    """
    found: dict[tuple[object, ...], Pattern] = {}
    alone = single(part.name, part.outer)
    turned = _pairs(alone, spacing) if half_turns and most > 1 else []
    for unit in (alone, *turned):
        for pattern in _grown(unit, spacing, most):
            if len(pattern.members) > 1 and all_hang(pattern, [part] * len(pattern.members)):
                found.setdefault(_key(pattern), pattern.from_corner())

    def rank(pattern: Pattern) -> tuple[int, float]:
        size = len(pattern.members)
        return size, -saved_length(pattern, [part] * size)

    return sorted(found.values(), key=rank)


def saved_length(pattern: Pattern, parts: Sequence[Part]) -> float:
    """Return how much less there is to cut than with each contour by itself, in mm.

    Parameters
    ----------
    pattern : Pattern
        Its outline and lines.
    parts : sequence of Part
        Whose pieces its members are, one for each.
    """
    shared = sum(line.length for line in pattern.lines)
    return sum(part.outer.length for part in parts) - pattern.outline.length - shared


def all_hang(pattern: Pattern, parts: Sequence[Part]) -> bool:
    """Return whether each piece hangs in the sheet until the way around is cut.

    It does by a good share of its contour, or by edges with its centre of mass between them,
    as a strip does by both its ends.

    Parameters
    ----------
    pattern : Pattern
        Pieces and outline.
    parts : sequence of Part
        Whose pieces its members are, one for each.
    """
    edge = region(pattern.outline).exterior.buffer(1e-4)
    pairs = zip(parts, pattern.members, strict=True)
    return all(_hangs(region(placed(part.outer, member)), edge) for part, member in pairs)


def _hangs(piece: Polygon, edge: Polygon) -> bool:
    kept = shapely.intersection(piece.exterior, edge)
    if kept.length >= _KEPT * piece.exterior.length:
        return True
    firm = [line for line in _lines(kept) if line.length >= LEAST_EDGE]
    return len(firm) > 1 and bool(shapely.union_all(firm).convex_hull.covers(piece.centroid))


def _lines(geometry: BaseGeometry) -> list[BaseGeometry]:
    merged = shapely.line_merge(geometry)
    return list(getattr(merged, "geoms", [merged]))


def _pairs(alone: Pattern, spacing: Spacing) -> list[Pattern]:
    """Two pieces, one of them turned, along each edge that needs it."""
    other = alone.turned()
    moved_only = {i for i, _ in facing(alone, alone, LEAST_EDGE)}
    pairs = [
        _join(alone, i, other, j, spacing)
        for i, j in facing(alone, other, LEAST_EDGE)
        if i == j and i not in moved_only
    ]
    return [pair for pair in pairs if pair is not None]


def _grown(unit: Pattern, spacing: Spacing, most: int) -> Iterator[Pattern]:
    """The unit, its rows in each direction, and two of a row side by side."""
    yield unit
    # A row that grows the other way is the same row.
    pairs = {frozenset(pair): pair for pair in facing(unit, unit, LEAST_EDGE)}
    for i, j in pairs.values():
        for row in _rows(unit, i, j, spacing, most // len(unit.members)):
            yield row
            if 2 * len(row.members) <= most:
                yield from _twice(row, spacing)


def _rows(unit: Pattern, i: int, j: int, spacing: Spacing, most: int) -> Iterator[Pattern]:
    """Rows of two units and more, one beyond the other, as long as they go on alike."""
    row: Pattern | None = unit
    way = unit.outline.segments[1][i] - unit.outline.segments[0][i]
    for _ in range(2, min(most, _LONGEST) + 1):
        ends = [pair for pair in facing(row, unit, LEAST_EDGE) if pair[1] == j] if row else []
        ends = [pair for pair in ends if row and _outermost(row, pair[0], way)]
        row = _join(row, ends[0][0], unit, j, spacing) if row and ends else None
        if row is None:
            return
        yield row


def _outermost(row: Pattern, i: int, way: object) -> bool:
    """Whether nothing of a row lies beyond one of its edges."""
    a, b, _ = row.outline.segments
    u = b[i] - a[i]
    beyond = (row.outline.points - a[i]) @ (u[1], -u[0])
    return bool(beyond.max() <= 1e-6 * (u @ u) ** 0.5)


def _twice(row: Pattern, spacing: Spacing) -> Iterator[Pattern]:
    """Two of a row, joined along the edges that are longest."""
    pairs = list(facing(row, row, LEAST_EDGE))
    if not pairs:
        return
    lengths = {i: float(((row.outline.segments[1] - row.outline.segments[0])[i] ** 2).sum())
               for i, _ in pairs}  # fmt: skip
    i, j = max(pairs, key=lambda pair: lengths[pair[0]])
    pattern = _join(row, i, row, j, spacing)
    if pattern is not None:
        yield pattern


def _join(one: Pattern, i: int, other: Pattern, j: int, spacing: Spacing) -> Pattern | None:
    return joined(one, i, other, j, spacing.kerf, spacing.between_parts)


def _key(pattern: Pattern) -> tuple[object, ...]:
    """The same for patterns that differ only in where they lie, or by half a turn."""
    x0, y0, x1, y1 = pattern.outline.bounds
    size = (round(x1 - x0, 5), round(y1 - y0, 5))
    lines = sum(line.length for line in pattern.lines)
    return (len(pattern.members), size, round(pattern.outline.length, 5), round(lines, 5))
