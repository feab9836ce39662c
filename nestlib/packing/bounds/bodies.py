"""What a shape certainly covers and certainly takes, however it lies.

From outside, a shape takes at least a *box*; from inside, it covers at least a convex
*body* and a *core*, a rectangle along the axes. Arguments that hold for boxes, bodies
and cores hold for the shapes.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from shapely import (
    LineString,
    MultiPoint,
    Point,
    Polygon,
    get_coordinates,
    hausdorff_distance,
    maximum_inscribed_circle,
)
from shapely.affinity import scale
from shapely.ops import nearest_points, split

from nestlib.geometry.transform import turning
from nestlib.packing.interface import Shape
from nestlib.packing.kernels import FloatArray
from nestlib.packing.orientations import fixed_turns

#: Lengths that differ by less than this part of a size count as equal.
SLACK = 1e-8

#: Most corners of a body; more of them are left out, which makes it smaller.
_CORNERS = 32

#: Most cuts by which a body is carved out of an outline.
_CUTS = 60

#: By what part a carved body is made smaller, so that rounding does not carry it outside.
_SHRUNK = 1e-6

#: Angles between 0 and a quarter turn at which a freely turned outline is measured.
_STEPS = 90

#: Width to height of the cores that are tried, in parts of that of the box.
_ASPECTS = np.array([0.4, 0.55, 0.7, 0.85, 1.0, 1.2, 1.5, 1.9, 2.5])


@dataclass(frozen=True, eq=False)
class Lying:
    """One way in which a shape lies.

    Parameters
    ----------
    width, height : float
        Of its box, whose lower left corner is (0, 0).
    body : ndarray, shape (n, 2)
        Corners of a convex polygon that it covers, counter-clockwise.
    core : tuple of float
        Width and height of a rectangle in the body.
    """

    width: float
    height: float
    body: FloatArray
    core: tuple[float, float]


def ways_to_lie(shape: Shape, outline: Polygon, grain: float) -> list[Lying]:
    """Return how a shape may lie.

    Parameters
    ----------
    shape : Shape
        Says which turns are allowed.
    outline : shapely.Polygon
        Its outline without holes, in its own coordinates.
    grain : float
        Direction of the container's grain in degrees.

    Returns
    -------
    list of Lying
        Without those that look alike. One for all turns if any angle is allowed: then
        the disc in the outline stands for the shape.
    """
    turns = fixed_turns(shape, grain)
    if turns is None:
        return [_disc(outline)]
    body, corners = convex_body(outline), get_coordinates(outline.exterior)
    found: list[Lying] = []
    for rotation, flip in turns:
        matrix = np.diag([-1.0 if flip else 1.0, 1.0]) @ turning(rotation)
        lying = _lying(corners @ matrix, (body[::-1] if flip else body) @ matrix)
        if not any(_look_alike(lying, other) for other in found):
            found.append(lying)
    return found


def least_boxes(shape: Shape, outline: Polygon, grain: float) -> FloatArray:
    """Return boxes of which a shape needs at least one, whatever its turn.

    Parameters
    ----------
    shape : Shape
        Says which turns are allowed.
    outline : shapely.Polygon
        Its outline without holes.
    grain : float
        Direction of the container's grain in degrees.

    Returns
    -------
    ndarray, shape (n, 2)
        Widths and heights. Where any angle is allowed, each is below those of a small
        range of angles: between two angles at which no edge lies along an axis the
        extents are concave, so least at the ends of the range.
    """
    corners = get_coordinates(outline.convex_hull.exterior)
    turns = fixed_turns(shape, grain)
    if turns is not None:
        mirrored = [np.diag([-1.0 if f else 1.0, 1.0]) @ turning(r) for r, f in turns]
        return np.array([np.ptp(corners @ m, axis=0) for m in mirrored]).reshape(-1, 2)
    steps = np.diff(corners, axis=0)
    angles = np.degrees(np.arctan2(steps[:, 1], steps[:, 0])) % 90.0
    angles = np.unique(np.concatenate([90 - angles, np.linspace(0.0, 90.0, _STEPS + 1)]))
    sizes = np.array([np.ptp(corners @ turning(a), axis=0) for a in angles])
    least = np.array([np.minimum(a, b) for a, b in pairwise(sizes)])
    return np.concatenate([least, least[:, ::-1]])


def convex_body(outline: Polygon) -> FloatArray:
    """Return the corners of a large convex polygon within an outline.

    The convex hull is cut, along the tangent of a disc in the outline that grows about
    its centre, wherever the outline is met first, until nothing of the outline is left
    within.

    Parameters
    ----------
    outline : shapely.Polygon
        Without holes.

    Returns
    -------
    ndarray, shape (n, 2)
        Counter-clockwise.

    Examples
    --------
    >>> angle = Polygon([(0, 0), (9, 0), (9, 3), (3, 3), (3, 9), (0, 9)])
    >>> angle.buffer(1e-6).covers(Polygon(convex_body(angle)))
    True
    """
    hull, size = outline.convex_hull, math.sqrt(outline.area)
    dent = hausdorff_distance(hull.exterior, outline.exterior)
    if dent <= 1e-2 * SLACK * size and hull.area <= outline.area * (1 + 1e-2 * SLACK):
        return _corners(hull)
    centre = Point(get_coordinates(maximum_inscribed_circle(outline, 1e-3 * size))[0])
    body = hull
    for _ in range(_CUTS):
        within = outline.exterior.intersection(scale(body, 1 - SLACK, 1 - SLACK, origin=centre))
        if within.is_empty:
            break
        body = _cut(body, centre, nearest_points(within, centre)[0])
    body = scale(body, 1 - _SHRUNK, 1 - _SHRUNK, origin=centre)
    safe = outline.covers(body)
    return _corners(body if safe else Polygon(_disc_corners(outline, centre)))


def _cut(body: Polygon, centre: Point, at: Point) -> Polygon:
    """Keep the side of the centre of a line through a point, across the way there."""
    way = np.array([at.x - centre.x, at.y - centre.y])
    far = 2 * body.length * np.array([-way[1], way[0]]) / np.hypot(*way)
    line = LineString([(at.x - far[0], at.y - far[1]), (at.x + far[0], at.y + far[1])])
    return next((p for p in split(body, line).geoms if p.covers(centre)), body)


def _disc(outline: Polygon) -> Lying:
    """The largest disc, wherever it lies and however the shape is turned."""
    centre = Point(get_coordinates(maximum_inscribed_circle(outline, 1e-4 * outline.length))[0])
    corners = _disc_corners(outline, centre) - get_coordinates(centre)
    radius = float(np.hypot(*corners[0]))
    core = radius * math.sqrt(2) * (1 - SLACK)
    return Lying(2 * radius, 2 * radius, corners + radius, (core, core))


def _disc_corners(outline: Polygon, centre: Point) -> FloatArray:
    radius = outline.exterior.distance(centre) * (1 - SLACK)
    angles = 2 * math.pi / _CORNERS * np.arange(_CORNERS)
    points = radius * np.stack([np.cos(angles), np.sin(angles)], axis=1)
    return np.asarray(points + get_coordinates(centre))


def _corners(polygon: Polygon) -> FloatArray:
    """Corners of a convex polygon, counter-clockwise, at most a fixed number."""
    hull = MultiPoint(get_coordinates(polygon)).convex_hull
    ring = get_coordinates(hull.exterior)[:-1]
    if not hull.exterior.is_ccw:
        ring = ring[::-1]
    kept = np.unique(np.linspace(0, len(ring), _CORNERS, endpoint=False).astype(int))
    return np.asarray(ring if len(ring) <= _CORNERS else ring[kept])


def _lying(outline: FloatArray, body: FloatArray) -> Lying:
    low = outline.min(axis=0)
    width, height = np.ptp(outline, axis=0)
    return Lying(float(width), float(height), body - low, core_of(body))


def core_of(body: FloatArray) -> tuple[float, float]:
    """Return width and height of a large rectangle along the axes in a convex polygon.

    Parameters
    ----------
    body : ndarray, shape (n, 2)
        Corners, counter-clockwise.

    Returns
    -------
    tuple of float
        The largest of some proportions about some centres.

    Examples
    --------
    >>> core_of(np.array([(0.0, 0.0), (3.0, 0.0), (3.0, 2.0), (0.0, 2.0)]))
    (3.0, 2.0)
    """
    edges = np.roll(body, -1, axis=0) - body
    normals = np.stack([edges[:, 1], -edges[:, 0]], axis=1)
    reach = np.sum(normals * body, axis=1)
    sizes = np.ptp(body, axis=0)
    best = (0.0, 0.0)
    for centre in _centres(body):
        for aspect in _ASPECTS:
            half = sizes / 2 * (math.sqrt(aspect), 1 / math.sqrt(aspect))
            share = float(((reach - normals @ centre) / (np.abs(normals) @ half)).min())
            width, height = (2 * share * half).tolist()
            if share > 0 and width * height > best[0] * best[1]:
                best = (width, height)
    return best


def _centres(body: FloatArray) -> Iterator[FloatArray]:
    yield (body.min(axis=0) + body.max(axis=0)) / 2
    yield get_coordinates(Polygon(body).centroid)[0]


def _look_alike(a: Lying, b: Lying) -> bool:
    """Whether boxes and bodies agree, corner by corner, to well below the slack."""
    near = 1e-2 * SLACK * max(a.width, a.height)
    if len(a.body) != len(b.body) or abs(a.width - b.width) + abs(a.height - b.height) > near:
        return False
    return bool(hausdorff_distance(MultiPoint(a.body), MultiPoint(b.body)) < near)
