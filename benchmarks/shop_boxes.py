"""What a shop does without outlines: the box of every piece, on shelves or by CP-SAT.

A box is that of the clearance polygon, and lies in the room of a sheet, so that the same
distances are kept. Rooms that are no rectangles are cut into some. Sheets are filled one after
the other: leftovers first, then the size whose price for the area placed is lowest.

References
----------
E. G. Coffman, M. R. Garey, D. S. Johnson, R. E. Tarjan, "Performance bounds for level-oriented
two-dimensional packing algorithms", SIAM Journal on Computing 9 (1980) 808-826.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from functools import partial
from itertools import pairwise
from typing import NamedTuple

import numpy as np
import shapely
from ortools.sat.python import cp_model

from nestlib.geometry import part_clearance, sheet_room
from nestlib.model import Job, Layout, Part, Placement, Sheet, Spacing

#: CP-SAT counts in tenths of a mm.
_UNIT = 0.1

#: With more pieces than this every call would spend its time on reading its model.
MOST_BY_SOLVER = 200

#: Rectangles begin and end at corners of a room whose arcs may be given away by this, in mm.
_CHORD = 1.0

#: Rectangles that a room is cut into, and their least side in mm.
_RECTANGLES, _LEAST_SIDE = 6, 25.0


class Rectangle(NamedTuple):
    """A part of a room, in mm."""

    x: float
    y: float
    width: float
    height: float


class Way(NamedTuple):
    """One way in which a box lies: the turn, its size, and its corner before it is moved."""

    rotation: float
    width: float
    height: float
    x: float
    y: float


@dataclass(frozen=True)
class Boxed:
    """A part by its box.

    Parameters
    ----------
    name : str
        Of the part.
    area : float
        True area in mm².
    quantity : int
        Pieces wanted.
    ways : tuple of Way
        As drawn, and turned by a right angle if that is allowed.
    """

    name: str
    area: float
    quantity: int
    ways: tuple[Way, ...]


class Laid(NamedTuple):
    """A box in its place: index of the part, how it lies, and its lower left corner."""

    box: int
    way: Way
    x: float
    y: float


#: Fills one sheet, given its rectangles, with some of the pieces that are left.
Fill = Callable[[Sequence[Rectangle], Sequence[int]], list[Laid]]


def boxed(part: Part, spacing: Spacing) -> Boxed:
    """Return a part by the box of its clearance polygon."""
    x0, y0, x1, y1 = part_clearance(part, spacing).bounds
    drawn = Way(0.0, x1 - x0, y1 - y0, x0, y0)
    turned = Way(90.0, y1 - y0, x1 - x0, -y1, x0)
    allowed = part.rotations or (0.0, 90.0)
    ways = tuple(way for way in (drawn, turned) if way.rotation in allowed)
    return Boxed(part.name, part.area, part.quantity, ways)


def by_shelves(job: Job) -> list[Layout]:
    """Lay boxes on shelves, first fit by decreasing height; boxes lying or all upright.

    Parameters
    ----------
    job : Job
        What is to be cut from which sheets.

    Returns
    -------
    list of Layout
        The cheaper of the two.
    """
    boxes = [boxed(part, job.spacing) for part in job.parts]
    plans = [_fill_sheets(job, boxes, partial(shelve, boxes, upright)) for upright in (False, True)]
    return min(plans, key=lambda plan: (_missing(job, plan), _cost(plan)))


def by_solver(job: Job, seconds: float, workers: int = 1, seed: int = 1) -> list[Layout]:
    """Fill one sheet after the other with the boxes of most area, by CP-SAT.

    Parameters
    ----------
    job : Job
        Of at most `MOST_BY_SOLVER` pieces.
    seconds : float
        For all sheets together; each gets the same, and begins with shelves.
    workers : int
        Threads of the solver.
    seed : int
        Of the solver.
    """
    boxes = [boxed(part, job.spacing) for part in job.parts]
    calls = 2 * len(by_shelves(job)) + len(job.sheets)
    run = cp_model.CpSolver()
    run.parameters.max_time_in_seconds = seconds / calls
    run.parameters.num_workers = workers
    run.parameters.random_seed = seed
    # Its own handler would stay behind and end the whole process at the next Ctrl-C.
    run.parameters.catch_sigint_signal = False

    def fill(rooms: Sequence[Rectangle], left: Sequence[int]) -> list[Laid]:
        rest, laid = list(left), list[Laid]()
        for room in rooms:
            found = _solve(boxes, room, rest, run)
            laid += found
            for piece in found:
                rest[piece.box] -= 1
        return laid

    return _fill_sheets(job, boxes, fill)


def rectangles(sheet: Sheet, spacing: Spacing) -> list[Rectangle]:
    """Cut the room of a sheet into rectangles, each the largest that is left."""
    room = sheet_room(sheet, spacing)
    holes = [hole.bounds for part in room.geoms for hole in part.interiors]
    coarse = shapely.get_coordinates(sheet_room(sheet, spacing, chord=_CHORD))
    corners = np.concatenate([coarse, np.reshape(holes, (-1, 2))])
    xs, ys = np.unique(corners[:, 0].round(6)), np.unique(corners[:, 1].round(6))
    cells = shapely.box(xs[:-1, None], ys[None, :-1], xs[1:, None], ys[None, 1:])
    free = shapely.covers(shapely.buffer(room, 1e-5), cells)
    found = []
    for _ in range(_RECTANGLES):
        i0, i1, j0, j1 = _largest(free, xs, ys)
        free[i0:i1, j0:j1] = False
        sides = float(xs[i1] - xs[i0]), float(ys[j1] - ys[j0])
        if min(sides) < _LEAST_SIDE:
            break
        found.append(Rectangle(float(xs[i0]), float(ys[j0]), *sides))
    return found


def _largest(free: np.ndarray, xs: np.ndarray, ys: np.ndarray) -> tuple[int, int, int, int]:
    """Columns and rows of the largest rectangle of free cells."""
    best, where, heights = 0.0, (0, 0, 0, 0), np.diff(ys)
    for i0 in range(len(free)):
        rows = np.ones(free.shape[1], dtype=bool)
        for i1 in range(i0 + 1, len(free) + 1):
            rows &= free[i1 - 1]
            if (xs[-1] - xs[i0]) * (rows @ heights) <= best:
                break
            if (xs[i1] - xs[i0]) * (rows @ heights) <= best:
                continue
            for j0, j1 in _spans(rows):
                area = float((xs[i1] - xs[i0]) * (ys[j1] - ys[j0]))
                if area > best:
                    best, where = area, (i0, i1, j0, j1)
    return where


def _spans(rows: np.ndarray) -> Iterator[tuple[int, int]]:
    """Where the runs of true values begin and end."""
    steps = np.flatnonzero(np.diff(np.concatenate([[False], rows, [False]])))
    yield from zip(steps[::2].tolist(), steps[1::2].tolist(), strict=True)


@dataclass
class _Shelf:
    """A row of boxes."""

    x: float
    y: float
    end: float
    height: float


@dataclass
class _Shelves:
    """Rectangles with shelves from below upwards."""

    rooms: Sequence[Rectangle]
    shelves: list[_Shelf] = field(default_factory=list)
    tops: list[float] = field(init=False)

    def __post_init__(self) -> None:
        self.tops = [room.y for room in self.rooms]

    def put(self, way: Way) -> tuple[float, float] | None:
        """Return the place on the first shelf with room, or on a new one; None if there is none."""
        shelf = next((s for s in self.shelves if self._has_room(s, way)), None) or self._new(way)
        if shelf is None:
            return None
        shelf.x += way.width
        return shelf.x - way.width, shelf.y

    @staticmethod
    def _has_room(shelf: _Shelf, way: Way) -> bool:
        return shelf.x + way.width <= shelf.end and way.height <= shelf.height

    def _new(self, way: Way) -> _Shelf | None:
        for k, room in enumerate(self.rooms):
            above = room.y + room.height - self.tops[k]
            if way.width <= room.width and way.height <= above:
                shelf = _Shelf(room.x, self.tops[k], room.x + room.width, way.height)
                self.tops[k] += way.height
                self.shelves.append(shelf)
                return shelf
        return None


def shelve(
    boxes: Sequence[Boxed], upright: bool, rooms: Sequence[Rectangle], left: Sequence[int]
) -> list[Laid]:
    """Fill the rectangles of one sheet by first fit, boxes by decreasing height.

    Parameters
    ----------
    boxes : sequence of Boxed
        All parts.
    upright : bool
        Whether the longer side of a box stands up. A box that finds no place like this may
        lie the other way.
    rooms : sequence of Rectangle
        Of the sheet.
    left : sequence of int
        For each part, how many pieces are still to be placed.
    """
    ways = [sorted(b.ways, key=lambda w: -w.height if upright else w.height) for b in boxes]
    shelves, laid = _Shelves(rooms), list[Laid]()
    for k in sorted(range(len(boxes)), key=lambda k: -ways[k][0].height):
        for _ in range(left[k]):
            found = ((way, place) for way in ways[k] if (place := shelves.put(way)))
            way, place = next(found, (None, None))
            if way is None or place is None:
                break
            laid.append(Laid(k, way, *place))
    return laid


def _fill_sheets(job: Job, boxes: Sequence[Boxed], fill: Fill) -> list[Layout]:
    """Fill sheets until nothing is left, or nothing fits any more."""
    left = [box.quantity for box in boxes]
    stock = {s.name: np.inf if s.quantity is None else s.quantity for s in job.sheets}
    rooms = {sheet.name: rectangles(sheet, job.spacing) for sheet in job.sheets}
    layouts = []
    for remnants in (True, False):
        while any(left):
            ready = [s for s in job.sheets if s.remnant == remnants and stock[s.name] >= 1]
            filled = [(sheet, fill(rooms[sheet.name], left)) for sheet in ready]
            filled = [(sheet, laid) for sheet, laid in filled if laid]
            if not filled:
                break
            sheet, laid = min(filled, key=lambda f: _price(f[0], f[1], boxes, sum(left)))
            layouts.append(_layout(sheet, laid, boxes))
            stock[sheet.name] -= 1
            for piece in laid:
                left[piece.box] -= 1
    return layouts


def _price(
    sheet: Sheet, laid: Sequence[Laid], boxes: Sequence[Boxed], left: int
) -> tuple[float, float]:
    """What is paid for the area placed; a sheet that takes all the rest beats the others."""
    area = sum(boxes[piece.box].area for piece in laid)
    cost = sheet.area if sheet.cost is None else sheet.cost
    return (-1.0, cost) if len(laid) == left else (cost / area, -area)


def _layout(sheet: Sheet, laid: Iterable[Laid], boxes: Sequence[Boxed]) -> Layout:
    return Layout(
        sheet,
        tuple(
            Placement(boxes[k].name, way.rotation, False, x - way.x, y - way.y)
            for k, way, x, y in laid
        ),
    )


def _missing(job: Job, layouts: Sequence[Layout]) -> int:
    return sum(p.quantity for p in job.parts) - sum(len(la.placements) for la in layouts)


def _cost(layouts: Sequence[Layout]) -> float:
    return sum(layout.sheet.cost or 0.0 for layout in layouts)


def _solve(
    boxes: Sequence[Boxed], room: Rectangle, left: Sequence[int], run: cp_model.CpSolver
) -> list[Laid]:
    """Fill one rectangle with as much area as the solver finds in its time."""
    plans = [shelve(boxes, upright, [room], left) for upright in (False, True)]
    start = max(plans, key=lambda plan: sum(boxes[piece.box].area for piece in plan))
    if len(start) == sum(left):
        return start
    return _Model(boxes, room, left, start).solve(run) or start


class _Offered(NamedTuple):
    """One piece that may be used in one way: whether it is, and where."""

    box: int
    way: Way
    used: cp_model.IntVar
    x: cp_model.IntVar
    y: cp_model.IntVar


class _Model:
    """Boxes that may lie in a rectangle, without overlap, for the most true area."""

    def __init__(
        self, boxes: Sequence[Boxed], room: Rectangle, left: Sequence[int], start: Sequence[Laid]
    ) -> None:
        self.model, self.boxes, self.room = cp_model.CpModel(), boxes, room
        self.size = int(room.width / _UNIT), int(room.height / _UNIT)
        self.spans: tuple[list[cp_model.IntervalVar], ...] = ([], [])
        self.pieces: list[list[_Offered]] = []
        for k, count in enumerate(left):
            like_this = [self._piece(k) for _ in range(count)]
            self._in_order([piece for piece in like_this if piece])
            self._begin([p for p in like_this if p], [piece for piece in start if piece.box == k])
        self.model.add_no_overlap_2d(*self.spans)
        self.model.add(self._total(lambda o: _whole(o.way)[0] * _whole(o.way)[1]) <= self._room)
        self.model.maximize(self._total(lambda o: round(boxes[o.box].area)))

    @property
    def _room(self) -> int:
        return self.size[0] * self.size[1]

    def _total(self, value: Callable[[_Offered], int]) -> cp_model.LinearExprT:
        return sum(value(o) * o.used for piece in self.pieces for o in piece)

    def _piece(self, k: int) -> list[_Offered]:
        """Offer one piece in all ways that fit."""
        offered = [self._offer(k, way) for way in self.boxes[k].ways if self._fits(way)]
        if len(offered) > 1:
            self.model.add_at_most_one(o.used for o in offered)
        if offered:
            self.pieces.append(offered)
        return offered

    def _fits(self, way: Way) -> bool:
        return all(side <= size for side, size in zip(_whole(way), self.size, strict=True))

    def _offer(self, k: int, way: Way) -> _Offered:
        used = self.model.new_bool_var("")
        places = []
        for spans, side, size in zip(self.spans, _whole(way), self.size, strict=True):
            place = self.model.new_int_var(0, size - side, "")
            spans.append(self.model.new_optional_fixed_size_interval_var(place, side, used, ""))
            places.append(place)
        return _Offered(k, way, used, *places)

    def _in_order(self, pieces: Sequence[Sequence[_Offered]]) -> None:
        """Of equal pieces the first ones are used; this loses nothing."""
        for first, second in pairwise(pieces):
            self.model.add(sum(o.used for o in first) >= sum(o.used for o in second))

    def _begin(self, pieces: Sequence[Sequence[_Offered]], start: Sequence[Laid]) -> None:
        """Hint at what the shelves hold."""
        for number, piece in enumerate(pieces):
            laid = start[number] if number < len(start) else None
            for o in piece:
                used = laid is not None and laid.way == o.way
                self.model.add_hint(o.used, used)
                if laid is not None and used:
                    self.model.add_hint(o.x, _up(laid.x - self.room.x))
                    self.model.add_hint(o.y, _up(laid.y - self.room.y))

    def solve(self, run: cp_model.CpSolver) -> list[Laid]:
        """Return what is used, and where; empty if nothing was found in time."""
        if run.solve(self.model) not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
            return []
        x, y = self.room.x, self.room.y
        return [
            Laid(o.box, o.way, x + run.value(o.x) * _UNIT, y + run.value(o.y) * _UNIT)
            for piece in self.pieces
            for o in piece
            if run.boolean_value(o.used)
        ]


def _up(length: float) -> int:
    return int(np.ceil(length / _UNIT - 1e-6))


def _whole(way: Way) -> tuple[int, int]:
    return _up(way.width), _up(way.height)
