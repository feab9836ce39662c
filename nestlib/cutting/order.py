"""In which order the contours of a layout are cut.

Pieces that share cuts are one piece here: its holes, its lines, then the way around it.
All marks come first, while the sheet lies still. Then a piece that lies in a hole of
another is cut wholly before the piece around it, because the hole's slug is loose afterwards
and carries the piece with it; and all holes of a piece are cut before its outer contour. Within
these rules the way is kept short, part by part or over the whole sheet.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import shapely

from nestlib.cutting.sequence import GoOn, Stop, short_sequence
from nestlib.cutting.starts import Start, preferred
from nestlib.geometry.polygons import region
from nestlib.model.contour import Contour, FloatArray

#: Places at which the order thinks of entering a contour, and where any place will do.
PLACES, MANY_PLACES = 8, 64

#: Holes smaller than this are pierced in or near their middle, in mm.
_SMALL = 15.0

Point = tuple[float, float]


@dataclass(frozen=True, eq=False)
class Piece:
    """A placed part, or a bundle of them.

    Parameters
    ----------
    placement : int
        Index into the layout's placements; of a bundle its first.
    outer : Contour
        Where its contours lie on the sheet.
    inners, marks : tuple of Contour
        The same for its holes and marks.
    lines : tuple of Contour
        Of a bundle, the cuts that its pieces share.
    members : tuple of Piece
        Its pieces, whose holes and marks follow one another in `inners` and `marks`.
    """

    placement: int
    outer: Contour
    inners: tuple[Contour, ...] = ()
    marks: tuple[Contour, ...] = ()
    lines: tuple[Contour, ...] = ()
    members: tuple[Piece, ...] = ()

    @property
    def last(self) -> str:
        """Role of its last cut."""
        return "around" if self.members else "outer"


@dataclass(frozen=True, eq=False)
class Item:
    """One contour in the order.

    Parameters
    ----------
    piece : Piece
        The piece that it belongs to.
    role : str
        As of a `Cut`.
    index : int
        Which of the piece's marks, holes or lines; 0 for the outer contour.
    """

    piece: Piece
    role: str
    index: int = 0

    @property
    def contour(self) -> Contour:
        """Where it lies on the sheet."""
        if self.role == self.piece.last:
            return self.piece.outer
        return self._group(self.piece)[self.index]

    @property
    def owner(self) -> tuple[int, int]:
        """Placement that it belongs to, and its index there; the first of a bundle's own."""
        left = self.index
        for member in self.piece.members if self.role in ("mark", "inner") else ():
            if left < len(self._group(member)):
                return member.placement, left
            left -= len(self._group(member))
        return self.piece.placement, left

    def _group(self, piece: Piece) -> tuple[Contour, ...]:
        return {"mark": piece.marks, "inner": piece.inners, "shared": piece.lines}[self.role]


@dataclass(frozen=True, eq=False)
class Visit:
    """A contour in its turn.

    Parameters
    ----------
    item : Item
        The contour.
    entry : (float, float)
        Where on it the order wants it entered, in mm.
    """

    item: Item
    entry: Point


def cutting_order(
    pieces: Sequence[Piece],
    *,
    part_by_part: bool = True,
    apart: float = 0.0,
    rounds: int | None = None,
    go_on: GoOn = lambda: True,
    places: Callable[[Item], Sequence[Start]] = lambda item: preferred(item.contour, "corner"),
    most: int = PLACES,
) -> list[Visit]:
    """Return all contours of a layout in cutting order.

    Parameters
    ----------
    pieces : sequence of Piece
        As they lie on the sheet.
    part_by_part : bool
        Whether a part that is begun is finished before the next, or only the rules count.
    apart : float
        Contours that are cut one after the other keep this distance in mm where they can.
    rounds : int, optional
        How long to search, as in `nestlib.cutting.sequence.short_sequence`; with 0 the way
        always goes to the nearest contour that may come.
    go_on : callable
        Asked now and then; False ends the search with the best so far.
    places : callable
        Says where a contour that is cut through may be entered.
    most : int
        So many of these places are thought of.

    Returns
    -------
    list of Visit
        Each contour once.
    """
    entries = _Entries(places, most)
    marks = [Item(p, "mark", i) for p in pieces for i in range(len(p.marks))]
    found = _visits(marks, (), entries, (0.0, 0.0), False, 0.0, rounds, go_on)
    start = _end(found[-1]) if found else (0.0, 0.0)
    cuts = [Item(p, "inner", i) for p in pieces for i in range(len(p.inners))]
    cuts += [Item(p, "shared", i) for p in pieces for i in range(len(p.lines))]
    cuts += [Item(p, p.last) for p in pieces]
    pairs = _pairs(pieces, cuts)
    return found + _visits(cuts, pairs, entries, start, part_by_part, apart, rounds, go_on)


