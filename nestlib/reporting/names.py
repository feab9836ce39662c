"""Where a part's name stands in a picture."""

from __future__ import annotations

from dataclasses import dataclass

import shapely

from nestlib.geometry import placed, region
from nestlib.model import Contour, Part, Placement

#: Width of a letter for its height, and the share of the free room that a name may use.
_LETTER, _FILL = 0.58, 0.85


@dataclass(frozen=True)
class Name:
    """A name along a line.

    Parameters
    ----------
    x, y : float
        Middle of the text in mm.
    angle : float
        Direction of the text in degrees, counter-clockwise, never upside down.
    height : float
        Size of the letters in mm.
    """

    x: float
    y: float
    angle: float
    height: float


def name_in(part: Part, largest: float) -> Name | None:
    """Return where the name fits in a part, in the part's coordinates.

    The widest free line through the middle of the largest inscribed circle, across or
    up, carries it.

    Parameters
    ----------
    part : Part
        With its holes.
    largest : float
        Letters are never higher than this, in mm.

    Returns
    -------
    Name or None
        None if the part crosses itself.
    """
    metal = region(part.outer, part.inners, chord=0.2)
    if not metal.is_valid or metal.is_empty:
        return None
    spoke = shapely.maximum_inscribed_circle(metal, tolerance=max(part.size) / 200)
    x, y = spoke.coords[0][:2]
    reach = sum(part.size)
    across = _free(metal, (x, y), (reach, 0.0))
    up = _free(metal, (x, y), (0.0, reach))
    room, angle = (across, 0.0) if across >= up else (up, 90.0)
    letters = max(len(part.name), 3)
    height = min(_FILL * room / (_LETTER * letters), _FILL * spoke.length * 1.4, largest)
    return Name(float(x), float(y), angle, float(height))


def name_on_sheet(name: Name, placement: Placement) -> Name:
    """Return the name where a placement puts the part; it is not mirrored."""
    spot = placed(Contour([(name.x, name.y)] * 2, closed=False), placement).points[0]
    angle = (180 - name.angle if placement.flip else name.angle) + placement.rotation
    upright = (angle + 90) % 180 - 90
    if upright < -89.999:
        upright = 90.0
    return Name(float(spot[0]), float(spot[1]), upright, name.height)


def _free(metal: shapely.Polygon, middle: tuple[float, float], reach: tuple[float, float]) -> float:
    """Length of free metal to both sides of a point, as much as the shorter side has."""
    (x, y), (dx, dy) = middle, reach
    ray = shapely.LineString([(x - dx, y - dy), (x + dx, y + dy)])
    point = shapely.Point(x, y)
    ends = ray.intersection(metal.boundary)
    return 2 * float(ends.distance(point)) if not ends.is_empty else 0.0
