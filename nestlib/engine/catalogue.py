"""Polygons and their allowed turns as flat arrays for the kernels.

Terms
-----
kind         one polygon with the turns it may take
turn         an angle, and whether the polygon is mirrored (x becomes -x) before
orientation  a kind after one of its turns, its reference point at (0, 0)
circle       inscribed circle; a few of them stand for the inside of a polygon

Lengths are scaled by the caller so that the mean area of a part is 1.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree
from shapely import affinity
from shapely.geometry import Polygon

from nestlib.engine.kernel import allocating

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Turn = tuple[float, bool]

#: Most inscribed circles of one kind.
CIRCLES = 16

#: Share of the area that the circles must cover before fewer of them suffice.
COVERED = 0.9

#: The grid on which their centres are looked for has twice as many nodes at most.
MOST_NODES = 100_000

#: Least radius of the one circle of an outline that is too thin for the grid.
_SMALLEST = 1e-9

#: Below this share of the diameter penetration is smoothed.
SMOOTH = 0.01


class Catalogue(NamedTuple):
    """All orientations of all kinds.

    Parameters
    ----------
    edge_start : ndarray, shape (o + 1,)
        Edges of orientation k are those from ``edge_start[k]`` to ``edge_start[k + 1]``.
    x1, y1, x2, y2 : ndarray, shape (edges,)
        Ends of the edges; material lies to their left.
    box : ndarray, shape (o, 4)
        Bounding boxes: left, bottom, right, top.
    inside : ndarray, shape (o, 2)
        A point within each.
    circles : ndarray of int64, shape (o,)
        How many circles.
    cx, cy, cr : ndarray of float32, shape (o, CIRCLES)
        Inscribed circles, largest first; unused ones have radius 0.
    size : ndarray, shape (o,)
        Square root of the area of the convex hull.
    diameter : ndarray, shape (o,)
        Diagonal of the smallest circle's box around the kind.
    first : ndarray of int64, shape (kinds + 1,)
        Orientations of kind k are those from ``first[k]`` to ``first[k + 1]``.
    angle : ndarray, shape (o,)
        Angle of each orientation in degrees.
    flip : ndarray of int64, shape (o,)
        1 if it is mirrored before it is turned, else 0.
    """

    edge_start: Ints
    x1: Floats
    y1: Floats
    x2: Floats
    y2: Floats
    box: Floats
    inside: Floats
    circles: Ints
    cx: NDArray[np.float32]
    cy: NDArray[np.float32]
    cr: NDArray[np.float32]
    size: Floats
    diameter: Floats
    first: Ints
    angle: Floats
    flip: Ints


@dataclass(frozen=True)
class Kind:
    """One polygon and how it may be turned.

    Parameters
    ----------
    polygon : Polygon
        Its reference point is (0, 0).
    angles : tuple of float
        Allowed angles, degrees counter-clockwise about the reference point.
    mirrored : tuple of float
        Allowed angles of the mirrored polygon.
    """

    polygon: Polygon
    angles: tuple[float, ...]
    mirrored: tuple[float, ...] = ()

    @property
    def turns(self) -> tuple[Turn, ...]:
        """Return all turns in the order of their orientations."""
        return (*((a, False) for a in self.angles), *((a, True) for a in self.mirrored))


def rings(polygon: Polygon) -> list[Floats]:
    """Return the rings as open vertex lists with the material to the left."""
    found = []
    for k, ring in enumerate([polygon.exterior, *polygon.interiors]):
        points = np.asarray(ring.coords)[:-1, :2]
        ccw = bool(ring.is_ccw)
        found.append(points if ccw == (k == 0) else points[::-1])
    return found


def edges(polygon: Polygon) -> Floats:
    """Return the edges, shape (n, 4), with the material to the left."""
    return np.concatenate([np.hstack([r, np.roll(r, -1, axis=0)]) for r in rings(polygon)])


def direction(angle: float) -> tuple[float, float]:
    """Return cosine and sine, exact for multiples of 90 degrees."""
    quarter = angle / 90.0
    if quarter == round(quarter):
        c, s = [(1, 0), (0, 1), (-1, 0), (0, -1)][round(quarter) % 4]
        return float(c), float(s)
    return float(np.cos(np.radians(angle))), float(np.sin(np.radians(angle)))


def turned(polygon: Polygon, angle: float, flip: bool = False) -> Polygon:
    """Mirror a polygon if wished, then turn it about the origin.

    Exact for multiples of 90 degrees.
    """
    (c, s), m = direction(angle), -1.0 if flip else 1.0
    return affinity.affine_transform(polygon, [m * c, -s, m * s, c, 0.0, 0.0])


def turn_points(points: Floats, angle: float, flip: bool = False) -> Floats:
    """Mirror points, shape (n, 2), if wished, then turn them about the origin."""
    (c, s), x, y = direction(angle), -points[:, 0] if flip else points[:, 0], points[:, 1]
    return np.column_stack([c * x - s * y, s * x + c * y])


def distinct_turns(polygon: Polygon, turns: Sequence[Turn]) -> tuple[Turn, ...]:
    """Drop turns that give the same outline as an earlier one, moved.

    Examples
    --------
    >>> bar = Polygon([(0, 0), (2, 0), (2, 1), (0, 1)])
    >>> distinct_turns(bar, [(0, False), (90, False), (180, False), (0, True)])
    ((0, False), (90, False))
    """
    kept: list[tuple[Turn, Floats]] = []
    small = 1e-7 * float(np.sqrt(polygon.area))
    outline = np.concatenate(rings(polygon))
    for turn in turns:
        points = turn_points(outline, *turn)
        points = points - points.min(axis=0)
        if not any(_same_points(points, other, small) for _, other in kept):
            kept.append((turn, points))
    return tuple(turn for turn, _ in kept)


def equal_turn(
    polygon: Polygon, turn: Turn, turns: Sequence[Turn]
) -> tuple[Turn, tuple[float, float]] | None:
    """Return one of some turns that gives the same outline, and the way it is to be moved.

    Examples
    --------
    >>> bar = Polygon([(0, 0), (2, 0), (2, 1), (0, 1)])
    >>> equal_turn(bar, (180, False), [(90, False), (0, False)])
    ((0, False), (-2.0, -1.0))
    """
    if turn in turns:
        return turn, (0.0, 0.0)
    small = 1e-7 * float(np.sqrt(polygon.area))
    outline = np.concatenate(rings(polygon))
    points = turn_points(outline, *turn)
    for other in turns:
        like = turn_points(outline, *other)
        dx, dy = (points.min(axis=0) - like.min(axis=0)).tolist()
        if _same_points(points, like + np.array([dx, dy]), small):
            return other, (dx, dy)
    return None


def _same_points(a: Floats, b: Floats, small: float) -> bool:
    if np.abs(a.max(axis=0) - b.max(axis=0)).max() >= small:
        return False
    far = [cKDTree(p).query(q, p=np.inf)[0].max() for p, q in ((a, b), (b, a))]
    return bool(max(far) < small)


@allocating
def _distance(e: Floats, x: float, y: float) -> float:
    """Distance of a point to the outline, negative outside."""
    best = np.inf
    inside = False
    for k in range(e.shape[0]):
        ax, ay, bx, by = e[k, 0], e[k, 1], e[k, 2], e[k, 3]
        dx, dy = bx - ax, by - ay
        t = ((x - ax) * dx + (y - ay) * dy) / (dx * dx + dy * dy)
        t = min(1.0, max(0.0, t))
        gx, gy = ax + t * dx - x, ay + t * dy - y
        best = min(best, gx * gx + gy * gy)
        if (ay > y) != (by > y) and x < ax + (y - ay) * dx / dy:
            inside = not inside
    best = float(np.sqrt(best))
    return best if inside else -best


@allocating
def inscribed_circles(e: Floats, area: float, most: int, covered: float) -> Floats:
    """Return circles, each the largest in what the earlier ones left free.

    Parameters
    ----------
    e : ndarray, shape (n, 4)
        Edges of the polygon.
    area : float
        Its area.
    most : int
        Greatest number of circles.
    covered : float
        Stop when the circles cover this share of the area.

    Returns
    -------
    ndarray, shape (k, 3)
        Centre and radius, largest first.
    """
    x0, y0, x1, y1 = np.inf, np.inf, -np.inf, -np.inf
    for k in range(e.shape[0]):
        x0, y0, x1, y1 = min(x0, e[k, 0]), min(y0, e[k, 1]), max(x1, e[k, 0]), max(y1, e[k, 1])
    wide, high = x1 - x0, y1 - y0
    step = np.sqrt(max(area / 1500.0, wide * high / MOST_NODES))
    step = max(step, (wide + high) / MOST_NODES)
    nx, ny = int(wide / step) + 1, int(high / step) + 1
    px, py, pd = np.empty(nx * ny), np.empty(nx * ny), np.empty(nx * ny)
    n = 0
    for i in range(nx):
        for j in range(ny):
            x, y = x0 + (i + 0.5) * wide / nx, y0 + (j + 0.5) * high / ny
            d = _distance(e, x, y)
            if d > 0.0:
                px[n], py[n], pd[n] = x, y, d
                n += 1
    out = np.empty((most, 3))
    found, total = 0, 0.0
    while found < most and total < covered * area and n > 0:
        k = 0
        for c in range(n):
            if pd[c] > pd[k]:
                k = c
        x, y, r = px[k], py[k], pd[k]
        h = step
        while h > 1e-3 * step:
            better = False
            for sx, sy in ((h, 0.0), (-h, 0.0), (0.0, h), (0.0, -h)):
                d = _distance(e, x + sx, y + sy)
                for c in range(found):
                    d = min(d, np.hypot(x + sx - out[c, 0], y + sy - out[c, 1]) - out[c, 2])
                if d > r:
                    x, y, r, better = x + sx, y + sy, d, True
                    break
            if not better:
                h *= 0.5
        if r <= 1e-3 * step:
            break
        out[found, 0], out[found, 1], out[found, 2] = x, y, r
        found += 1
        total += np.pi * r * r
        for c in range(n):
            pd[c] = min(pd[c], np.hypot(px[c] - x, py[c] - y) - r)
    return out[:found]


def catalogue(kinds: Sequence[Kind]) -> Catalogue:
    """Lay out all orientations of the kinds as flat arrays.

    Parameters
    ----------
    kinds : sequence of Kind
        In the order of their numbers.

    Returns
    -------
    Catalogue
    """
    outlines, boxes, inside, sizes, diameters = [], [], [], [], []
    first, counts, discs = [0], [], []
    for kind in kinds:
        e = edges(kind.polygon)
        c = inscribed_circles(e, kind.polygon.area, CIRCLES, COVERED)
        if not len(c):  # an overlap without circles would count nothing
            p = kind.polygon.representative_point()
            c = np.array([[p.x, p.y, max(p.distance(kind.polygon.boundary), _SMALLEST)]])
        c[:, 2] *= 1.0 - 1e-4
        hull = kind.polygon.convex_hull
        corners = np.asarray(hull.exterior.coords)
        diameter = max(np.hypot(*(corners - q).T).max() for q in corners)
        for angle, flip in kind.turns:
            p = turned(kind.polygon, angle, flip)
            outlines.append(edges(p))
            boxes.append(p.bounds)
            centres = turn_points(c[:, :2], angle, flip)
            inside.append(centres[0])
            padded = np.zeros((CIRCLES, 3), dtype=np.float32)
            padded[:, :2] = centres[0]
            padded[: len(c), :2], padded[: len(c), 2] = centres, c[:, 2]
            discs.append(padded)
            counts.append(len(c))
            sizes.append(np.sqrt(hull.area))
            diameters.append(diameter)
        first.append(len(outlines))
    x1, y1, x2, y2 = (np.ascontiguousarray(c) for c in np.concatenate(outlines).T)
    d = np.array(discs, dtype=np.float32)
    return Catalogue(
        np.cumsum([0, *map(len, outlines)]).astype(np.int64),
        x1,
        y1,
        x2,
        y2,
        np.array(boxes, dtype=np.float64),
        np.array(inside, dtype=np.float64),
        np.array(counts, dtype=np.int64),
        np.ascontiguousarray(d[:, :, 0]),
        np.ascontiguousarray(d[:, :, 1]),
        np.ascontiguousarray(d[:, :, 2]),
        np.array(sizes, dtype=np.float64),
        np.array(diameters, dtype=np.float64),
        np.array(first, dtype=np.int64),
        np.array([a for k in kinds for a, _ in k.turns], dtype=np.float64),
        np.array([f for k in kinds for _, f in k.turns], dtype=np.int64),
    )
