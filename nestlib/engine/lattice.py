"""Overlaps at the places of a lattice, all of them worked out beforehand.

If every part lies with the lower left corner of its bounding box on a lattice, two parts
overlap by one of a few values, which one row of a table holds for each step between them.
The weighted overlap of a part at all places of the strip is then a sum of such rows, see
`lattice_places`: on one core as many places as random samples reach in a thousand times the
time, so nothing is missed but what lies between the places. Outlines whose corners lie on a
lattice of their own lose nothing by that; others have the last of their gaps closed by the
linear programs.

Maps of the overlap at all places of a raster, searched by guided local search: A. K. Sato,
T. C. Martins, A. M. Gomes, M. S. G. Tsuzuki, "Raster penetration map applied to the irregular
packing problem", EJOR 279 (2019) 657-671.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from nestlib.engine.catalogue import Catalogue, Floats, Ints, Kind, rings, turn_points
from nestlib.engine.kernel import allocating, inlined, kernel
from nestlib.engine.overlap import Layout, Shapes, pair_overlap, put

#: Rows have a multiple of so many entries, since the sums are vectorised.
ROW = 32

#: Pitches of outlines without a lattice of their own, in sides of the mean part.
PITCHES = (0.1, 0.05)

#: The coarsest pitch on a lattice that the outlines have themselves, and the finest lattice
#: that is looked for.
COARSEST, FINEST = 0.18, 0.04

#: Overlaps no deeper than this share of the pitch do not count where it is not the outlines'
#: own: the linear programs undo them.
FORGIVEN = 0.28

#: Most entries of one table.
MOST_ENTRIES = 20_000_000

#: Coordinates are multiples of a length if they miss by no more than this.
_SMALL = 1e-7


class Lattice(NamedTuple):
    """Overlaps of two orientations for all steps between them.

    Parameters
    ----------
    pitch : float
        Distance of the places along x and along y, in units; 0 if there is no lattice.
    soft : float
        Overlaps no deeper than this do not count.
    cells : ndarray of int64, shape (o, 2)
        How many pitches each bounding box is long and high, rounded up.
    first : ndarray of int64, shape (o, o)
        First entry of each pair.
    overlap : ndarray of float32, shape (entries,)
        For each pair a, b and each step from a to b along x, beginning with
        ``1 - cells[b, 0]``, a row: one entry for each step along y, beginning with
        ``1 - cells[b, 1]``, then zeros up to a multiple of `ROW`.
    """

    pitch: float
    soft: float
    cells: Ints
    first: Ints
    overlap: NDArray[np.float32]


def no_lattice() -> Lattice:
    """Return a lattice without places.

    Examples
    --------
    >>> no_lattice().pitch
    0.0
    """
    none = np.zeros((0, 2), np.int64)
    return Lattice(0.0, 0.0, none, none, np.zeros(0, np.float32))


def common_length(kinds: Sequence[Kind]) -> float:
    """Return the length of which all coordinates are multiples; 0 if it is below `FINEST`.

    Seen from the lower left corner of each bounding box, at all allowed turns.

    Examples
    --------
    >>> from shapely import box
    >>> common_length([Kind(box(0, 0, 0.5, 0.25), (0.0, 90.0)), Kind(box(-1, 0, 0, 1), (0.0,))])
    0.25
    >>> common_length([Kind(box(0, 0, 1, 1), (0.0, 45.0))])
    0.0
    """
    length = 0.0
    for kind in kinds:
        outline = np.concatenate(rings(kind.polygon))
        for angle, flip in kind.turns:
            points = turn_points(outline, angle, flip)
            for value in np.unique(np.round(points - points.min(axis=0), 12)):
                length = _common(length, float(value))
                if 0.0 < length < FINEST:
                    return 0.0
    return length


def _common(a: float, b: float) -> float:
    """Return the greatest length of which both are multiples, but for rounding (Euclid)."""
    while b > _SMALL:
        rest = a % b
        a, b = b, min(rest, b - rest)
    return a


def pitches(kinds: Sequence[Kind]) -> tuple[tuple[float, float], ...]:
    """Return the pitches of a coarse and a fine lattice, and what overlap each forgives.

    Examples
    --------
    >>> from shapely import box
    >>> pitches([Kind(box(0, 0, 1, 1), (0.0,)), Kind(box(0, 0, 0.5, 1), (0.0,))])
    ((0.16666666666666666, 0.0), (0.08333333333333333, 0.0))
    """
    own = common_length(kinds)
    if own == 0.0:
        return tuple((p, FORGIVEN * p) for p in PITCHES)
    coarse = own / np.ceil(own / COARSEST - _SMALL)
    return ((float(coarse), 0.0), (float(coarse) / 2, 0.0))


def lattice_of(lattices: Sequence[Lattice], search: int, together: int) -> int:
    """Return the number of the lattice on which a search lays its parts; -1: on none.

    Outlines with a lattice of their own are always searched on one, since samples only come
    near to exact contacts. The searches that begin together at first take the coarse one, whose
    maps are small; of later ones, if there is time for them, every second takes the fine one,
    on which sloping sides touch in more places. Other outlines take turns among all ways.

    Parameters
    ----------
    lattices : sequence of Lattice
        The coarse one and the fine one, or fewer.
    search : int
        Number of the search, counted from 0.
    together : int
        How many searches begin together.
    """
    if not lattices or lattices[0].soft >= FORGIVEN * lattices[0].pitch:
        return search % (len(lattices) + 1) - 1
    return len(lattices) - 1 if search >= together and search % 2 else 0


def lattices(shapes: Shapes, kinds: Sequence[Kind], contact: float) -> tuple[Lattice, ...]:
    """Work out the tables of a coarse and a fine lattice, as far as memory allows.

    Parameters
    ----------
    shapes : Shapes
        Orientations of `kinds`.
    kinds : sequence of Kind
        The outlines.
    contact : float
        Outlines this deep in each other touch.
    """
    found = []
    for pitch, forgiven in pitches(kinds):
        lattice = _empty(shapes.cat, pitch, forgiven + contact)
        if lattice.overlap.shape[0]:
            soft = np.array([lattice.soft])
            near = np.empty((4, int(np.diff(shapes.cat.edge_start).max())))
            _fill(shapes._replace(fld=shapes.fld._replace(soft=soft)), lattice, near)
            found.append(lattice)
    return tuple(found)


def _empty(cat: Catalogue, pitch: float, soft: float) -> Lattice:
    """Return a lattice whose overlaps are all 0; without entries if there would be too many."""
    sides = (cat.box[:, 2:] - cat.box[:, :2]) / pitch
    cells = np.maximum(1, np.ceil(sides - _SMALL)).astype(np.int64)
    rows = cells[:, None, 0] + cells[None, :, 0] - 1
    long = -(-(cells[:, None, 1] + cells[None, :, 1] - 1) // ROW) * ROW
    size = rows * long
    first = np.cumsum(np.concatenate([[0], size.ravel()]))
    entries = int(first[-1]) if first[-1] <= MOST_ENTRIES else 0
    overlap = np.zeros(entries, np.float32)
    return Lattice(pitch, soft, cells, first[:-1].reshape(size.shape), overlap)


@inlined
def row_length(lat: Lattice, a: int, b: int) -> int:
    """Return how many entries a row of a pair has."""
    return int((lat.cells[a, 1] + lat.cells[b, 1] - 2) // ROW + 1) * ROW


@allocating
def _fill(shp: Shapes, lat: Lattice, near: Floats) -> None:
    """Work out all overlaps; those of b with a are those of a with b the other way round."""
    box = shp.cat.box
    for a in range(lat.cells.shape[0]):
        for b in range(a, lat.cells.shape[0]):
            row = row_length(lat, a, b)
            wide, high = lat.cells[b, 0] - 1, lat.cells[b, 1] - 1
            back, low = lat.cells[a, 0] - 1, lat.cells[a, 1] - 1
            for dx in range(-wide, back + 1):
                for dy in range(-high, low + 1):
                    x = dx * lat.pitch + box[a, 0] - box[b, 0]
                    y = dy * lat.pitch + box[a, 1] - box[b, 1]
                    v = pair_overlap(shp, a, b, x, y, near)
                    lat.overlap[lat.first[a, b] + (dx + wide) * row + dy + high] = v
                    lat.overlap[lat.first[b, a] + (back - dx) * row + low - dy] = v


@kernel
def to_lattice(shp: Shapes, lat: Lattice, lay: Layout, room: Floats) -> None:
    """Move every part to the nearest place of the lattice in the room."""
    box = shp.cat.box
    for i in range(lay.movable):
        o = lay.turn[i]
        most_x = np.floor((room[2] - room[0] - box[o, 2] + box[o, 0]) / lat.pitch + _SMALL)
        most_y = np.floor((room[3] - room[1] - box[o, 3] + box[o, 1]) / lat.pitch + _SMALL)
        x = min(most_x, max(0.0, np.round((lay.box[0, i] - room[0]) / lat.pitch)))
        y = min(most_y, max(0.0, np.round((lay.box[1, i] - room[1]) / lat.pitch)))
        px, py = room[0] + x * lat.pitch - box[o, 0], room[1] + y * lat.pitch - box[o, 1]
        put(shp.cat, lay, i, o, px, py)
