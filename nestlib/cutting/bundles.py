"""Bundles in a cut path: pieces that share cuts are ordered and led to as one body.

First the holes of all its pieces, then the shared lines, and last of all the way around it:
each piece keeps an edge there, so that none is loose before the beam has begun to run around.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np
from shapely import Point, Polygon

from nestlib.cutting.order import Item, Piece
from nestlib.cutting.surroundings import CHECK_CHORD, Surroundings
from nestlib.geometry.polygons import region
from nestlib.model.contour import Contour, FloatArray
from nestlib.model.layout import Cut, Layout

#: Shares of the usual length of a lead that are tried.
_SHARES = (1.0, 0.7, 0.45, 0.3, 0.2)

#: So many kerfs from the pieces' edges it is pierced at least: half a kerf is beside an edge.
_OFF = 0.75

Place = tuple[float, float]


def bodies(
    pieces: Sequence[Piece], metal: Sequence[Polygon], layout: Layout
) -> tuple[list[Piece], list[Polygon]]:
    """Return what is cut as one, and its metal: bundles and all other pieces.

    Parameters
    ----------
    pieces : sequence of Piece
        Those of the layout, in the order of its placements.
    metal : sequence of shapely.Polygon
        Theirs, without their holes.
    layout : Layout
        With its bundles.

    Returns
    -------
    bodies : list of Piece
    metal : list of shapely.Polygon
        Of bundles with the slots between their pieces.
    """
    bundled = {number for bundle in layout.bundles for number in bundle.placements}
    alone = [i for i in range(len(pieces)) if i not in bundled]
    together = [
        Piece(
            b.placements[0],
            b.outline.oriented(ccw=False),
            tuple(c for i in b.placements for c in pieces[i].inners),
            tuple(c for i in b.placements for c in pieces[i].marks),
            b.lines,
            tuple(pieces[i] for i in b.placements),
        )
        for b in layout.bundles
    ]
    whole = [region(body.outer, body.inners, CHECK_CHORD) for body in together]
    return [*(pieces[i] for i in alone), *together], [*(metal[i] for i in alone), *whole]


def shared_cut(
    item: Item,
    own: int,
    surroundings: Surroundings,
    length: float,
    entry: Place,
) -> Cut:
    """Return the cut along the middle of a slot, led in straight from the waste.

    Parameters
    ----------
    item : Item
        A line that pieces share.
    own : int
        Which of the bodies in the surroundings it belongs to.
    surroundings : Surroundings
        What the lead has to keep away from.
    length : float
        Usual length of a lead in mm.
    entry : (float, float)
        The end at which the order wants it begun.

    Returns
    -------
    Cut
        Begun at the other end if there is room for a lead only there; without a lead if
        there is none at either end.
    """
    number, index = item.owner
    members = tuple(piece.placement for piece in item.piece.members)
    outline = region(item.piece.outer, chord=CHECK_CHORD)
    for line in _either_way(item.contour, entry):
        for points in _leads(line, length):
            if surroundings.free(points[None], own)[0] and _off(points[0], outline, surroundings):
                lead = Contour(points[[0, -1]], closed=False)
                surroundings.take(lead)
                return Cut(number, "shared", index, line, lead, pieces=members)
    # Without a lead rather where both pieces end than beside an edge of one of them.
    first = max(_either_way(item.contour, entry), key=lambda line: _openness(line, outline))
    return Cut(number, "shared", index, first, pieces=members)


def _off(pierce: FloatArray, outline: Polygon, surroundings: Surroundings) -> bool:
    """Whether a pierce point is not beside an edge that runs on along the line."""
    return bool(outline.distance(Point(pierce)) > _OFF * surroundings.kerf)


def _openness(line: Contour, outline: Polygon) -> float:
    """How far from the pieces the line would be if it began a little earlier, in mm."""
    way = line.points[1] - line.points[0]
    before = line.points[0] - way / np.hypot(*way)
    return round(float(outline.distance(Point(before))), 3)


def _either_way(line: Contour, entry: Place) -> Iterator[Contour]:
    """The line from the wanted end on, and from the other."""
    near, far = np.hypot(*(line.points - entry).T)
    first = line if near <= far else line.reversed()
    yield first
    yield first.reversed()


def _leads(line: Contour, length: float) -> Iterator[FloatArray]:
    """Points (21, 2) of leads that run straight into the line, the longest first."""
    way = line.points[1] - line.points[0]
    back = -way / np.hypot(*way)
    for share in _SHARES:
        far = line.points[0] + share * length * back
        yield far + np.linspace(0.0, 1.0, 21)[:, None] * (line.points[0] - far)
