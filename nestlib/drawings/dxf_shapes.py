"""DXF entities turned into chains of lines and arcs.

Every entity is drawn in a plane of its own. One matrix takes its points from there into
the drawing, in mm: the entity's own axes, all the blocks around it, and the unit. What
that matrix does to a circle decides whether it stays one, so mirrored, scaled and skewed
blocks need no special care.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from typing import Any

import numpy as np
from ezdxf.entities.dxfentity import DXFEntity

from nestlib.drawings import curves
from nestlib.drawings.sketch import FARTHEST, chain
from nestlib.geometry.arcs import arc_angle, arc_centre
from nestlib.model.contour import Contour, FloatArray
from nestlib.tolerances import CURVE, SAME_POINT

#: Bulges beyond this draw all but a full circle, of which two points say nothing.
_FULLEST = 1e6

#: Coordinates closer to 0 than this are 0, in mm.
_NOTHING = 1e-100

Points3 = Sequence[Any] | FloatArray


class Unusable(Exception):  # noqa: N818 - caught at once and turned into a finding
    """An entity that gives no contour, with the code of its finding.

    Parameters
    ----------
    code, message : str
        As in `nestlib.drawings.codes`.
    place : (float, float), optional
        Where.
    """

    def __init__(self, code: str, message: str, place: tuple[float, float] | None = None) -> None:
        super().__init__(message)
        self.code, self.message, self.place = code, message, place


class Plane:
    """The way from an entity's own coordinates to the drawing.

    Parameters
    ----------
    matrix : ndarray, shape (4, 4)
        For rows of points: ``[x, y, z, 1] @ matrix``.
    """

    def __init__(self, matrix: FloatArray) -> None:
        self.matrix = matrix
        #: Greatest height difference that was flattened, in mm.
        self.flattened = 0.0

    def points(self, xyz: Points3) -> FloatArray:
        """Take points into the drawing, shape (n, 2).

        Raises
        ------
        Unusable
            If they are not finite, too far out, or not level.
        """
        own = np.array([tuple(p)[:3] for p in xyz], dtype=np.float64)
        # A coordinate near the end of the floating-point range overflows here: found below.
        with np.errstate(over="ignore", invalid="ignore"):
            world = own @ self.matrix[:3, :3] + self.matrix[3, :3]
        if not (np.isfinite(world).all() and np.abs(world).max(initial=0) <= FARTHEST):
            raise Unusable("bad-number", "a coordinate is not a number, or is too large")
        # The smallest floating-point numbers have lost their digits; geometry overflows on them.
        world[np.abs(world) < _NOTHING] = 0.0
        self._check_level(world)
        return world[:, :2]

    def _check_level(self, world: FloatArray) -> None:
        rise = float(np.ptp(world[:, 2])) if len(world) else 0.0
        if rise > CURVE:
            x, y = world[0, :2]
            raise Unusable("sloped-geometry", f"it rises by {rise:.3f} mm", (float(x), float(y)))
        self.flattened = max(self.flattened, rise)

    def axes(self, centre: Any, u: Any, v: Any) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Take a centre and two half diameters into the drawing."""
        c, u, v = (np.array(tuple(p)[:3], dtype=np.float64) for p in (centre, u, v))
        with np.errstate(over="ignore", invalid="ignore"):
            placed = self.points([c, c + u, c + v])
            linear = self.matrix[:3, :2]
            return placed[0], u @ linear, v @ linear


def contours(entity: DXFEntity, matrix: FloatArray) -> tuple[list[Contour], float]:
    """Return what an entity draws.

    Parameters
    ----------
    entity : ezdxf entity
        Of a kind in `DRAWN`.
    matrix : ndarray, shape (4, 4)
        From the surroundings of the entity to the drawing in mm.

    Returns
    -------
    list of Contour
        In mm, in the drawing.
    float
        Height differences that were flattened, in mm.

    Raises
    ------
    Unusable
        If it draws nothing that can be cut.
    """
    own = np.eye(4)
    if entity.dxftype() in _IN_OWN_AXES or _is_flat_polyline(entity):
        axes = entity.ocs()  # type: ignore[attr-defined]
        own[:3, :3] = [axes.ux.xyz, axes.uy.xyz, axes.uz.xyz]
    plane = Plane(own @ matrix)
    return DRAWN[entity.dxftype()](entity, plane), plane.flattened


