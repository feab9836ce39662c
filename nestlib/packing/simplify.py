"""Outlines with fewer vertices that cover what they replace."""

from __future__ import annotations

import numpy as np
from shapely import Polygon

from nestlib.packing.kernels import FloatArray

#: Outlines with no more vertices than this stay as they are.
ENOUGH = 60

#: Largest share of a polygon's area that simplifying may give away.
GIVEN_AWAY = 1e-3


def simplified(polygon: Polygon, smallest: float = 0.0) -> Polygon:
    """Return a polygon with fewer vertices that covers the given one.

    A dent is filled by leaving out its vertex; a short edge between two outward corners
    is replaced by the point where its neighbours meet. The cheapest such step is taken
    until the polygon is small enough or too much area would be given away.

    Parameters
    ----------
    polygon : shapely.Polygon
        With or without holes.
    smallest : float
        Holes below this area are filled: nothing fits into them.

    Returns
    -------
    shapely.Polygon
        The polygon itself if nothing can be gained.

    Examples
    --------
    >>> from shapely import Point
    >>> round_part = Point(0, 0).buffer(50, quad_segs=64)
    >>> small = simplified(round_part)
    >>> len(small.exterior.coords) < 80, small.covers(round_part.buffer(-1e-6))
    (True, True)
    """
    holes = [r for r in polygon.interiors if Polygon(r).area >= smallest]
    if len(holes) < len(polygon.interiors):
        polygon = Polygon(polygon.exterior, holes)
    oriented = polygon.normalize()  # shell clockwise, holes counter-clockwise
    rings = [np.asarray(r.coords)[:-1, :2] for r in (oriented.exterior, *oriented.interiors)]
    total = sum(map(len, rings))
    if total <= ENOUGH:
        return polygon
    budget = GIVEN_AWAY * polygon.area
    fewer = [_fewer(r[::-1], budget * len(r) / total) for r in rings]
    result = Polygon(fewer[0], fewer[1:])
    safe = result.is_valid and result.buffer(1e-9 * result.length).covers(polygon)
    return result if safe else polygon


def _fewer(ring: FloatArray, budget: float) -> FloatArray:
    """Simplify one ring that has the material on its left."""
    while len(ring) > 8:
        cost, kind, at, corner = _cheapest(ring)
        if cost > budget:
            break
        budget -= cost
        if kind == "corner":
            ring[at] = corner
            at = (at + 1) % len(ring)
        ring = np.delete(ring, at, axis=0)
    return ring


def _cheapest(ring: FloatArray) -> tuple[float, str, int, FloatArray]:
    """The step that gives away least: its area, its kind, where, and the new corner."""
    before, after = np.roll(ring, 1, axis=0), np.roll(ring, -1, axis=0)
    turn = _cross(ring - before, after - ring)
    dents = np.where(turn <= 0, -0.5 * turn, np.inf)
    # Edge i runs from vertex i to vertex i + 1; its neighbours meet at `corner`.
    into, along, out = ring - before, after - ring, np.roll(ring, -2, axis=0) - after
    bend = _cross(into, out)
    meets = (turn > 0) & (np.roll(turn, -1) > 0) & (bend > 0)
    reach = np.where(meets, _cross(along, out) / np.where(meets, bend, 1.0), 0.0)
    corner = ring + into * reach[:, None]
    corners = np.where(meets, 0.5 * np.abs(_cross(along, corner - ring)), np.inf)
    d, c = int(np.argmin(dents)), int(np.argmin(corners))
    if dents[d] <= corners[c]:
        return float(dents[d]), "dent", d, ring[d]
    return float(corners[c]), "corner", c, corner[c]


def _cross(a: FloatArray, b: FloatArray) -> FloatArray:
    return np.asarray(a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0])
