"""What is to be placed."""

from __future__ import annotations

from dataclasses import dataclass

from shapely import affinity
from shapely.geometry import Polygon

from nestlib.engine.catalogue import Turn


@dataclass(frozen=True)
class Item:
    """What a strip or a sheet is to hold: an outline and how it may lie.

    Parameters
    ----------
    name : str
        How messages call it.
    polygon : Polygon
        Outline, with holes if it has some; other pieces may lie in its holes. Pieces may
        touch: buffer outlines by half of the gap that is wanted between them.
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


def allowed_turns(item: Item) -> tuple[Turn, ...]:
    """Return all turns of an item, first those that do not mirror it.

    An item that may turn freely has its quarter turns.

    Examples
    --------
    >>> from shapely import box
    >>> allowed_turns(Item("bar", box(0, 0, 1, 3), rotations=(0, 90), flip=True))
    ((0.0, False), (90.0, False), (0.0, True), (90.0, True))
    """
    angles = (0.0, 90.0, 180.0, 270.0) if item.rotations is None else item.rotations
    flips = (False, True) if item.flip else (False,)
    return tuple((float(angle), flip) for flip in flips for angle in angles)


def centred(polygon: Polygon) -> tuple[Polygon, tuple[float, float]]:
    """Move the middle of the bounding box to the origin; return also where it was."""
    x0, y0, x1, y1 = polygon.bounds
    x, y = (x0 + x1) / 2, (y0 + y1) / 2
    return affinity.translate(polygon, -x, -y), (x, y)