def _is_flat_polyline(entity: Any) -> bool:
    return entity.dxftype() == "POLYLINE" and bool(entity.is_2d_polyline)


def _line(entity: Any, plane: Plane) -> list[Contour]:
    points = plane.points([entity.dxf.start, entity.dxf.end])
    if math.dist(*points) < SAME_POINT:
        raise Unusable("zero-length", "a line without length was left out", _place(points[0]))
    return [Contour(points, closed=False)]


def _circle(entity: Any, plane: Plane) -> list[Contour]:
    return [_arc(entity, plane, 0.0, 2 * math.pi)]


def _arc_entity(entity: Any, plane: Plane) -> list[Contour]:
    start, end = float(entity.dxf.start_angle), float(entity.dxf.end_angle)
    if not (math.isfinite(start) and math.isfinite(end)):
        raise Unusable("bad-number", "an angle is not a number")
    span = (end - start) % 360.0
    if start == end:
        centre = _place(plane.points([entity.dxf.center])[0])
        raise Unusable("arc-vanishes", f"an arc starts and ends at {start:g} degrees", centre)
    return [_arc(entity, plane, math.radians(start), math.radians(span or 360.0))]


def _arc(entity: Any, plane: Plane, start: float, span: float) -> Contour:
    r = float(entity.dxf.radius)
    c, u, v = plane.axes(entity.dxf.center, (r, 0, 0), (0, r, 0))
    return _turning(c, u, v, start, span)


def _turning(c: FloatArray, u: FloatArray, v: FloatArray, start: float, span: float) -> Contour:
    """An arc or ellipse, unless it has no size."""
    if max(math.hypot(*u), math.hypot(*v)) * min(abs(span), 1.0) < SAME_POINT:
        raise Unusable("zero-length", "a circle or arc without size was left out", _place(c))
    try:
        return curves.arc(c, u, v, start, span)
    except ValueError as error:
        raise Unusable("zero-length", str(error), _place(c)) from error


def _ellipse(entity: Any, plane: Plane) -> list[Contour]:
    start, end = float(entity.dxf.start_param), float(entity.dxf.end_param)
    span = (end - start) % (2 * math.pi)
    if min(span, 2 * math.pi - span) < 1e-9:
        if start == end:
            centre = _place(plane.points([entity.dxf.center])[0])
            raise Unusable("arc-vanishes", "an ellipse starts where it ends", centre)
        span = 2 * math.pi
    c, u, v = plane.axes(entity.dxf.center, entity.dxf.major_axis, entity.minor_axis)
    return [_turning(c, u, v, start, span)]


def _spline(entity: Any, plane: Plane) -> list[Contour]:
    tool = entity.construction_tool()
    control = plane.points(tool.control_points)
    weights = list(tool.weights()) or None
    made = curves.spline(control, list(tool.knots()), tool.order - 1, weights)
    if made.length < SAME_POINT:
        raise Unusable("zero-length", "a spline without length was left out", _place(control[0]))
    return [made]


def _lwpolyline(entity: Any, plane: Plane) -> list[Contour]:
    z = float(entity.dxf.elevation)
    rows = [(x, y, z, bulge) for x, y, bulge in entity.get_points("xyb")]
    return [_polyline_of(rows, bool(entity.closed), plane)]


