"""The curve that runs beside a closed contour, at a constant distance to its left.

Each segment is moved sideways; where the contour turns right the gap is closed by an arc
about the corner, where it turns left the neighbours are cut off where they meet. That is
exact wherever no segment vanishes (Tiller and Hanson, Offsets of two-dimensional profiles,
IEEE Computer Graphics and Applications 4(9), 1984; cited from memory). The result is
checked; where segments vanish, the contour is replaced by fine lines and grown as a polygon.
"""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np
import shapely
from shapely import Polygon

from nestlib.geometry.arcs import arc_angle, arc_bulge, arc_centre, arc_direction, arc_point
from nestlib.geometry.polygons import region
from nestlib.model.contour import Contour, FloatArray

Point = tuple[float, float]
Segment = tuple[Point, Point, float]

#: The result keeps its distance within this, in mm; fine lines within a few times that.
_EXACT = 1e-7
_FINE = 1e-5

#: Lines in a quarter of the circle about a corner, when polygons are grown.
_QUARTER = 64


def beside(contour: Contour, distance: float) -> Contour | None:
    """Return the curve at a distance to the left of a contour, as seen in its direction.

    Parameters
    ----------
    contour : Contour
        Closed.
    distance : float
        In mm, 0 or more.

    Returns
    -------
    Contour, or None
        Beginning beside the start of the contour and running the same way; None if the
        room to the left is too narrow for a single curve.

    Examples
    --------
    >>> beside(Contour.circle((0, 0), 5), 1).points.tolist()
    [[4.0, 0.0], [-4.0, 0.0]]
    >>> round(beside(Contour.rectangle(4, 2).reversed(), 0.5).length, 6)  # 12 + 2 pi 0.5
    15.141593
    """
    if distance == 0:
        return contour
    if contour.is_circle:
        return _circle(contour, distance)
    exact = _exact(contour, distance)
    return _grown(contour, distance) if exact is None else exact


def place_on(contour: Contour, point: Point) -> float:
    """Return how far along a contour it comes nearest to a point, in mm from its start.

    Examples
    --------
    >>> place_on(Contour.rectangle(4, 2), (4.1, 1.5))
    5.5
    """
    rows = list(_segments(contour))
    apart = [float(_from_segment(np.array([point]), row)[0]) for row in rows]
    nearest = int(np.argmin(apart))
    lengths = [Contour(row[:2], (row[2], 0.0), closed=False).length for row in rows]
    share = min(1.0, max(0.0, _share(rows[nearest], point)))
    return math.fsum(lengths[:nearest]) + share * lengths[nearest]


def _circle(contour: Contour, distance: float) -> Contour | None:
    centre = contour.points.mean(axis=0)
    spokes = contour.points - centre
    radius = float(np.hypot(*spokes[0]))
    grown = radius - math.copysign(distance, contour.bulges[0])
    return Contour(centre + spokes * (grown / radius), contour.bulges) if grown > 0 else None


def _exact(contour: Contour, distance: float) -> Contour | None:
    """Every segment moved and joined to its neighbours; None if that does not come out."""
    own = list(_segments(contour))
    sides = [side for side in (_moved(s, distance) for s in own) if side is not None]
    if len(sides) < max(2, len(own)):
        return None
    pairs = [(sides[i - 1], sides[i], own[i - 1], own[i]) for i in range(len(own))]
    joints = [joint for joint in (_joint(*pair) for pair in pairs) if joint is not None]
    if len(joints) < len(own):
        return None
    chain: list[Segment] = []
    for side, (_, start, _), (end, after, bulge) in zip(
        sides, joints, [*joints[1:], joints[0]], strict=True
    ):
        kept = _cut_to(side, start, end)
        if kept is None:
            return None
        chain += [kept, (end, after, bulge)]
    found = _contour(chain)
    return found if found is not None and _keeps_distance(found, contour, distance) else None


def _segments(contour: Contour) -> Iterator[Segment]:
    for (x0, y0), (x1, y1), bulge in zip(*(v.tolist() for v in contour.segments), strict=True):
        if (x0, y0) != (x1, y1):
            yield (x0, y0), (x1, y1), bulge


