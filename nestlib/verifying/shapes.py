"""Polygons for shapely, from curves, with what they may be wrong by."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from nestlib.verifying.curves import Complexes, Curve, Numbers, curve_distance

#: Segments are looked at that lie this much further away than need be, in mm.
_SLACK = 0.01


@dataclass(frozen=True, eq=False)
class Piece:
    """Metal within one drawn outer contour, less the drawn holes in it.

    Parameters
    ----------
    outer : Curve
        As drawn.
    holes : tuple of Curve
        The inner contours whose smallest enclosing outer contour this is.
    polygon : shapely geometry
        Arcs replaced by lines whose ends lie on them.
    error : float
        How far the polygon's edge may lie from the curves, in mm.
    """

    outer: Curve
    holes: tuple[Curve, ...]
    polygon: BaseGeometry
    error: float

    @cached_property
    def edge(self) -> Curve:
        """All segments of the outer contour and the holes."""
        return joined((self.outer, *self.holes))


def polygon_of(curve: Curve, holes: Sequence[Curve] = ()) -> BaseGeometry:
    """Return the region within a closed curve; what crosses itself is taken apart."""
    region = shapely.Polygon(_ring(curve), [_ring(h) for h in holes])
    return region if region.is_valid else shapely.make_valid(region)


def line_of(curve: Curve) -> BaseGeometry:
    """Return a curve as a line, closed if the curve is."""
    points = _ring(curve) if curve.closed else _plain(curve.flat[0])
    return shapely.LineString(points)


def pieces_of(outers: Sequence[Curve], inners: Sequence[Curve]) -> tuple[list[Piece], list[int]]:
    """Sort holes into the outer contours around them.

    Parameters
    ----------
    outers, inners : sequence of Curve
        All that a layout's file shows.

    Returns
    -------
    pieces : list of Piece
        In the order of `outers`.
    astray : list of int
        Holes that lie in no outer contour.
    """
    regions = [polygon_of(c) for c in outers]
    areas = np.array([r.area for r in regions])
    holes: list[list[Curve]] = [[] for _ in outers]
    astray = []
    tree = shapely.STRtree(regions)
    for i, inner in enumerate(inners):
        around = tree.query(shapely.Point(_plain(inner.flat[0])[0]), predicate="within")
        if len(around):
            holes[around[np.argmin(areas[around])]].append(inner)
        else:
            astray.append(i)
    return [_piece(outer, tuple(h)) for outer, h in zip(outers, holes, strict=True)], astray


def joined(curves: Sequence[Curve]) -> Curve:
    """Return one curve that holds the segments of several."""
    start, end, bulge = (
        np.concatenate([getattr(c, name) for c in curves]) for name in ("start", "end", "bulge")
    )
    return Curve(start, end, bulge, False)


def exact_distance(one: Curve, other: Curve, reach: float) -> float:
    """Return the exact distance in mm between two curves, as their lines and arcs have it.

    Parameters
    ----------
    one, other : Curve
        Such as the edges of two pieces.
    reach : float
        What the distance is known not to exceed; only segments within it are looked at.

    Returns
    -------
    float
        At most `reach`.
    """
    a, b = _near(one, other, reach), _near(other, one, reach)
    if a is None or b is None:
        return reach
    i, j = _facing(a, b, reach)
    return min(reach, curve_distance(a.part(i), b.part(j))) if i.any() else reach


def _near(curve: Curve, other: Curve, reach: float) -> Curve | None:
    """The segments that may lie within reach of another curve's bounding box."""
    x0, y0, x1, y1 = _boxes(other)
    bx0, by0, bx1, by1 = _boxes(curve)
    r = reach + _SLACK
    keep = (
        (bx0 <= x1.max() + r)
        & (bx1 >= x0.min() - r)
        & (by0 <= y1.max() + r)
        & (by1 >= y0.min() - r)
    )
    return curve.part(keep) if keep.any() else None


def _facing(one: Curve, other: Curve, reach: float) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
    """Which segments of two curves have one of the other within reach."""
    lines, owners = [], []
    for curve in (one, other):
        start, end, owner, error = curve.lines
        lines.append(shapely.linestrings(np.stack([_plain(start), _plain(end)], axis=1)))
        owners.append(owner)
        reach += error
    i, j = shapely.STRtree(lines[1]).query(lines[0], predicate="dwithin", distance=reach + _SLACK)
    return (
        np.isin(np.arange(len(one.start)), owners[0][i]),
        np.isin(np.arange(len(other.start)), owners[1][j]),
    )


def _boxes(curve: Curve) -> tuple[Numbers, Numbers, Numbers, Numbers]:
    """Bounding boxes of the segments; those of arcs are that of their whole circle."""
    arc = curve.bulge != 0
    ends = np.stack([curve.start, curve.end])
    low = np.where(arc, curve.centre.real - curve.radius, ends.real.min(axis=0))
    high = np.where(arc, curve.centre.real + curve.radius, ends.real.max(axis=0))
    lower = np.where(arc, curve.centre.imag - curve.radius, ends.imag.min(axis=0))
    upper = np.where(arc, curve.centre.imag + curve.radius, ends.imag.max(axis=0))
    return low, lower, high, upper


def _piece(outer: Curve, holes: tuple[Curve, ...]) -> Piece:
    error = max(c.flat[1] for c in (outer, *holes))
    return Piece(outer, holes, polygon_of(outer, holes), error)


def _ring(curve: Curve) -> Numbers:
    """Points of a closed line, at least four of them."""
    points = _plain(curve.flat[0])
    missing = max(0, 4 - len(points))
    return np.concatenate([points, np.repeat(points[:1], missing, axis=0)])


def _plain(points: Complexes) -> Numbers:
    return np.stack([points.real, points.imag], axis=1)
