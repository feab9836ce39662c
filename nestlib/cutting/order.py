"""In which order the contours of a layout are cut.

All marks come first, while the sheet lies still. Then a piece that lies in a hole of
another is cut before that hole, because the hole's slug is loose afterwards and carries
the piece with it; and all holes of a piece are cut before its outer contour. Within
these rules the way is kept short.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import TypeVar

import numpy as np
import shapely

from nestlib.cutting.tour import short_way
from nestlib.geometry.polygons import region
from nestlib.model.contour import Contour

#: From so many holes on the way through them is found once for all copies of a part.
_MANY_HOLES = 8

T = TypeVar("T")
Point = tuple[float, float]


@dataclass(frozen=True, eq=False)
class Piece:
    """A placed part.

    Parameters
    ----------
    placement : int
        Index into the layout's placements.
    outer : Contour
        Where its contours lie on the sheet.
    inners, marks : tuple of Contour
        The same for its holes and marks.
    """

    placement: int
    outer: Contour
    inners: tuple[Contour, ...] = ()
    marks: tuple[Contour, ...] = ()


@dataclass(frozen=True, eq=False)
class Item:
    """One contour in the order.

    Parameters
    ----------
    piece : Piece
        The piece that it belongs to.
    role : str
        ``"mark"``, ``"inner"`` or ``"outer"``.
    index : int
        Which of the piece's marks or holes; 0 for the outer contour.
    """

    piece: Piece
    role: str
    index: int = 0

    @property
    def contour(self) -> Contour:
        """Where it lies on the sheet."""
        if self.role == "outer":
            return self.piece.outer
        return (self.piece.inners if self.role == "inner" else self.piece.marks)[self.index]


def cutting_order(pieces: Sequence[Piece]) -> list[Item]:
    """Return all contours of a layout in cutting order.

    Parameters
    ----------
    pieces : sequence of Piece
        As they lie on the sheet.

    Returns
    -------
    list of Item
        Each contour once.
    """
    marks = [Item(p, "mark", i) for p in pieces for i in range(len(p.marks))]
    items = _sorted_by_way(marks, lambda item: middle(item.contour), (0.0, 0.0))
    nested = nesting(pieces)
    held = {i for inside in nested.values() for i in inside}
    free = [i for i in range(len(pieces)) if i not in held]
    position = middle(items[-1].contour) if items else (0.0, 0.0)
    for i in _sorted_by_way(free, lambda i: middle(pieces[i].outer), position):
        items.extend(_piece_order(pieces, i, nested, items))
    return items


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
    keys = [(i, h) for i, piece in enumerate(pieces) for h in range(len(piece.inners))]
    holes = [region(pieces[i].inners[h], chord=0.1) for i, h in keys]
    # A point well inside the metal: one of the contour may touch the hole it lies in.
    spots = [region(p.outer, p.inners, chord=0.1).representative_point() for p in pieces]
    if not holes:
        return {}
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


def _piece_order(
    pieces: Sequence[Piece],
    number: int,
    nested: dict[tuple[int, int], list[int]],
    before: Sequence[Item],
) -> Iterator[Item]:
    """One piece with everything that lies in its holes."""
    piece = pieces[number]
    position = middle(before[-1].contour) if before else (0.0, 0.0)
    for hole in _holes_by_way(piece, position):
        inside = nested.get((number, hole), [])
        for i in _sorted_by_way(inside, lambda i: middle(pieces[i].outer), position):
            yield from _piece_order(pieces, i, nested, before)
        position = middle(piece.inners[hole])
        yield Item(piece, "inner", hole)
    yield Item(piece, "outer")


def _holes_by_way(piece: Piece, start: Point) -> Sequence[int]:
    """Order of a piece's holes; for many, from that corner about them which is nearest.

    The way through many holes takes long to find, and from a corner it is the same for all
    copies of a part.
    """
    spots = np.array([middle(hole) for hole in piece.inners]).reshape(-1, 2)
    if len(spots) < _MANY_HOLES:
        return short_way(spots, start)
    low = spots.min(axis=0)
    spots, size = np.round(spots - low, 3), spots.max(axis=0) - low
    corner = np.where(np.array(start) - low > size / 2, np.round(size, 3), 0.0)
    return _way_from_corner(tuple(map(tuple, spots.tolist())), tuple(corner.tolist()))


@lru_cache(maxsize=1000)
def _way_from_corner(spots: tuple[Point, ...], corner: Point) -> Sequence[int]:
    return short_way(spots, corner)


def _sorted_by_way(things: Sequence[T], spot: Callable[[T], Point], start: Point) -> list[T]:
    spots = np.array([spot(t) for t in things]).reshape(-1, 2)
    return [things[i] for i in short_way(spots, start)]


def middle(contour: Contour) -> Point:
    """Return the middle of a contour's bounding box."""
    x0, y0, x1, y1 = contour.bounds
    return (x0 + x1) / 2, (y0 + y1) / 2