def _moved(segment: Segment, distance: float) -> Segment | None:
    """A segment moved to its left; None if it is an arc that vanishes."""
    a, b, bulge = segment
    if bulge and _radius(segment) - math.copysign(distance, bulge) <= _EXACT:
        return None
    (ux, uy), (vx, vy) = (arc_direction(a, b, bulge, share) for share in (0.0, 1.0))
    start = (a[0] - distance * uy, a[1] + distance * ux)
    return start, (b[0] - distance * vy, b[1] + distance * vx), bulge


def _joint(
    before: Segment, after: Segment, own: Segment, own_after: Segment
) -> tuple[Point, Point, float] | None:
    """Where one moved segment ends, the next begins, and the bulge between; None if nowhere."""
    (ux, uy), (vx, vy) = arc_direction(*own, 1.0), arc_direction(*own_after, 0.0)
    turn = math.atan2(ux * vy - uy * vx, ux * vx + uy * vy)
    if math.dist(before[1], after[0]) < _EXACT:
        return before[1], before[1], 0.0
    if turn < 0 or abs(turn) > math.pi - 1e-9:
        return before[1], after[0], arc_bulge(-abs(turn))
    meeting = _meeting(before, after, own[1])
    return None if meeting is None else (meeting, meeting, 0.0)


def _meeting(one: Segment, other: Segment, corner: Point) -> Point | None:
    """The point on both segments that is nearest to the corner."""
    places = [p for p in _crossings(one, other) if _on(one, p) and _on(other, p)]
    return min(places, key=lambda p: math.dist(p, corner), default=None)


def _crossings(one: Segment, other: Segment) -> list[Point]:
    """Where the whole lines and circles of two segments meet."""
    if not one[2] and not other[2]:
        return _line_line(one, other)
    if not one[2]:
        return _line_circle(one, arc_centre(*other), _radius(other))
    if not other[2]:
        return _line_circle(other, arc_centre(*one), _radius(one))
    return _circle_circle(arc_centre(*one), _radius(one), arc_centre(*other), _radius(other))


def _line_line(one: Segment, other: Segment) -> list[Point]:
    (x0, y0), (x1, y1), _ = one
    (x2, y2), (x3, y3), _ = other
    cross = (x1 - x0) * (y3 - y2) - (y1 - y0) * (x3 - x2)
    if cross == 0:
        return []
    share = ((x2 - x0) * (y3 - y2) - (y2 - y0) * (x3 - x2)) / cross
    return [(x0 + share * (x1 - x0), y0 + share * (y1 - y0))]


def _line_circle(line: Segment, centre: Point, radius: float) -> list[Point]:
    (x0, y0), (x1, y1), _ = line
    length = math.dist((x0, y0), (x1, y1))
    ux, uy = (x1 - x0) / length, (y1 - y0) / length
    along = (centre[0] - x0) * ux + (centre[1] - y0) * uy
    foot = (x0 + along * ux, y0 + along * uy)
    square = radius**2 - math.dist(foot, centre) ** 2
    if square < -_EXACT * radius:
        return []
    half = math.sqrt(max(0.0, square))
    return [(foot[0] + s * half * ux, foot[1] + s * half * uy) for s in (-1, 1)]


def _circle_circle(c0: Point, r0: float, c1: Point, r1: float) -> list[Point]:
    apart = math.dist(c0, c1)
    if apart == 0:
        return []
    ux, uy = (c1[0] - c0[0]) / apart, (c1[1] - c0[1]) / apart
    along = (apart**2 + r0**2 - r1**2) / (2 * apart)
    square = r0**2 - along**2
    if square < -_EXACT * r0:
        return []
    half = math.sqrt(max(0.0, square))
    foot = (c0[0] + along * ux, c0[1] + along * uy)
    return [(foot[0] - s * half * uy, foot[1] + s * half * ux) for s in (-1, 1)]