def _visits(
    items: Sequence[Item],
    pairs: Sequence[tuple[int, int]],
    entries: _Entries,
    start: Point,
    in_units: bool,
    apart: float,
    rounds: int | None,
    go_on: GoOn,
) -> list[Visit]:
    """A short way through some contours."""
    stops = [
        entries.stop(item, item.piece.placement if in_units else i) for i, item in enumerate(items)
    ]
    way = short_sequence(stops, pairs, start, apart=apart, rounds=rounds, go_on=go_on)
    return [
        Visit(items[i], stops[i].places[place])
        for i, place in zip(way.order, way.places, strict=True)
    ]


@dataclass(frozen=True)
class _Entries:
    """Where contours may be entered."""

    places: Callable[[Item], Sequence[Start]]
    most: int

    def stop(self, item: Item, unit: int) -> Stop:
        """A contour with the places where it may be entered."""
        contour, piece = item.contour, item.piece.placement
        if not contour.closed:
            a, b = (_point(contour.points[k]) for k in (0, -1))
            return Stop((a, b), (b, a), unit, piece)
        x0, y0, x1, y1 = contour.bounds
        if item.role == "inner" and max(x1 - x0, y1 - y0) < _SMALL:
            return Stop((middle(contour),), (), unit, piece)
        if item.role == "mark":
            return Stop(tuple(_point(p) for p in contour.points[: self.most]), (), unit, piece)
        return Stop(self._thinned(self.places(item)), (), unit, piece)

    def _thinned(self, places: Sequence[Start]) -> tuple[Point, ...]:
        step = max(1, math.ceil(len(places) / self.most))
        return tuple((p.x, p.y) for p in places[::step])


def _end(visit: Visit) -> Point:
    """Where the beam ends; the far end of a line that stays open."""
    contour = visit.item.contour
    if contour.closed:
        return visit.entry
    a, b = (_point(contour.points[k]) for k in (0, -1))
    return b if visit.entry == a else a


def _point(xy: FloatArray) -> Point:
    return float(xy[0]), float(xy[1])


def _pairs(pieces: Sequence[Piece], items: Sequence[Item]) -> list[tuple[int, int]]:
    """Holes before outer contours; a piece in a hole wholly before the piece around it.

    Lines that pieces share come between the two.
    """
    number = {id(piece): k for k, piece in enumerate(pieces)}
    holes: list[list[int]] = [[] for _ in pieces]
    lines: list[list[int]] = [[] for _ in pieces]
    outer = [0] * len(pieces)
    for i, item in enumerate(items):
        k = number[id(item.piece)]
        if item.role == item.piece.last:
            outer[k] = i
        else:
            (lines if item.role == "shared" else holes)[k].append(i)
    pairs = [(h, outer[k]) for k in range(len(pieces)) for h in (*holes[k], *lines[k])]
    pairs += [(h, line) for k in range(len(pieces)) for h in holes[k] for line in lines[k]]
    for (around, _), inside in nesting(pieces).items():
        pairs += [(outer[k], h) for k in inside for h in holes[around]]
    return pairs


def nesting(pieces: Sequence[Piece]) -> dict[tuple[int, int], list[int]]:
    """Return which pieces lie in which hole.

    Parameters
    ----------
    pieces : sequence of Piece
        That do not overlap.

    Returns
    -------
    dict
        (index of a piece, index of its hole) -> indices of the pieces that lie directly
        in it; holes without pieces are left out.
    """
    # Most holes are too narrow for any piece, which their boxes tell at once.
    least = min((_least_side(p.outer) for p in pieces), default=0.0)
    keys = [
        (i, h)
        for i, piece in enumerate(pieces)
        for h, hole in enumerate(piece.inners)
        if _least_side(hole) >= least
    ]
    holes = [region(pieces[i].inners[h], chord=0.1) for i, h in keys]
    if not holes:
        return {}
    # A point well inside the metal: one of the contour may touch the hole it lies in.
    spots = [region(p.outer, p.inners, chord=0.1).representative_point() for p in pieces]
    tree = shapely.STRtree(holes)
    around: dict[int, list[int]] = {}
    for inside, hole in tree.query(spots, predicate="within").T.tolist():
        if keys[hole][0] != inside:
            around.setdefault(inside, []).append(hole)
    nested: dict[tuple[int, int], list[int]] = {}
    for inside, found in sorted(around.items()):
        innermost = min(found, key=lambda hole: holes[hole].area)
        nested.setdefault(keys[innermost], []).append(inside)
    return nested


def _least_side(contour: Contour) -> float:
    x0, y0, x1, y1 = contour.bounds
    return min(x1 - x0, y1 - y0)


def middle(contour: Contour) -> Point:
    """Return the middle of a contour's bounding box."""
    x0, y0, x1, y1 = contour.bounds
    return (x0 + x1) / 2, (y0 + y1) / 2
