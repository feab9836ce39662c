"""What is to be placed."""

from __future__ import annotations

from dataclasses import dataclass

from shapely import affinity
from shapely.geometry import Polygon

from nestlib.errors import InputError, Problem


@dataclass(frozen=True)
class StripPart:
    """A part for a strip.

    Parameters
    ----------
    name : str
        How messages call it.
    polygon : Polygon
        Outline, with holes if it has some.
    quantity : int
        How many of it.
    rotations : tuple of float
        Allowed angles, degrees counter-clockwise about (0, 0).
    """

    name: str
    polygon: Polygon
    quantity: int = 1
    rotations: tuple[float, ...] = (0.0,)


def fitting_angles(part: StripPart, width: float) -> tuple[float, ...]:
    """Return the angles at which a part is no wider than the strip.

    Raises
    ------
    InputError
        If there is none.

    Examples
    --------
    >>> from shapely import box
    >>> fitting_angles(StripPart("bar", box(0, 0, 1, 3), 1, (0.0, 90.0)), width=2)
    (90.0,)
    """
    fitting = [angle for angle in part.rotations if fits(part.polygon, angle, width)]
    if not fitting:
        what = f"fits into a strip {width:g} wide at none of its angles"
        raise InputError(Problem(part.name, "", what, "Allow more angles or widen the strip"))
    return tuple(fitting)


def fits(polygon: Polygon, angle: float, width: float) -> bool:
    """Tell whether a turned polygon is no wider than a strip."""
    _, low, _, high = affinity.rotate(polygon, angle, origin=(0.0, 0.0)).bounds
    return bool(high - low <= width * (1 + 1e-9))


def centred(polygon: Polygon) -> tuple[Polygon, tuple[float, float]]:
    """Move the middle of the bounding box to the origin; return also where it was."""
    x0, y0, x1, y1 = polygon.bounds
    x, y = (x0 + x1) / 2, (y0 + y1) / 2
    return affinity.translate(polygon, -x, -y), (x, y)
