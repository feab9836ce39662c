"""The ways in which a shape may lie, ready for the kernels."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import product

import numpy as np
from shapely import (
    MultiLineString,
    MultiPoint,
    Polygon,
    get_coordinates,
    hausdorff_distance,
    linestrings,
    multilinestrings,
    multipoints,
)

from nestlib.geometry.transform import turning
from nestlib.packing import trapezoids
from nestlib.packing.interface import Shape
from nestlib.packing.kernels import FloatArray

#: Turns tried where any angle is allowed, besides those that lay a long edge along an axis.
SAMPLED = tuple(22.5 * k for k in range(16))

#: Outlines closer than this, in parts of their size, look alike.
_ALIKE = 1e-6

#: Polygons whose radius varies by no more than this share stand for circles.
_ROUND = 4e-3

#: How many of the hull's longest edges are laid along the axes.
_EDGES = 3


#: Least x, least y, largest x, largest y.
_Box = tuple[float, float, float, float]


@dataclass(frozen=True, eq=False)
class Orientation:
    """A shape, mirrored and turned.

    Parameters
    ----------
    rotation : float
        Degrees, counter-clockwise.
    flip : bool
        Whether it was mirrored first.
    upright, lying : ndarray, shape (n, 6)
        Trapezoids along x and along y.
    box : tuple of float
        Bounding box: least x, least y, largest x, largest y.
    xs : ndarray
        The different x of its vertices.
    holes : ndarray, shape (n, 4)
        Bounding boxes of its holes.
    """

    rotation: float
    flip: bool
    upright: FloatArray
    lying: FloatArray
    box: _Box
    xs: FloatArray
    holes: FloatArray

    @property
    def width(self) -> float:
        """Extent along x."""
        return self.box[2] - self.box[0]

    @property
    def height(self) -> float:
        """Extent along y."""
        return self.box[3] - self.box[1]


def orientations(shape: Shape, grain: float = 0.0) -> list[Orientation]:
    """Return all ways in which a shape may lie, without repetitions.

    Parameters
    ----------
    shape : Shape
        What it looks like and what is allowed.
    grain : float
        Direction of the container's grain in degrees; matters to shapes that have one.

    Returns
    -------
    list of Orientation
        Turns of a symmetric shape that look alike are listed once.
    """
    boundary = trapezoids.edges(shape.polygon)
    holes = [trapezoids.edges(Polygon(ring)) for ring in shape.polygon.interiors]
    found: list[Orientation] = []
    seen: list[_Outline] = []
    for rotation, flip in _turns(shape, grain):
        turned = _turned(boundary, rotation, flip)
        outline = _outline(turned)
        if not any(_look_alike(outline, other) for other in seen):
            seen.append(outline)
            boxes = [_box(_turned(hole, rotation, flip)) for hole in holes]
            found.append(_orientation(turned, rotation, flip, boxes))
        if is_round(shape.polygon) and shape.grain is None:
            break
    return found


def is_round(polygon: Polygon) -> bool:
    """Return whether a polygon is a disc or a ring, so that turning it changes nothing."""
    rings = [polygon.exterior, *polygon.interiors]
    centre = Polygon(polygon.exterior).centroid
    reach = [np.hypot(*(get_coordinates(r) - (centre.x, centre.y)).T).max() for r in rings]
    return all(
        m * (1 - _ROUND) <= r.distance(centre) and m > 0 for m, r in zip(reach, rings, strict=True)
    )


def fixed_turns(shape: Shape, grain: float = 0.0) -> list[tuple[float, bool]] | None:
    """Return the only turns in which a shape may lie.

    Parameters
    ----------
    shape : Shape
        What is allowed.
    grain : float
        Direction of the container's grain in degrees; matters to shapes that have one.

    Returns
    -------
    list of (float, bool), or None
        Degrees, and whether it is mirrored first; None if any angle is allowed.
    """
    flips = (False, True) if shape.flip else (False,)
    if shape.grain is not None:
        own = {False: shape.grain, True: 180 - shape.grain}
        return [((grain - own[f] + turn) % 360, f) for f in flips for turn in (0.0, 180.0)]
    if shape.rotations is not None:
        return list(product([float(r) % 360 for r in shape.rotations], flips))
    return None


def _turns(shape: Shape, grain: float) -> list[tuple[float, bool]]:
    fixed = fixed_turns(shape, grain)
    if fixed is not None:
        return fixed
    return list(product(_sampled(shape), (False, True) if shape.flip else (False,)))


def _sampled(shape: Shape) -> list[float]:
    """Some of all angles, the likeliest first."""
    quarter = (0.0, 90.0, 180.0, 270.0)
    aligned = [(q - e) % 360 for e in _edge_directions(shape.polygon) for q in quarter]
    return list(dict.fromkeys(round(a, 9) % 360 for a in (*aligned, *quarter, *SAMPLED)))


def _edge_directions(polygon: Polygon) -> list[float]:
    """Directions in degrees of the hull's longest edges."""
    ring = get_coordinates(polygon.convex_hull.exterior)
    steps = np.diff(ring, axis=0)
    longest = np.argsort(-np.hypot(*steps.T), kind="stable")[:_EDGES]
    return [float(np.degrees(np.arctan2(steps[i, 1], steps[i, 0]))) for i in longest]


def _turned(boundary: FloatArray, rotation: float, flip: bool) -> FloatArray:
    ends = boundary.reshape(-1, 2) * ((-1.0, 1.0) if flip else (1.0, 1.0))
    return np.asarray(ends @ turning(rotation)).reshape(-1, 4)


#: Edges and vertices.
_Outline = tuple[MultiLineString, MultiPoint]


def _outline(boundary: FloatArray) -> _Outline:
    """All edges with the lower left corner of their box at (0, 0), and of size 1."""
    points = boundary.reshape(-1, 2) - boundary.reshape(-1, 2).min(axis=0)
    points = points / points.max()
    return multilinestrings(linestrings(points.reshape(-1, 2, 2))), multipoints(points)


def _look_alike(a: _Outline, b: _Outline) -> bool:
    """Whether edges and vertices agree; GEOS measures edges at their ends only."""
    return all(bool(hausdorff_distance(p, q) < _ALIKE) for p, q in zip(a, b, strict=True))


def _orientation(
    boundary: FloatArray, rotation: float, flip: bool, holes: list[_Box]
) -> Orientation:
    return Orientation(
        rotation,
        flip,
        trapezoids.upright(boundary),
        trapezoids.lying(boundary),
        _box(boundary),
        np.unique(boundary[:, 0]),
        np.array(holes).reshape(-1, 4),
    )


def _box(boundary: FloatArray) -> _Box:
    (x0, y0), (x1, y1) = boundary[:, :2].min(axis=0), boundary[:, :2].max(axis=0)
    return float(x0), float(y0), float(x1), float(y1)
