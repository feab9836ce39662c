"""The best place of a lattice for one part: the overlap at all of them, then the least."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from nestlib.engine.catalogue import Floats
from nestlib.engine.kernel import inlined, kernel, summing
from nestlib.engine.lattice import ROW, Lattice, row_length
from nestlib.engine.overlap import Layout, Shapes
from nestlib.engine.relocation import Workspace
from nestlib.engine.rng import uniform

#: Values that differ by less are alike.
_ALIKE = 1e-6


def map_size(lat: Lattice, length: float, width: float) -> int:
    """Return the most entries of a map of a room."""
    rows = int(length / lat.pitch) + 2
    return rows * (int(width / lat.pitch) + 2 + int(lat.cells[:, 1].max()) + ROW)


@summing
def _add(
    total: NDArray[np.float32],
    at: int,
    stride: int,
    overlap: NDArray[np.float32],
    first: int,
    row: int,
    rows: int,
    weight: np.float32,
) -> None:
    """Add rows of a table, `row` entries each, to rows of a map, `stride` apart.

    Unsigned indices: others may count from the end, which keeps loops from being vectorised.
    """
    to, of, n, apart = np.uint64(at), np.uint64(first), np.uint64(row), np.uint64(stride)
    for _ in range(rows):
        for k in range(n):
            total[to + k] += weight * overlap[of + k]
        to += apart
        of += n


@summing
def _least(total: NDArray[np.float32], at: int, count: int) -> float:
    begin, n, least = np.uint64(at), np.uint64(count), total[at]
    for k in range(n):
        least = min(least, total[begin + k])
    return float(least)


@inlined
def _places(lat: Lattice, side: float, room: float) -> int:
    """Return how many places there are along one axis."""
    return int(np.floor((room - side) / lat.pitch + 1e-7)) + 1


@kernel
def _map(
    lat: Lattice,
    lay: Layout,
    ws: Workspace,
    room: Floats,
    i: int,
    o: int,
    rows: int,
    stride: int,
    total: NDArray[np.float32],
    shp: Shapes,
) -> None:
    """Add up the weighted overlap of part `i` in orientation `o` with all others.

    Of the map row x, column ``cells[o, 1] - 1 + y`` is the place (x, y).
    """
    for k in range(rows * stride):
        total[k] = 0.0
    reach = lat.cells[o, 0] - 1
    for j in range(lay.x.shape[0]):
        if j == i:
            continue
        a = lay.turn[j]
        x = int(np.round((lay.box[0, j] - room[0]) / lat.pitch))
        y = int(np.round((lay.box[1, j] - room[1]) / lat.pitch))
        row = row_length(lat, a, o)
        begin, end = max(x - reach, 0), min(x + lat.cells[a, 0], rows)
        if begin < end:
            first = lat.first[a, o] + (begin - x + reach) * row
            weight = np.float32(ws.weights[j])
            _add(total, begin * stride + y, stride, lat.overlap, first, row, end - begin, weight)


@kernel
def best_lattice_place(
    shp: Shapes,
    lat: Lattice,
    total: NDArray[np.float32],
    lay: Layout,
    ws: Workspace,
    room: Floats,
    i: int,
) -> float:
    """Find the place of least overlap for part `i` and leave it in ``ws.places[0]``.

    Parameters
    ----------
    shp : Shapes
        The orientations.
    lat : Lattice
        On whose places all parts lie.
    total : ndarray of float32, shape (m,)
        Scratch for maps, see `map_size`.
    lay : Layout
        Where the parts lie.
    ws : Workspace
        Its row of weights is that of part `i`.
    room : ndarray, shape (4,)
        Box within which the part must stay.
    i : int
        The part.

    Returns
    -------
    float
        Its weighted overlap there; infinite if no orientation fits into the room. Chance
        chooses among places that are alike.
    """
    box, best, alike = shp.cat.box, np.inf, 0
    for o in range(shp.cat.first[lay.kind[i]], shp.cat.first[lay.kind[i] + 1]):
        rows = _places(lat, box[o, 2] - box[o, 0], room[2] - room[0])
        columns = _places(lat, box[o, 3] - box[o, 1], room[3] - room[1])
        if rows <= 0 or columns <= 0:
            continue
        skip = lat.cells[o, 1] - 1
        stride = skip + int((room[3] - room[1]) / lat.pitch) + 2 + ROW
        _map(lat, lay, ws, room, i, o, rows, stride, total, shp)
        for x in range(rows):
            at = x * stride + skip
            least = _least(total, at, columns)
            if least > best + _ALIKE:
                continue
            if least < best - _ALIKE:
                best, alike = least, 0
            for y in range(columns):
                if total[at + y] <= best + _ALIKE:
                    alike += 1
                    if uniform(ws.rng) * alike < 1.0:
                        ws.places[0, 0], ws.places[0, 1] = total[at + y], o
                        ws.places[0, 2] = room[0] + x * lat.pitch - box[o, 0]
                        ws.places[0, 3] = room[1] + y * lat.pitch - box[o, 1]
    return float(best)
