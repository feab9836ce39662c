"""From contours to shapely's polygons and lines."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Literal

import numpy as np
from shapely import LinearRing, LineString, Polygon

from nestlib.geometry.flatten import flatten
from nestlib.model.contour import Contour, FloatArray
from nestlib.tolerances import CHORD

RegionSide = Literal["on", "outside", "inside"]


def ring(contour: Contour, chord: float = CHORD, side: RegionSide = "on") -> FloatArray:
    """Flatten a closed contour, run counter-clockwise.

    Parameters
    ----------
    contour : Contour
        Closed, in either direction.
    chord : float
        Greatest distance in mm between an arc and its lines.
    side : {"on", "outside", "inside"}
        ``"outside"``: the ring encloses the contour; ``"inside"``: the contour encloses it.

    Returns
    -------
    ndarray, shape (n, 2)
        Counter-clockwise, first vertex not repeated.
    """
    along = {"on": "on", "outside": "right", "inside": "left"}
    return flatten(contour.oriented(ccw=True), chord, along[side])  # type: ignore[arg-type]


def region(
    outer: Contour,
    holes: Iterable[Contour] = (),
    chord: float = CHORD,
    side: RegionSide = "on",
) -> Polygon:
    """Return the polygon between an outer contour and its holes.

    Parameters
    ----------
    outer : Contour
        Closed.
    holes : iterable of Contour
        Closed.
    chord : float
        Greatest distance in mm between an arc and its lines.
    side : {"on", "outside", "inside"}
        ``"outside"``: the polygon covers the true region, so holes come out smaller;
        ``"inside"``: the true region covers the polygon.

    Returns
    -------
    shapely.Polygon
    """
    opposite: dict[RegionSide, RegionSide] = {"on": "on", "outside": "inside", "inside": "outside"}
    return Polygon(ring(outer, chord, side), [ring(h, chord, opposite[side]) for h in holes])


def line(contour: Contour, chord: float = CHORD) -> LineString | LinearRing:
    """Return the contour as a shapely line, or as a ring if it is closed."""
    points = flatten(contour, chord)
    return LinearRing(points) if contour.closed else LineString(points)


def open_ring(polygon_ring: LinearRing) -> FloatArray:
    """Return the vertices, shape (n, 2), of a shapely ring without the repeated last one."""
    return np.asarray(polygon_ring.coords)[:-1, :2]
