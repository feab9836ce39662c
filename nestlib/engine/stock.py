"""Kinds and rooms made ready once, from which layouts of any pieces in any room begin."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TypeAlias

import numpy as np
from shapely import affinity
from shapely.geometry import MultiPolygon, Polygon, box

from nestlib.engine.catalogue import Floats, Ints, Kind, Turn, catalogue, turn_points
from nestlib.engine.compaction import Pieces, pieces
from nestlib.engine.convex import convex_pieces
from nestlib.engine.fields import fields, no_fields
from nestlib.engine.fitting import fits
from nestlib.engine.holes import without_useless_holes
from nestlib.engine.items import ItemPlacement, centred
from nestlib.engine.layouts import Snapshot
from nestlib.engine.overlap import Shapes
from nestlib.engine.problem import MOST_PAIRS, StripProblem
from nestlib.engine.simplify import simplified
from nestlib.errors import InputError, Problem

#: Room between rooms that are joined, in units of the side of the mean piece.
GAP = 0.5

#: What pieces may lie in, possibly in several places.
RoomPolygon: TypeAlias = Polygon | MultiPolygon


@dataclass(frozen=True, eq=False)
class Room:
    """A room of any outline: a box, and walls within it that do not move.

    Parameters
    ----------
    corner : tuple of float
        Lower left corner of the box, in lengths of the pieces.
    length, width : float
        Extent of the box along x and y, in units.
    area : float
        Area of the room, in square units.
    kind : ndarray of int64, shape (w,)
        Kind of each wall.
    walls : ndarray, shape (w, 2)
        Their reference points, seen from the corner.
    """

    corner: tuple[float, float]
    length: float
    width: float
    area: float
    kind: Ints
    walls: Floats


@dataclass(frozen=True, eq=False)
class Stock:
    """Kinds of pieces, and rooms for them, in units of the side of the mean piece.

    Parameters
    ----------
    scale : float
        Units per length of the pieces.
    offsets : tuple of (float, float)
        Where each kind's reference point is in its outline, in lengths of the pieces.
    area : ndarray, shape (kinds,)
        Area of each kind in square units.
    size : ndarray, shape (kinds and walls,)
        Area of its convex hull.
    shapes : Shapes
        Orientations of all kinds and walls, and their overlaps.
    pieces : Pieces
        The same as convex pieces.
    kinds : tuple of Kind
        Their outlines, those of the walls last.
    rooms : tuple of Room
        Where pieces may lie.
    fences : tuple of int
        Kinds of what stands between rooms and above low ones when they are joined: first
        the one between, then one above each room.
    """

    scale: float
    offsets: tuple[tuple[float, float], ...]
    area: Floats
    size: Floats
    shapes: Shapes
    pieces: Pieces
    kinds: tuple[Kind, ...]
    rooms: tuple[Room, ...]
    fences: tuple[int, ...] = ()

    @classmethod
    def of(
        cls,
        outlines: Sequence[Polygon],
        turns: Sequence[Sequence[Turn]],
        rooms: Sequence[RoomPolygon],
        mean: float | None = None,
        joinable: bool = False,
    ) -> Stock:
        """Scale everything, lay out all orientations and work out how they overlap.

        Parameters
        ----------
        outlines : sequence of Polygon
            One for each kind, with holes if it has some.
        turns : sequence of sequence of (float, bool)
            Allowed angles of each, in degrees, and whether it is mirrored before; none
            that gives the same outline as another.
        rooms : sequence of Polygon or MultiPolygon
            Where pieces may lie.
        mean : float, optional
            Area of a mean piece; by default that of a mean kind.
        joinable : bool
            Whether rooms can be joined to one, see `joined`.
        """
        scale = 1.0 / float(np.sqrt(mean or np.mean([p.area for p in outlines])))
        middles = [centred(p) for p in without_useless_holes(outlines)]
        heights = [r.bounds[3] - r.bounds[1] for r in rooms]
        kinds = [
            _kind(middle, own, heights, scale)
            for (middle, _), own in zip(middles, turns, strict=True)
        ]
        blocks = [[centred(p) for w in walls(r) for p in _cut(w, scale)] for r in rooms]
        ready, first = [], len(kinds)
        for r, found in zip(rooms, blocks, strict=True):
            ready.append(_room(r, scale, first, [at for _, at in found]))
            kinds += [Kind(p, (0.0,)) for p, _ in found]
            first += len(found)
        fences = _fences(ready) if joinable else []
        kinds += fences
        shapes, cut = _tables(kinds, len(outlines))
        return cls(
            scale,
            tuple(at for _, at in middles),
            np.array([p.area for p in outlines]) * scale**2,
            np.array([k.polygon.convex_hull.area for k in kinds]),
            shapes,
            cut,
            tuple(kinds),
            tuple(ready),
            tuple(range(first, first + len(fences))),
        )

    def with_turns(self, turns: Sequence[Sequence[Turn]]) -> Stock:
        """Return the same pieces at other turns, for the same rooms.

        Parameters
        ----------
        turns : sequence of sequence of (float, bool)
            For each kind of piece its angles, in degrees, and whether it is mirrored before.
        """
        own = [_turning(k.polygon, t) for k, t in zip(self.kinds, turns, strict=False)]
        kinds = (*own, *self.kinds[len(own) :])
        shapes, cut = _tables(kinds, len(self.area))
        return replace(self, shapes=shapes, pieces=cut, kinds=kinds)

    def problem(self, kind: Ints, room: Room) -> StripProblem:
        """Return some pieces in a room, ready for the kernels; nothing is worked out anew.

        Parameters
        ----------
        kind : ndarray of int64, shape (n,)
            Kind of each piece.
        room : Room
            Where they lie.
        """
        every = np.concatenate([kind, room.kind])
        return StripProblem(
            self.scale,
            room.width,
            self.offsets,
            every,
            self.size[every],
            self.shapes,
            self.pieces,
            room.walls,
            self.kinds,
        )

    def laid(
        self, room: Room, kind: Sequence[int], turns: Sequence[Turn], places: Floats
    ) -> Snapshot:
        """Return a layout from placements about the own (0, 0) of each piece.

        Parameters
        ----------
        room : Room
            Where the pieces lie.
        kind : sequence of int
            Kind of each.
        turns : sequence of (float, bool)
            Its angle and whether it is mirrored before; listed ones only.
        places : ndarray, shape (n, 2)
            How far it is moved then.

        Raises
        ------
        InputError
            If a turn is not among those of its kind.
        """
        cat = self.shapes.cat
        turn = [self._orientation(k, t) for k, t in zip(kind, turns, strict=True)]
        at = np.reshape(places, (-1, 2)) + self.references(kind, turns) - room.corner
        ends = np.zeros(len(room.kind), np.int64)
        return Snapshot(
            room.length,
            np.concatenate([np.array(turn, np.int64), cat.first[room.kind] + ends]),
            np.concatenate([at[:, 0] * self.scale, room.walls[:, 0]]),
            np.concatenate([at[:, 1] * self.scale, room.walls[:, 1]]),
        )

    def _orientation(self, kind: int, turn: Turn) -> int:
        own = self.kinds[kind].turns
        if turn not in own:
            what = f"turn {turn} is none of those that are tried: {own}"
            raise InputError(Problem("", f"kind {kind}", what, "Give one of them"))
        return int(self.shapes.cat.first[kind]) + own.index(turn)

    def placements(self, room: Room, snap: Snapshot) -> list[ItemPlacement]:
        """Return the placements of a layout about the own (0, 0) of each piece."""
        cat, n = self.shapes.cat, len(snap.turn) - len(room.kind)
        kind = self.kinds_of(room, snap).tolist()
        turns = [(float(cat.angle[o]), bool(cat.flip[o])) for o in snap.turn[:n]]
        at = np.column_stack([snap.x[:n], snap.y[:n]]) / self.scale + room.corner
        at = at - self.references(kind, turns)
        return [
            ItemPlacement(k, angle, flip, float(x), float(y))
            for k, (angle, flip), (x, y) in zip(kind, turns, at, strict=True)
        ]

    def kinds_of(self, room: Room, snap: Snapshot) -> Ints:
        """Return the kinds of the pieces of a layout."""
        turn = snap.turn[: len(snap.turn) - len(room.kind)]
        return np.searchsorted(self.shapes.cat.first, turn, side="right") - 1

    def references(self, kind: Sequence[int], turns: Sequence[Turn]) -> Floats:
        """Return where turned reference points are, seen from the turned (0, 0); shape (n, 2)."""
        found = [
            turn_points(np.array([self.offsets[k]]), *turn)[0]
            for k, turn in zip(kind, turns, strict=True)
        ]
        return np.reshape(found, (-1, 2))

    def fitting(self, kind: int, room: Room) -> Ints:
        """Return the orientations of a kind whose box is no larger than that of a room."""
        cat = self.shapes.cat
        o = np.arange(cat.first[kind], cat.first[kind + 1])
        sides = cat.box[o, 2:] - cat.box[o, :2]
        within = sides <= np.array([room.length, room.width]) * (1 + 1e-9)
        return np.asarray(o[within.all(axis=1)])


def walls(room: RoomPolygon) -> list[Polygon]:
    """Return what of the bounding box, moved to the origin, is not room.

    Examples
    --------
    >>> [w.area for w in walls(Polygon([(0, 0), (2, 0), (2, 1), (1, 1), (1, 2), (0, 2)]))]
    [1.0]
    """
    blocked = box(*room.bounds).difference(room)
    blocked = affinity.translate(blocked, -room.bounds[0], -room.bounds[1])
    parts = getattr(blocked, "geoms", [blocked])
    return [p for p in parts if isinstance(p, Polygon) and p.area > 1e-12 * room.area]


def _fences(rooms: Sequence[Room]) -> list[Kind]:
    """Return what stands between rooms side by side, and above each of them."""
    highest = max((r.width for r in rooms), default=0.0)
    boxes = [box(0.0, 0.0, GAP, highest), *(box(0.0, 0.0, r.length, highest) for r in rooms)]
    return [Kind(centred(b)[0], (0.0,)) for b in boxes]


def _cut(wall: Polygon, scale: float) -> list[Polygon]:
    return [Polygon(p * scale) for p in convex_pieces(wall)]


def _room(
    room: RoomPolygon, scale: float, first: int, places: Sequence[tuple[float, float]]
) -> Room:
    x0, y0, x1, y1 = room.bounds
    return Room(
        (x0, y0),
        (x1 - x0) * scale,
        (y1 - y0) * scale,
        room.area * scale**2,
        np.arange(first, first + len(places)),
        np.array(places).reshape(-1, 2),
    )


def _kind(outline: Polygon, turns: Sequence[Turn], heights: Sequence[float], scale: float) -> Kind:
    """Simplify an outline, unless that makes it too wide for a room."""
    fewer = simplified(outline)
    if any(fits(outline, t, h) > fits(fewer, t, h) for t in turns for h in heights):
        fewer = outline
    return _turning(affinity.scale(fewer, scale, scale, origin=(0.0, 0.0)), turns)


def _turning(outline: Polygon, turns: Sequence[Turn]) -> Kind:
    return Kind(outline, *(tuple(a for a, f in turns if f == flip) for flip in (False, True)))


def _tables(kinds: Sequence[Kind], movable: int) -> tuple[Shapes, Pieces]:
    """Lay out all orientations of kinds, those of pieces first, and how they overlap."""
    cat = catalogue(kinds)
    many = len(cat.angle) ** 2 > MOST_PAIRS
    quantities = [2] * movable + [0] * (len(kinds) - movable)
    fld = no_fields(cat) if many else fields(cat, kinds, 0.0, quantities=quantities)
    return Shapes(cat, fld), pieces(cat, kinds)
