"""A layout and a bound without any search."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from shapely.geometry import Polygon

from nestlib.engine.catalogue import Turn, turned
from nestlib.engine.fitting import fitting_turns
from nestlib.engine.items import Item, ItemPlacement


def length_bound(items: Sequence[Item], width: float) -> float:
    """Return a length than which no strip that holds all items is shorter.

    Examples
    --------
    >>> from shapely import box
    >>> length_bound([Item("bar", box(0, 0, 4, 1), 2), Item("tile", box(0, 0, 1, 1))], width=3)
    4.0
    """
    used = [item for item in items if item.quantity]
    area = float(sum(item.polygon.area * item.quantity for item in used))
    return max([area / width, *(_least_extent(item, width) for item in used)])


def _least_extent(item: Item, width: float) -> float:
    """Return the least length of strip that an item takes alone."""
    if item.rotations is None:
        return _least_width(item.polygon)
    return min(_size(item, turn)[0] for turn in fitting_turns(item, width))


def _least_width(polygon: Polygon) -> float:
    """Return the distance of the closest two parallel lines around a polygon."""
    hull = np.asarray(polygon.convex_hull.exterior.coords)
    along = np.diff(hull, axis=0)
    normals = np.column_stack([-along[:, 1], along[:, 0]]) / np.hypot(*along.T)[:, None]
    return float(np.ptp(hull @ normals.T, axis=0).min())


def _size(item: Item, turn: Turn) -> tuple[float, float]:
    left, low, right, high = turned(item.polygon, *turn).bounds
    return right - left, high - low


def in_columns(items: Sequence[Item], width: float) -> tuple[float, tuple[ItemPlacement, ...]]:
    """Lay the boxes of the pieces in columns: poor, but there at once.

    Returns
    -------
    length, placements
        Those of an item follow each other.

    Examples
    --------
    >>> from shapely import box
    >>> in_columns([Item("tile", box(0, 0, 1, 1), quantity=5)], width=2)[0]
    3.0
    """
    placements: list[list[ItemPlacement]] = [[] for _ in items]
    end, x, y = 0.0, 0.0, np.inf
    for k, turn in _longest_first(items, width):
        left, low, right, high = turned(items[k].polygon, *turn).bounds
        for _ in range(items[k].quantity):
            if y + high - low > width:
                x, y = end, 0.0
            placements[k].append(ItemPlacement(k, *turn, x - left, y - low))
            end, y = max(end, x + right - left), y + high - low
    return end, tuple(p for of_item in placements for p in of_item)


def _longest_first(items: Sequence[Item], width: float) -> list[tuple[int, Turn]]:
    """Return the items with the turns in which their boxes are shortest, the longest first."""
    found = []
    for k, item in enumerate(items):
        if item.quantity:
            sizes = {turn: _size(item, turn) for turn in fitting_turns(item, width)}
            turn = min(sizes, key=sizes.__getitem__)
            found.append((sizes[turn][0], k, turn))
    found.sort(key=lambda f: -f[0])
    return [(k, turn) for _, k, turn in found]
