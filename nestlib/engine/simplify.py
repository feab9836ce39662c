"""Fewer vertices, outwards only: the result contains the polygon."""

from __future__ import annotations

import numpy as np
from shapely.geometry import Polygon

from nestlib.engine.catalogue import Floats, rings

#: Outlines with no more vertices than this stay as they are.
FEW = 40

#: Most that may be given away, as a share of the area.
GIVEN_AWAY = 0.001


def simplified(polygon: Polygon, few: int = FEW, share: float = GIVEN_AWAY) -> Polygon:
    """Remove vertices, the cheapest first, by filling notches and extending corners.

    A notch vertex is left out; an edge between two bulging vertices is replaced by the
    point where its neighbours meet. What that adds may touch no other vertex.

    Parameters
    ----------
    polygon : Polygon
        May have holes.
    few : int
        Stop at so many vertices.
    share : float
        Stop before more than this share of the area is added.

    Returns
    -------
    Polygon

    Examples
    --------
    >>> from shapely.geometry import Point
    >>> circle = Point(0, 0).buffer(1)
    >>> rough = simplified(circle, few=12, share=0.05)
    >>> len(rough.exterior.coords) - 1, rough.covers(circle.buffer(-1e-9))
    (12, True)
    """
    found, budget = rings(polygon), share * polygon.area
    blocked: set[tuple[float, ...]] = set()
    while sum(map(len, found)) > few:
        options = [(cost, r, k, q) for r, ring in enumerate(found) for cost, k, q in _options(ring)]
        options = [o for o in options if o[0] <= budget and tuple(o[3]) not in blocked]
        if not options:
            break
        cost, r, k, q = min(options, key=lambda o: o[0])
        ring, n = found[r], len(found[r])
        notch = bool(np.all(q == ring[k]))
        a, c = (ring[k - 1], ring[(k + 1) % n]) if notch else (ring[k], ring[(k + 1) % n])
        if any(_within(p, a, q, c) for p in found):
            blocked.add(tuple(q))
            continue
        budget -= cost
        if notch:
            found[r] = np.delete(ring, k, axis=0)
        else:
            ring = ring.copy()
            ring[k] = q
            found[r] = np.delete(ring, (k + 1) % n, axis=0)
    result = Polygon(found[0], found[1:])
    return result if result.is_valid else polygon


def _options(ring: Floats) -> list[tuple[float, int, Floats]]:
    """Return cost, vertex and new point of everything that removes one vertex."""
    if len(ring) < 4:
        return []
    nxt = np.roll(ring, -1, axis=0)
    d = nxt - ring
    before = np.roll(d, 1, axis=0)
    turn = before[:, 0] * d[:, 1] - before[:, 1] * d[:, 0]
    options = [(float(-turn[k]) / 2, int(k), ring[k]) for k in np.flatnonzero(turn <= 0)]
    after = np.roll(d, -1, axis=0)
    together = before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0]
    bulging = (turn > 0) & (np.roll(turn, -1) > 0) & (together > 0)
    for k in np.flatnonzero(bulging):
        t = (d[k, 0] * after[k, 1] - d[k, 1] * after[k, 0]) / together[k]
        q = ring[k] + t * before[k]
        options.append((float(t * turn[k]) / 2, int(k), q))
    return options


def _within(points: Floats, a: Floats, b: Floats, c: Floats) -> bool:
    """Tell whether a point other than the corners lies in or on a triangle."""
    sides = [
        (q[0] - p[0]) * (points[:, 1] - p[1]) - (q[1] - p[1]) * (points[:, 0] - p[0])
        for p, q in ((a, b), (b, c), (c, a))
    ]
    inside = np.all([s >= 0 for s in sides], axis=0) | np.all([s <= 0 for s in sides], axis=0)
    corner = np.any([np.all(points == p, axis=1) for p in (a, b, c)], axis=0)
    return bool(np.any(inside & ~corner))
