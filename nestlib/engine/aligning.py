"""Turns at which a side of a piece lies along a side of its room.

Dense layouts lean on the walls: of two polygons that touch, one mostly lies with a side
against the other. So where a room has clear sides, the turns that lay the long sides of a
piece along them are few and worth a search of their own, whatever the angle of the room.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from shapely import MultiPolygon
from shapely.geometry import Polygon

from nestlib.engine.catalogue import Floats, Turn, distinct_turns, edges, turned

#: Sides that are at least this share of all are clear; there are none on a round outline.
_CLEAR = 0.05

#: Directions this close, in degrees, are one.
_SAME = 1e-6


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
    walls = [_sides(p) for p in getattr(room, "geoms", [room])]
    at, long = (np.concatenate([w[c] for w in walls]) for c in range(2))
    found: list[tuple[float, Turn]] = []
    for flip in flips:
        own, length = _sides(turned(polygon, 0.0, flip))
        angles = (at[:, None] - own[None, :]).ravel()
        touching = np.minimum(long[:, None], length[None, :]).ravel()
        found += [(-w, (a, flip)) for a, w in zip(*_summed(angles, touching), strict=True)]
    turns = distinct_turns(polygon, [turn for _, turn in sorted(found)])
    return turns[:most]


def _sides(polygon: Polygon) -> tuple[Floats, Floats]:
    """Return the directions of clear sides, in degrees, material to their left; and lengths."""
    x1, y1, x2, y2 = edges(polygon).T
    length = np.hypot(x2 - x1, y2 - y1)
    angles, lengths = _summed(np.degrees(np.arctan2(y2 - y1, x2 - x1)), length)
    clear = lengths >= _CLEAR * length.sum()
    return angles[clear], lengths[clear]


def _summed(angles: Floats, weights: Floats) -> tuple[Floats, Floats]:
    """Return the different ones among angles, from 0 to 360, and the weight of each."""
    if not len(angles):
        return angles, weights
    angles = angles % 360.0
    angles = np.where(angles > 360.0 - _SAME, 0.0, angles)
    order = np.argsort(angles, kind="stable")
    new = np.diff(angles[order], prepend=-1.0) > _SAME
    total = np.bincount(np.cumsum(new) - 1, weights[order]).astype(np.float64)
    return angles[order][new], total
