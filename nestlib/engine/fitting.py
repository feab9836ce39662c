"""Which items fit at all, and what would have to be larger for the others.

The narrowest and the smallest box of an outline that turns freely have a side along a side
of its convex hull: H. Freeman, R. Shapira, "Determining the minimum-area encasing rectangle
for an arbitrary closed curve", Communications of the ACM 18 (1975) 409-413.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from numbers import Integral, Real

import numpy as np
from shapely import MultiPolygon, get_coordinates
from shapely.geometry import Polygon

from nestlib.engine.catalogue import Floats, Turn, turn_points
from nestlib.engine.items import Item, allowed_turns
from nestlib.errors import InputError, Problem

#: An item may be larger than the room by this share: what is left of rounding.
_ROUNDING = 1e-9


def check_strip(items: Sequence[Item], width: float) -> None:
    """Say what keeps items from being laid on a strip.

    Raises
    ------
    InputError
        With all problems: items that make no sense, and items wider than the strip at all
        of their turns, each with the width that would do.

    Examples
    --------
    >>> from shapely import box
    >>> check_strip([Item("bar", box(0, 0, 1, 3), rotations=(0,))], width=2)
    Traceback (most recent call last):
    nestlib.errors.InputError: bar: 3 wide at its best turn, and the strip is 2 wide. Widen \
the strip to 3 or allow more turns.
    """
    problems = _senseless(items)
    if not (isinstance(width, Real) and math.isfinite(width) and width > 0):
        what = f"{width!r} is no width of a strip"
        problems.append(Problem("", "", what, "Give a finite width above 0"))
    if not problems:
        problems = [p for i in items if i.quantity for p in _too_wide(i, width)]
    if problems:
        raise InputError(problems)


def check_room(items: Sequence[Item], room: Polygon | MultiPolygon) -> None:
    """Say what keeps items from being laid in a room.

    Whether an item fits is judged by the boxes of the parts of the room.

    Raises
    ------
    InputError
        With all problems: a room or items that make no sense, and items larger than every
        part of the room at all of their turns, each with the smallest rectangle that would
        take it.

    Examples
    --------
    >>> from shapely import box
    >>> check_room([Item("bar", box(0, 0, 1, 3), rotations=(0,))], box(0, 0, 5, 2))
    Traceback (most recent call last):
    nestlib.errors.InputError: bar: 1 x 3 at its best turn, and the room is 5 x 2. It needs \
