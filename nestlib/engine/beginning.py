"""A layout to begin with: its turns are named as the search names them, and it is sound.

A turn that gives the same outline as a listed one stands for that one, for the search knows
each outline only once.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from numbers import Integral

import numpy as np
import shapely
from shapely import MultiPolygon, STRtree
from shapely.geometry import Polygon

from nestlib.engine.catalogue import Turn, equal_turn, turn_points
from nestlib.engine.items import Item, ItemPlacement
from nestlib.errors import InputError, Problem

#: Overlaps up to twice as deep, in units of the side of the mean item, are contacts.
_CONTACT = 1e-7


def sound_beginning(
    items: Sequence[Item],
    room: Polygon | MultiPolygon,
    turns: Sequence[Sequence[Turn]],
    begin: Sequence[ItemPlacement],
) -> list[ItemPlacement]:
    """Return a layout with listed turns only, or say why no search can begin with it.

    Parameters
    ----------
    items : sequence of Item
        What may lie.
    room : Polygon or MultiPolygon
        Where.
    turns : sequence of sequence of (float, bool)
        The turns of each item that the search knows.
    begin : sequence of ItemPlacement
        The layout.

    Raises
    ------
    InputError
        With all problems: pieces of no item, at places that are not finite or at turns that
        are not known; or else more pieces than there are, outside the room or overlapping.

    Examples
    --------
    >>> tile = Item("tile", shapely.box(0, 0, 1, 1))
    >>> turned = ItemPlacement(0, 90.0, False, 1.0, 0.0)
    >>> sound_beginning([tile], shapely.box(0, 0, 2, 2), [[(0.0, False)]], [turned])
    [ItemPlacement(item=0, rotation=0.0, flip=False, x=0.0, y=0.0)]
    """
    if not begin:
        return []
    problems = [q for k, p in enumerate(begin) for q in _unreadable(items, k, p)]
    if problems:
        raise InputError(problems)
    known = [_renamed(items[p.item], turns[p.item], p) for p in begin]
    problems = [q for k, p in enumerate(begin) if known[k] is None for q in _unknown(items, k, p)]
    if not problems:
        problems = [*_too_many(items, begin), *_misplaced(items, room, begin)]
    if problems:
        raise InputError(problems)
    return [p for p in known if p is not None]


def _problem(name: str, piece: int, what: str, remedy: str) -> Problem:
    return Problem(name, f"begin[{piece}]", what, remedy)


def _unreadable(items: Sequence[Item], k: int, p: ItemPlacement) -> Iterator[Problem]:
    if not (isinstance(p.item, Integral) and 0 <= p.item < len(items)):
        yield _problem("", k, f"there is no item {p.item!r}", f"Give 0 to {len(items) - 1}")
    if not np.isfinite([p.rotation, p.x, p.y]).all():
        what = f"turned by {p.rotation} and moved by ({p.x}, {p.y})"
        yield _problem("", k, what, "Give finite numbers")


def _renamed(item: Item, turns: Sequence[Turn], p: ItemPlacement) -> ItemPlacement | None:
    """Return the same piece at a turn that is known; None if there is no such turn."""
    found = equal_turn(item.polygon, (float(p.rotation), bool(p.flip)), turns)
    if found is None:
        return None
    (angle, flip), (dx, dy) = found
    return ItemPlacement(int(p.item), angle, flip, float(p.x) + dx, float(p.y) + dy)


def _unknown(items: Sequence[Item], k: int, p: ItemPlacement) -> Iterator[Problem]:
    item = items[p.item]
    mirrored = ", mirrored," if p.flip else ""
    what = f"its turn by {p.rotation:g} degrees{mirrored} is none of those that are tried"
    # One that turns freely may begin at any angle, but mirrored only if it may be flipped.
    remedy = "Let it be flipped" if item.rotations is None else "Allow that turn"
    yield _problem(item.name, k, what, remedy)


def _too_many(items: Sequence[Item], begin: Sequence[ItemPlacement]) -> Iterator[Problem]:
    for k, lying in sorted(Counter(int(p.item) for p in begin).items()):
        if lying > items[k].quantity:
            what = f"{lying} pieces to begin with, and there are {items[k].quantity}"
            yield Problem(items[k].name, "begin", what, "Leave some out or raise the quantity")


def _misplaced(
    items: Sequence[Item], room: Polygon | MultiPolygon, begin: Sequence[ItemPlacement]
) -> Iterator[Problem]:
    """Say which pieces lie outside and which overlap, more than rounding explains."""
    pieces = np.array([_laid(items[p.item].polygon, p) for p in begin])
    contact = _CONTACT * float(np.sqrt(shapely.area(pieces).mean()))
    inner = shapely.buffer(pieces, -contact, join_style="mitre")
    shapely.prepare(room)
    for k in np.flatnonzero(~shapely.covers(room, inner) & ~shapely.is_empty(inner)).tolist():
        yield _problem(
            items[begin[k].item].name, k, "not within the room", "Move it or leave it out"
        )
    for i, j in sorted(STRtree(inner).query(inner, predicate="intersects").T.tolist()):
        if i < j:
            what = f"overlaps {items[begin[j].item].name}, begin[{j}]"
            yield _problem(
                items[begin[i].item].name, i, what, "Move one of the two or leave it out"
            )


def _laid(polygon: Polygon, p: ItemPlacement) -> Polygon:
    move = np.array([p.x, p.y], np.float64)
    turn = float(p.rotation), bool(p.flip)
    placed: Polygon = shapely.transform(polygon, lambda points: turn_points(points, *turn) + move)
    return placed
