"""Turns at which a side of a piece lies along a side of its room, or of another piece.

Of two polygons that touch in a dense layout, one mostly lies with a side against the other.
So where a room has clear sides, the turns that lay the long sides of a piece along them are
few and worth a search of their own, whatever the angle of the room. Beside pieces that lie
already, those along their sides are.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import NamedTuple

import numpy as np
from shapely import MultiPolygon
from shapely.geometry import Polygon

from nestlib.engine.catalogue import Floats, Turn, distinct_turns, edges, turned

#: Sides that are at least this share of all are clear; there are none on a round outline.
_CLEAR = 0.05

#: Directions this close, in degrees, are one.
_SAME = 1e-6

#: Digits of an angle: half a turn is to be just that, and no side leaves its wall by rounding.
_DIGITS = 11


class Sides(NamedTuple):
    """Clear sides of outlines.

    Parameters
    ----------
    angle : ndarray, shape (n,)
        Different directions, degrees from 0 to 360.
    length : ndarray, shape (n,)
        How long the sides in each direction are together.
    """

    angle: Floats
    length: Floats


def sides_of(polygons: Iterable[Polygon]) -> Sides:
    """Return the clear sides of all polygons, what they are made of to their left."""
    every = [_sides(p) for p in polygons]
    if not every:
        return Sides(np.zeros(0), np.zeros(0))
    return _summed(
        np.concatenate([s.angle for s in every]), np.concatenate([s.length for s in every])
    )


def aligned_turns(
    polygon: Polygon, room: Polygon | MultiPolygon, flips: Sequence[bool], most: int = 8
) -> tuple[Turn, ...]:
    """Return turns that lay clear sides of a polygon along clear sides of a room.

    Parameters
    ----------
    polygon : Polygon
        What turns.
    room : Polygon or MultiPolygon
        Where it is to lie.
    flips : sequence of bool
        Whether it may be mirrored before it is turned.
    most : int
        Greatest number of turns; those along which the longest sides lie come first.

    Returns
    -------
    tuple of (float, bool)
        Angles in degrees from 0 to 360, and whether the polygon is mirrored; none that gives
        the same outline as another. Empty if the room or the polygon has no clear side.

    Examples
    --------
    >>> from shapely import affinity, box
    >>> room = affinity.rotate(box(0, 0, 5, 5), 30)
    >>> [round(angle, 6) for angle, _ in aligned_turns(box(0, 0, 3, 1), room, [False])]
    [30.0, 120.0]
    """
    return _along(polygon, sides_of(getattr(room, "geoms", [room])), flips, most)


def turns_beside(
    polygon: Polygon, others: Sides, flips: Sequence[bool], most: int = 8
) -> tuple[Turn, ...]:
    """Return turns that lay clear sides of a polygon against those of others.

    Parameters
    ----------
    polygon, flips, most
        As for `aligned_turns`.
    others : Sides
        Sides of pieces, each as it lies.

    Examples
    --------
    >>> from shapely import box
    >>> wedge = Polygon([(0, 0), (4, 0), (0, 1)])
    >>> turns_beside(wedge, sides_of([wedge]), [False], most=1)
    ((180.0, False),)
    """
    return _along(polygon, Sides((others.angle + 180.0) % 360.0, others.length), flips, most)


def _along(polygon: Polygon, other: Sides, flips: Sequence[bool], most: int) -> tuple[Turn, ...]:
    found: list[tuple[float, Turn]] = []
    for flip in flips:
        own = _sides(turned(polygon, 0.0, flip))
        angles = (other.angle[:, None] - own.angle[None, :]).ravel()
        touching = np.minimum(other.length[:, None], own.length[None, :]).ravel()
        summed = _summed(angles, touching)
        pairs = zip(summed.angle.tolist(), summed.length.tolist(), strict=True)
        found += [(-w, (a, flip)) for a, w in pairs]
    # Of a polygon that looks alike at several turns more are needed to find so many.
    longest = [turn for _, turn in sorted(found)[: 4 * most]]
    return distinct_turns(polygon, longest)[:most]


def _sides(polygon: Polygon) -> Sides:
    x1, y1, x2, y2 = edges(polygon).T
    length = np.hypot(x2 - x1, y2 - y1)
    sides = _summed(np.degrees(np.arctan2(y2 - y1, x2 - x1)), length)
    clear = sides.length >= _CLEAR * length.sum()
    return Sides(sides.angle[clear], sides.length[clear])


def _summed(angles: Floats, weights: Floats) -> Sides:
    """Return the different ones among angles, from 0 to 360, and the weight of each."""
    if not len(angles):
        return Sides(angles, weights)
    angles = np.round(angles, _DIGITS) % 360.0
    angles = np.where(angles > 360.0 - _SAME, 0.0, angles)
    order = np.argsort(angles, kind="stable")
    new = np.diff(angles[order], prepend=-1.0) > _SAME
    total = np.bincount(np.cumsum(new) - 1, weights[order]).astype(np.float64)
    return Sides(angles[order][new].astype(np.float64), total)
