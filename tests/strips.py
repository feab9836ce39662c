"""Packed strips, judged by shapely alone."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence

from shapely import STRtree, affinity
from shapely.geometry import Polygon

from nestlib.engine import Item, StripPacking

#: Parts this deep in each other, in units of the side of the mean part, still touch.
CONTACT = 1e-8

#: Any multiple of a right angle.
QUARTERS = (0.0, 90.0, 180.0, 270.0)


def mean_side(items: Sequence[Item]) -> float:
    """Side of a square as large as the mean piece."""
    pieces = sum(item.quantity for item in items)
    return math.sqrt(sum(item.polygon.area * item.quantity for item in items) / pieces)


def density(items: Sequence[Item], width: float, packing: StripPacking) -> float:
    """Share of the strip that is covered."""
    area = sum(item.polygon.area * item.quantity for item in items)
    return area / (width * packing.length)


def laid(items: Sequence[Item], packing: StripPacking, shrink: float = 0.0) -> list[Polygon]:
    """Every piece where it lies: shrunk, mirrored if it is flipped, turned, then moved."""
    found = []
    for p in packing.placements:
        piece = items[p.item].polygon
        if shrink:
            piece = piece.buffer(-shrink, join_style="mitre")
        if p.flip:
            piece = affinity.scale(piece, -1, 1, origin=(0, 0))
        piece = affinity.rotate(piece, p.rotation, origin=(0, 0))
        found.append(affinity.translate(piece, p.x, p.y))
    return found


def overlapping(pieces: Sequence[Polygon]) -> list[tuple[int, int]]:
    """Pairs that share a point, borders included."""
    tree = STRtree(pieces)
    first, second = tree.query(pieces, predicate="intersects")
    return [(int(i), int(j)) for i, j in zip(first, second, strict=True) if i < j]


def assert_sound(items: Sequence[Item], width: float, packing: StripPacking) -> None:
    """Every piece once, turned as allowed, within the strip, none in another.

    Both to `CONTACT` of the side of the mean piece: borders may be that far outside, and
    pieces that are shrunk by that much on all sides have no point in common.
    """
    wanted = Counter({i: item.quantity for i, item in enumerate(items) if item.quantity})
    assert Counter(p.item for p in packing.placements) == wanted
    for p in packing.placements:
        allowed = items[p.item].rotations
        assert allowed is None or p.rotation in allowed
        assert items[p.item].flip or not p.flip
    if not packing.placements:
        return
    small = CONTACT * mean_side(items)
    for piece in laid(items, packing):
        left, low, right, high = piece.bounds
        assert min(left, low) >= -small
        assert right <= packing.length + small
        assert high <= width + small
    assert overlapping(laid(items, packing, shrink=small)) == []
