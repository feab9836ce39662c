"""What is to be placed."""

from __future__ import annotations

from dataclasses import dataclass

from shapely import affinity
from shapely.geometry import Polygon

from nestlib.engine.catalogue import Turn, turned
from nestlib.errors import InputError, Problem


@dataclass(frozen=True)
class Item:
    """What a strip or a sheet is to hold: an outline and how it may lie.

    Parameters
    ----------
    name : str
        How messages call it.
    polygon : Polygon
        Outline, with holes if it has some.
    quantity : int
        How many of it.
    rotations : tuple of float, or None
        Allowed angles, degrees counter-clockwise about (0, 0); None allows any.
    flip : bool
        Whether it may be mirrored (x becomes -x) before it is turned.
    value : float, or None
        What one piece is worth where not all of them fit; None: its area.
    """

    name: str
    polygon: Polygon
    quantity: int = 1
    rotations: tuple[float, ...] | None = (0.0,)
    flip: bool = False
    value: float | None = None


@dataclass(frozen=True)
class ItemPlacement:
    """Where one piece lies: mirrored if `flip`, turned about its (0, 0), then moved.

    Parameters
    ----------
    item : int
        Index of the item.
    rotation : float
        Degrees counter-clockwise.
    flip : bool
        Whether it is mirrored (x becomes -x) first.
    x, y : float
        How far it is moved.
    """

    item: int
    rotation: float
    flip: bool
    x: float
    y: float


def fitting_turns(part: Item, width: float) -> tuple[Turn, ...]:
    """Return the turns (angle, mirrored or not) in which a part is no wider than the strip.

    Raises
    ------
    InputError
        If there is none.

    Examples
    --------
    >>> from shapely import box
    >>> fitting_turns(Item("bar", box(0, 0, 1, 3), 1, (0.0, 90.0)), width=2)
    ((90.0, False),)
    """
    fitting = [turn for turn in allowed_turns(part) if fits(part.polygon, turn, width)]
    if not fitting:
        what = f"fits into a strip {width:g} wide at none of its angles"
        raise InputError(Problem(part.name, "", what, "Allow more angles or widen the strip"))
    return tuple(fitting)


def allowed_turns(item: Item) -> tuple[Turn, ...]:
    """Return all turns of an item, first those that do not mirror it."""
    angles = item.rotations or (0.0, 90.0, 180.0, 270.0)
    flips = (False, True) if item.flip else (False,)
    return tuple((float(angle), flip) for flip in flips for angle in angles)


def fits(polygon: Polygon, turn: Turn, width: float) -> bool:
    """Tell whether a turned polygon is no wider than a strip."""
    _, low, _, high = turned(polygon, *turn).bounds
    return bool(high - low <= width * (1 + 1e-9))


def centred(polygon: Polygon) -> tuple[Polygon, tuple[float, float]]:
    """Move the middle of the bounding box to the origin; return also where it was."""
    x0, y0, x1, y1 = polygon.bounds
    x, y = (x0 + x1) / 2, (y0 + y1) / 2
    return affinity.translate(polygon, -x, -y), (x, y)
