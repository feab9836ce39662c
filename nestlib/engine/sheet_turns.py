"""The turns at which items are searched in a room, before any angle is refined."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from nestlib.engine.aligning import aligned_turns
from nestlib.engine.catalogue import Turn, distinct_turns
from nestlib.engine.fitting import fits, fitting_turns
from nestlib.engine.items import Item, ItemPlacement, allowed_turns
from nestlib.engine.stock import RoomPolygon

#: Angles of an item that may turn freely.
FREE_ANGLES = tuple(15.0 * k for k in range(24))


def turns_in(item: Item, room: RoomPolygon) -> tuple[Turn, ...]:
    """Return the turns that are tried; a few of them stand for any angle.

    Among these are some in which the item fits, if there are any.

    Examples
    --------
    >>> from shapely import box
    >>> turns_in(Item("bar", box(0, 0, 3, 1), rotations=(0, 90, 180)), box(0, 0, 9, 9))
    ((0.0, False), (90.0, False))
    """
    turns = allowed_turns(item)
    if item.rotations is None:
        flips = (False, True) if item.flip else (False,)
        x0, y0, x1, y1 = room.bounds
        tight = fitting_turns(item, y1 - y0, x1 - x0)
        turns = (*tight, *((angle, flip) for flip in flips for angle in FREE_ANGLES))
    return distinct_turns(item.polygon, turns)


def leaning_turns(item: Item, room: RoomPolygon) -> tuple[Turn, ...]:
    """Return the turns at which an item that may turn freely leans on the walls of a room.

    Some at which it fits are among them, if there are any; without a clear wall these alone.

    Examples
    --------
    >>> from shapely import box
    >>> leaning_turns(Item("bar", box(0, 0, 3, 1), rotations=None), box(0, 0, 9, 9))
    ((0.0, False), (90.0, False))
    """
    flips = (False, True) if item.flip else (False,)
    x0, y0, x1, y1 = room.bounds
    along = aligned_turns(item.polygon, room, flips)
    if any(fits(item.polygon, turn, y1 - y0, x1 - x0) for turn in along):
        return along
    return distinct_turns(item.polygon, (*along, *fitting_turns(item, y1 - y0, x1 - x0)))


def turns_tried(
    k: int, item: Item, room: RoomPolygon, begin: Sequence[ItemPlacement]
) -> tuple[Turn, ...]:
    """Return the turns of an item that the search knows from the start.

    Parameters
    ----------
    k : int
        Number of the item.
    item : Item
        What turns.
    room : Polygon or MultiPolygon
        Where it is to lie.
    begin : sequence of ItemPlacement
        A layout to begin with, in which an item that turns freely may lie at any angle.
    """
    listed = turns_in(item, room)
    if item.rotations is not None:
        return listed
    own = [
        (float(p.rotation), bool(p.flip))
        for p in begin
        if p.item == k and np.isfinite(p.rotation) and (item.flip or not p.flip)
    ]
    return tuple(dict.fromkeys([*listed, *own]))
