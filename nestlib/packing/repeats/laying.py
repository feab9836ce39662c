"""A periodic arrangement laid into a container, cut off at its border.

Pushed to the left and down until a piece touches the left end and a piece touches the lower
one, an arrangement loses no piece in a rectangle. So only those positions are tried; where
the container is no rectangle the best of them are tried on the board.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from shapely import Polygon, affinity, get_coordinates

from nestlib.geometry.transform import turning
from nestlib.packing.board import Board, Room
from nestlib.packing.interface import PackedPlacement, Shape
from nestlib.packing.kernels import FloatArray
from nestlib.packing.orientations import Orientation
from nestlib.packing.repeats.repeat import Repeat, look_alike
from nestlib.packing.repeats.steps import multiples, reduced

#: Positions of an arrangement that are tried, and tried on the board.
_TRIED, _ON_BOARD = 400, 12

#: Ways in which the first piece of a cell may lie that are tried.
_WAYS = 8

Placements = tuple[PackedPlacement, ...]


@dataclass(frozen=True, eq=False)
class Cell:
    """An arrangement of a shape in the coordinates of a container.

    Parameters
    ----------
    shape : int
        Index of the shape.
    turns : tuple of Orientation
        How each piece of the cell lies.
    places : ndarray, shape (k, 2)
        Where the (0, 0) of each piece lies.
    steps : ndarray, shape (2, 2)
        The steps that repeat the cell.
    """

    shape: int
    turns: tuple[Orientation, ...]
    places: FloatArray
    steps: FloatArray


def cells(
    index: int, shape: Shape, turns: list[Orientation], repeats: list[Repeat]
) -> Iterator[Cell]:
    """Yield arrangements of a shape in all ways in which it may lie.

    Parameters
    ----------
    index : int
        Of the shape.
    shape : Shape
        What it looks like.
    turns : list of Orientation
        How it may lie.
    repeats : list of Repeat
        Its arrangements, as it is drawn.
    """
    outline = Polygon(shape.polygon.exterior)
    outlines = [_turned(outline, o) for o in turns]
    for o, own in list(zip(turns, outlines, strict=True))[:_WAYS]:
        opposite = affinity.scale(own, -1, -1, origin=(0, 0))
        second = next((k for k, g in enumerate(outlines) if look_alike(opposite, g)), None)
        for repeat in repeats:
            if len(repeat.places) > 1 and second is None:
                continue
            lie = (o, *(turns[second] for _ in repeat.places[1:] if second is not None))
            moved = repeat.moved(_matrix(o))
            centres = np.array([_centre(outline) @ _matrix(t) for t in lie])
            yield Cell(index, lie, moved.places - centres, moved.steps)


def is_paired(shape: Shape, turns: list[Orientation]) -> bool:
    """Return whether a shape may lie in some way and also turned by 180 degrees."""
    outlines = [_turned(Polygon(shape.polygon.exterior), o) for o in turns]
    opposites = [affinity.scale(g, -1, -1, origin=(0, 0)) for g in outlines]
    return any(look_alike(a, b) for a in opposites for b in outlines)


def _matrix(o: Orientation) -> FloatArray:
    return np.asarray(np.diag([-1.0 if o.flip else 1.0, 1.0]) @ turning(o.rotation))


def _centre(outline: Polygon) -> FloatArray:
    return np.array(outline.centroid.coords[0])


def _turned(outline: Polygon, o: Orientation) -> Polygon:
    """The outline as it lies, around its centroid."""
    points = get_coordinates(outline.exterior) - _centre(outline)
    return Polygon(points @ _matrix(o))


def laid(cell: Cell, room: Room) -> Placements:
    """Return the pieces of an arrangement that lie in a room, as many as can be found.

    Parameters
    ----------
    cell : Cell
        The arrangement.
    room : Room
        Where it may lie.
    """
    frame = _Frame(cell, room)
    if frame.is_empty:
        return ()
    starts = frame.starts()
    order = np.argsort([-frame.count(s) for s in starts], kind="stable")
    if len(room.upright) == 0:
        return frame.pieces(starts[order[0]]) if len(order) else ()
    board = Board(room)
    tried = (frame.pieces(starts[k], board) for k in order[:_ON_BOARD])
    return max(tried, key=len, default=())


class _Frame:
    """An arrangement and the bounding box of a room: where it may begin, and what fits."""

    def __init__(self, cell: Cell, room: Room) -> None:
        self.cell, self.steps = cell, reduced(cell.steps)
        x0, y0, x1, y1 = room.box
        boxes = np.array([o.box for o in cell.turns])
        self.low = np.array([x0, y0]) - boxes[:, :2]
        self.high = np.array([x1, y1]) - boxes[:, 2:]
        self.eps = 5e-11 * max(room.size)
        self.is_empty = bool((self.high < self.low - self.eps).any())
        spread = cell.places.max(axis=0) - cell.places.min(axis=0)
        reach = np.array(room.size) + spread + np.abs(self.steps).sum(axis=0)
        self.shifts = multiples(self.steps, np.zeros(2), reach, 100_000) @ self.steps

    def starts(self) -> FloatArray:
        """Positions of the first cell at which pieces touch the left end and the lower end."""
        found = [self._touching(k, j) for k in range(len(self.low)) for j in range(len(self.low))]
        every = np.vstack(found)
        first = np.unique(np.round(every / self.eps / 4), axis=0, return_index=True)[1]
        every = every[np.sort(first)]
        return every[:: -(-len(every) // _TRIED)] if len(every) else every

    def _touching(self, left: int, low: int) -> FloatArray:
        """Positions at which one kind of piece touches the left end, another the lower end."""
        x = self.low[left, 0] - self.cell.places[left, 0]
        y = self.low[low, 1] - self.cell.places[low, 1] - self.shifts[:, 1]
        across = x + self.cell.places[low, 0] + self.shifts[:, 0]
        up = y + self.cell.places[left, 1]
        good = (across >= self.low[low, 0] - self.eps) & (across <= self.high[low, 0] + self.eps)
        good &= (up >= self.low[left, 1] - self.eps) & (up <= self.high[left, 1] + self.eps)
        return np.column_stack([np.full(int(good.sum()), x), y[good]])

    def _inside(self, start: FloatArray) -> Iterator[FloatArray]:
        """For each kind of piece of the cell, where those lie that fit."""
        for k, place in enumerate(self.cell.places):
            at = self.shifts + (start + place)
            yield at[((at >= self.low[k] - self.eps) & (at <= self.high[k] + self.eps)).all(axis=1)]

    def count(self, start: FloatArray) -> int:
        """How many pieces fit."""
        return sum(len(at) for at in self._inside(start))

    def pieces(self, start: FloatArray, board: Board | None = None) -> Placements:
        """Return the pieces that fit, on a board those that are free there."""
        return tuple(
            PackedPlacement(self.cell.shape, o.rotation, o.flip, float(x), float(y))
            for o, at in zip(self.cell.turns, self._inside(start), strict=True)
            for x, y in at
            if board is None or board.is_free(o, x, y)
        )