def _polyline(entity: Any, plane: Plane) -> list[Contour]:
    if entity.is_poly_face_mesh or entity.is_polygon_mesh:
        raise Unusable("solid-geometry", "it is a mesh of faces")
    # Vertices that only steer a spline are not on the curve (flag 16).
    rows = [
        (*v.dxf.location.xyz, float(v.dxf.get("bulge", 0.0)) if entity.is_2d_polyline else 0.0)
        for v in entity.vertices
        if not v.dxf.flags & 16
    ]
    return [_polyline_of(rows, bool(entity.is_closed), plane)]


def _polyline_of(
    rows: list[tuple[float, float, float, float]], closed: bool, plane: Plane
) -> Contour:
    """A polyline, with bulges that may become pieces of ellipses."""
    if not rows:
        raise Unusable("zero-length", "a polyline without vertices was left out")
    bulges = np.array([row[3] for row in rows])
    if not (np.isfinite(bulges).all() and np.abs(bulges).max() < _FULLEST):
        raise Unusable("bad-number", "a bulge is not a number, or is too large")
    points = plane.points([row[:3] for row in rows])
    points, bulges, rows = _without_repeats(points, bulges, rows, closed)
    if len(points) < 2:
        raise Unusable("zero-length", "a polyline without length was left out", _place(points[0]))
    linear = plane.matrix[:2, :2]
    if not bulges.any():
        return Contour(points, bulges, closed)
    if _keeps_circles(linear):
        return Contour(points, bulges * np.sign(np.linalg.det(linear)), closed)
    return _skewed(rows, bulges, closed, plane)


def _without_repeats(
    points: FloatArray,
    bulges: FloatArray,
    rows: list[tuple[float, float, float, float]],
    closed: bool,
) -> tuple[FloatArray, FloatArray, list[tuple[float, float, float, float]]]:
    """Drop vertices whose segment has no length."""
    following = np.roll(points, -1, axis=0)
    keep = np.hypot(*(following - points).T) >= SAME_POINT
    if not closed:
        keep[-1] = True
    if not keep.any():
        keep[0] = True
    return points[keep], bulges[keep], [r for r, k in zip(rows, keep, strict=True) if k]


def _keeps_circles(linear: FloatArray) -> bool:
    """Whether a map turns circles into circles: equal axes at right angles."""
    gram = linear @ linear.T
    return bool(
        abs(gram[0, 0] - gram[1, 1]) <= 1e-9 * gram[0, 0] and abs(gram[0, 1]) <= 1e-9 * gram[0, 0]
    )


def _skewed(
    rows: list[tuple[float, float, float, float]], bulges: FloatArray, closed: bool, plane: Plane
) -> Contour:
    """A polyline whose arcs are stretched unevenly."""
    following = rows[1:] + rows[:1] if closed else rows[1:]
    pieces = []
    for a, b, bulge in zip(rows, following, bulges, strict=False):
        if not bulge:
            pieces.append(Contour(plane.points([a[:3], b[:3]]), closed=False))
            continue
        cx, cy = arc_centre(a[:2], b[:2], float(bulge))
        start = math.atan2(a[1] - cy, a[0] - cx)
        r = math.dist(a[:2], (cx, cy))
        c, u, v = plane.axes((cx, cy, a[2]), (r, 0, 0), (0, r, 0))
        pieces.append(_turning(c, u, v, start, arc_angle(float(bulge))))
    whole = chain(pieces)
    return Contour(whole.points[:-1], whole.bulges[:-1]) if closed else whole


def _place(point: Iterable[float]) -> tuple[float, float]:
    x, y = point
    return float(x), float(y)


#: Kinds of entities that draw contours, and how.
DRAWN: dict[str, Callable[[Any, Plane], list[Contour]]] = {
    "LINE": _line,
    "CIRCLE": _circle,
    "ARC": _arc_entity,
    "ELLIPSE": _ellipse,
    "SPLINE": _spline,
    "HELIX": _spline,
    "LWPOLYLINE": _lwpolyline,
    "POLYLINE": _polyline,
}

_IN_OWN_AXES = {"CIRCLE", "ARC", "LWPOLYLINE"}
