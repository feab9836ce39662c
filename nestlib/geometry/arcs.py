"""Arcs given by two end points and a bulge.

With chord c and bulge b: included angle θ = 4 atan b, radius c (1 + b²) / (4 |b|),
height of the arc over its chord |b| c / 2. A counter-clockwise arc (b > 0) runs to the
right of its chord.
"""

from __future__ import annotations

import math

from nestlib.model.contour import FloatArray

Point = tuple[float, float]


def arc_angle(bulge: float) -> float:
    """Return the included angle in radians, signed like the bulge."""
    return 4 * math.atan(bulge)


def arc_bulge(angle: float) -> float:
    """Return the bulge of an included angle in radians.

    Examples
    --------
    >>> round(arc_bulge(math.radians(90)), 9)
    0.414213562
    """
    return math.tan(angle / 4)


def arc_radius(start: FloatArray | Point, end: FloatArray | Point, bulge: float) -> float:
    """Return the radius; infinite for a straight line."""
    chord = math.dist(start, end)
    return chord * (1 + bulge**2) / (4 * abs(bulge)) if bulge else math.inf


def arc_centre(start: FloatArray | Point, end: FloatArray | Point, bulge: float) -> Point:
    """Return the centre.

    Raises
    ------
    ValueError
        If the bulge is 0: a straight line has none.
    """
    if not bulge:
        raise ValueError("a straight line has no centre")
    (x0, y0), (x1, y1) = start, end
    k = (1 - bulge**2) / (4 * bulge)
    return float((x0 + x1) / 2 - (y1 - y0) * k), float((y0 + y1) / 2 + (x1 - x0) * k)


def arc_point(
    start: FloatArray | Point, end: FloatArray | Point, bulge: float, share: float
) -> Point:
    """Return the point that lies `share` (0 to 1) of the way along a line or an arc."""
    (x0, y0), (x1, y1) = start, end
    if not bulge:
        return float(x0 + share * (x1 - x0)), float(y0 + share * (y1 - y0))
    # By the chord up to the point and not by the centre, which nearly straight arcs have
    # so far away that digits would be lost.
    half = arc_angle(bulge) / 2
    scale = math.sin(share * half) / math.sin(half)
    cos, sin = scale * math.cos((share - 1) * half), scale * math.sin((share - 1) * half)
    dx, dy = float(x1) - float(x0), float(y1) - float(y0)
    return float(x0) + cos * dx - sin * dy, float(y0) + sin * dx + cos * dy


def arc_direction(
    start: FloatArray | Point, end: FloatArray | Point, bulge: float, share: float
) -> Point:
    """Return the unit vector of travel `share` (0 to 1) of the way along a line or an arc.

    The tangent at the start is turned against the chord by half the included angle.
    """
    (x0, y0), (x1, y1) = start, end
    angle = math.atan2(y1 - y0, x1 - x0) + (share - 0.5) * arc_angle(bulge)
    return math.cos(angle), math.sin(angle)