a rectangle of 1 x 3 at least; allow more turns or give more room.
    """
    problems = _senseless(items)
    if why := _unusable(room):
        problems.append(Problem("", "", f"the room {why}", "Give a valid polygon with area"))
    if not problems:
        rooms = [_size(p) for p in getattr(room, "geoms", [room])]
        problems = [p for i in items if i.quantity for p in _too_large(i, rooms)]
    if problems:
        raise InputError(problems)


def fitting_turns(item: Item, width: float, length: float = math.inf) -> tuple[Turn, ...]:
    """Return the turns in which an item is no wider than a strip, or no larger than a box.

    None of the quarter turns need be among those of an item that turns freely.

    Parameters
    ----------
    item : Item
        What turns.
    width, length : float
        What there is along y and along x.

    Returns
    -------
    tuple of (float, bool)
        Angles, and whether the item is mirrored before; empty if it never fits.

    Examples
    --------
    >>> from shapely import box
    >>> fitting_turns(Item("bar", box(0, 0, 1, 3), 1, (0.0, 90.0)), width=2)
    ((90.0, False),)
    """
    found = tuple(t for t in allowed_turns(item) if fits(item.polygon, t, width, length))
    if found or item.rotations is not None:
        return found
    return _free_turns(item.polygon, width, length)


def fits(polygon: Polygon, turn: Turn, width: float, length: float = math.inf) -> bool:
    """Tell whether a turned polygon is no larger than what there is along y and along x."""
    wide, high = _extent(_hull(polygon), turn)
    return high <= width * (1 + _ROUNDING) and wide <= length * (1 + _ROUNDING)


def _senseless(items: Iterable[Item]) -> list[Problem]:
    no_items = [
        Problem("", f"entry {k + 1}", f"{i!r} is no item", "Give items, `nestlib.engine.Item`")
        for k, i in enumerate(items)
        if not isinstance(i, Item)
    ]
    return no_items or [
        Problem(item.name, "", what, remedy)
        for item in items
        for what, remedy in (*_wrong_outline(item), *_wrong_numbers(item))
    ]


def _wrong_outline(item: Item) -> Iterable[tuple[str, str]]:
    one = isinstance(item.polygon, Polygon)
    if why := _unusable(item.polygon) if one else "is not a polygon":
        yield f"its outline {why}", "Give a valid polygon with area"


def _wrong_numbers(item: Item) -> Iterable[tuple[str, str]]:
    if not (isinstance(item.quantity, Integral) and item.quantity >= 0):
        yield f"{item.quantity} is no quantity", "Give a whole number from 0 on"
    if item.rotations is not None:
        yield from _wrong_angles(item.rotations)
    if item.value is not None and not (math.isfinite(item.value) and item.value >= 0):
        yield f"{item.value:g} is no value", "Give a finite value from 0 on"


def _wrong_angles(angles: object) -> Iterable[tuple[str, str]]:
    remedy = "Give a sequence of angles in degrees, or None for any"
    if isinstance(angles, str) or not isinstance(angles, Sequence | np.ndarray):
        yield f"{angles!r} are no angles", remedy
    elif not len(angles):
        yield "no turn is allowed", remedy
    elif not all(isinstance(a, Real) and math.isfinite(a) for a in angles):
        yield f"not all of its angles are finite numbers: {angles}", remedy


def _unusable(polygon: Polygon | MultiPolygon) -> str:
    """Return what is wrong with an outline; nothing if it can be used."""
    if not isinstance(polygon, Polygon | MultiPolygon):
        return "is not a polygon"
    if polygon.is_empty:
        return "is empty"
    if not np.isfinite(get_coordinates(polygon)).all():
        return "has coordinates that are not finite"
    if not polygon.is_valid:
        return "crosses or touches itself"
    return "" if polygon.area > 0 else "has no area"


def _too_wide(item: Item, width: float) -> Iterable[Problem]:
    if fitting_turns(item, width):
        return
    hull = _hull(item.polygon)
    angles = [turn for turn in allowed_turns(item) if item.rotations is not None]
    least = min(_extent(hull, t)[1] for t in angles or _flush(hull))
    (needed,), (offered,) = _told((least,), (width,))
    remedy = "" if item.rotations is None else " or allow more turns"
    what = f"{needed} wide at its best turn, and the strip is {offered} wide"
    yield Problem(item.name, "", what, f"Widen the strip to {needed}{remedy}")


def _too_large(item: Item, rooms: Sequence[tuple[float, float]]) -> Iterable[Problem]:
    if any(fitting_turns(item, high, wide) for wide, high in rooms):
        return
    hull = _hull(item.polygon)
    turns = allowed_turns(item) if item.rotations is not None else _flush(hull)
    sizes = [_extent(hull, t) for t in turns]
    size, room = min(
        ((s, r) for s in sizes for r in rooms),
        key=lambda pair: max(n - o for n, o in zip(*pair, strict=True)),
    )
    needed, offered = _told(size, room)
    least, _ = _told(min(sizes, key=math.prod), (math.inf, math.inf))
    more = "give more room" if item.rotations is None else "allow more turns or give more room"
    what = f"{' x '.join(needed)} at its best turn, and the room is {' x '.join(offered)}"
    remedy = f"It needs a rectangle of {' x '.join(least)} at least; {more}"
    yield Problem(item.name, "", what, remedy)


def _told(needed: Sequence[float], offered: Sequence[float]) -> tuple[list[str], list[str]]:
    """Write sizes with as many digits as show that one is too large, rounded up and down."""
    for digits in range(4, 16):
        up = [_rounded(n, digits, math.ceil) for n in needed]
        down = [_rounded(o, digits, math.floor) for o in offered]
        if any(float(n) > float(o) for n, o in zip(up, down, strict=True)):
            break
    return up, down


def _rounded(number: float, digits: int, way: object) -> str:
    """Round to so many digits, forgiving what the last bits of a float say."""
    if not math.isfinite(number):
        return f"{number:g}"
    near = float(f"{number:.{digits}g}")
    unit = 10.0 ** (math.floor(math.log10(abs(number))) + 1 - digits)
    if way is math.ceil and near < number * (1 - 1e-12):
        near += unit
    if way is math.floor and near > number * (1 + 1e-12):
        near -= unit
    return f"{near:.{digits}g}"


def _hull(polygon: Polygon) -> Floats:
    return np.asarray(polygon.convex_hull.exterior.coords)[:-1, :2]


def _extent(hull: Floats, turn: Turn) -> tuple[float, float]:
    points = turn_points(hull, *turn)
    wide, high = points.max(axis=0) - points.min(axis=0)
    return float(wide), float(high)


def _size(polygon: Polygon) -> tuple[float, float]:
    x0, y0, x1, y1 = polygon.bounds
    return x1 - x0, y1 - y0


def _flush(hull: Floats) -> list[Turn]:
    """Return the turns that lay a side of the hull along x, and those a quarter beyond."""
    d = np.roll(hull, -1, axis=0) - hull
    angles = np.unique(np.round(-np.degrees(np.arctan2(d[:, 1], d[:, 0])) % 90.0, 9))
    return [(float(a + q), False) for a in angles for q in (0.0, 90.0)]


def _free_turns(polygon: Polygon, width: float, length: float) -> tuple[Turn, ...]:
    """Return turns in which a polygon that turns freely fits; empty if there is none.

    Between two turns that lay a side of the hull along an axis its extents are two chords
    times cosines. So where it fits, it fits also when a side is flush or when it just
    touches both sides of the strip or both ends of the box.
    """
    hull = _hull(polygon)
    angles = [a for a, _ in _flush(hull)]
    if math.isfinite(length):
        angles += _touching(hull, np.unique(angles), width, length)
    found = [a for a in angles if fits(polygon, (a, False), width, length)]
    return tuple((a + half, False) for a in found[:2] for half in (0.0, 180.0))


def _touching(hull: Floats, events: Floats, width: float, length: float) -> list[float]:
    """Return the angles between events at which the hull is as wide or as high as the box."""
    found = []
    for low, high in zip(events, [*events[1:], events[0] + 180.0], strict=True):
        points = turn_points(hull, float(low + high) / 2)
        for axis, limit in ((0, length), (1, width)):
            chord = points[points[:, axis].argmax()] - points[points[:, axis].argmin()]
            size, at = float(np.hypot(*chord)), math.degrees(math.atan2(chord[1], chord[0]))
            if size < limit:
                continue
            off = math.degrees(math.acos(min(1.0, limit / size)))
            for side in (off, -off):
                angle = float(low + high) / 2 + 90.0 * axis - at + side
                if low <= angle <= high:
                    found.append(angle)
    return found