def _on(segment: Segment, point: Point) -> bool:
    """Whether a point of the whole line or circle lies on the segment."""
    share = _share(segment, point)
    length = math.dist(segment[0], segment[1])
    return -_EXACT <= share * length <= length + _EXACT


def _share(segment: Segment, point: Point) -> float:
    """How far along a segment one of its points lies, 0 to 1."""
    (x0, y0), (x1, y1), bulge = segment
    if not bulge:
        square = (x1 - x0) ** 2 + (y1 - y0) ** 2
        return ((point[0] - x0) * (x1 - x0) + (point[1] - y0) * (y1 - y0)) / square
    cx, cy = arc_centre(*segment)
    angle = math.atan2(point[1] - cy, point[0] - cx) - math.atan2(y0 - cy, x0 - cx)
    sweep = arc_angle(bulge)
    turned = math.copysign(1.0, sweep) * angle % (2 * math.pi)
    # Just before the start is not nearly a whole turn after it.
    slack = (2 * math.pi - abs(sweep)) / 2
    return (turned if turned <= abs(sweep) + slack else turned - 2 * math.pi) / abs(sweep)


def _cut_to(segment: Segment, start: Point, end: Point) -> Segment | None:
    """The piece of a segment between two of its points; None if they come the wrong way."""
    first, last = _share(segment, start), _share(segment, end)
    if last <= first:
        return None
    return start, end, arc_bulge((last - first) * arc_angle(segment[2])) if segment[2] else 0.0


def _contour(chain: list[Segment]) -> Contour | None:
    kept = [s for s in chain if s[0] != s[1]]
    if len(kept) < 2:
        return None
    return Contour([a for a, _, _ in kept], [bulge for _, _, bulge in kept])


def _keeps_distance(found: Contour, contour: Contour, distance: float) -> bool:
    """Whether the ends and four points within each segment lie as far away as they should."""
    shares = (0.0, 0.2, 0.4, 0.6, 0.8)
    points = np.array([arc_point(*s, share) for s in _segments(found) for share in shares])
    return bool(np.abs(_distances(points, contour) - distance).max() < 10 * _EXACT)


def _distances(points: FloatArray, contour: Contour) -> FloatArray:
    """Exact distances of points from a contour, in mm."""
    least = np.full(len(points), math.inf)
    for segment in _segments(contour):
        least = np.minimum(least, _from_segment(points, segment))
    return least


def _from_segment(points: FloatArray, segment: Segment) -> FloatArray:
    a, b = np.array(segment[0]), np.array(segment[1])
    to_ends = np.minimum(np.hypot(*(points - a).T), np.hypot(*(points - b).T))
    if not segment[2]:
        share = np.clip((points - a) @ (b - a) / ((b - a) @ (b - a)), 0, 1)
        line: FloatArray = np.hypot(*(points - a - share[:, None] * (b - a)).T)
        return line
    centre, sweep = np.array(arc_centre(*segment)), arc_angle(segment[2])
    spokes = points - centre
    angle = np.arctan2(spokes[:, 1], spokes[:, 0]) - math.atan2(*(a - centre)[::-1])
    faces = math.copysign(1.0, sweep) * angle % (2 * math.pi) <= abs(sweep)
    to_arc: FloatArray = np.where(faces, np.abs(np.hypot(*spokes.T) - _radius(segment)), to_ends)
    return to_arc


def _radius(segment: Segment) -> float:
    return math.dist(segment[0], arc_centre(*segment))


def _grown(contour: Contour, distance: float) -> Contour | None:
    """The same by fine lines; None if the room falls into pieces."""
    ccw = contour.signed_area > 0
    polygon = region(contour, chord=_FINE)
    result = polygon.buffer(-distance if ccw else distance, quad_segs=_QUARTER)
    if not isinstance(result, Polygon) or result.is_empty or result.interiors:
        return None
    ring = shapely.get_coordinates(result.exterior)[:-1]
    found = Contour(ring).oriented(ccw=ccw)
    near = _moved(next(_segments(contour)), distance)
    target = contour.points[0] if near is None else np.array(near[0])
    return found.starting_at(int(np.argmin(np.hypot(*(found.points - target).T))))
