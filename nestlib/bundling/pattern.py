"""Two patterns joined along a straight edge, one kerf apart.

The slot between them has a line in its middle, and the outline runs on from one to the other
over both ends of the slot. What is not cut square there is slid along the slot until the
outline runs straight on. Joins at which the outline would turn inward are refused: a round
beam could not reach into such a corner, and would leave a burr on the part.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely

from nestlib.geometry.arcs import arc_direction
from nestlib.geometry.polygons import region
from nestlib.geometry.transform import cos_sin, moved, turned
from nestlib.model import Contour, Placement
from nestlib.model.contour import FloatArray

#: Edges are parallel, equally long and on one line within this, in mm.
_SAME = 1e-7

#: Sine of an angle below which the outline counts as straight.
_STRAIGHT = 1e-8

#: Turns nearer than this to quarter turns are quarter turns, in degrees.
_NEARLY = 1e-6

#: So many edges of an outline are looked at.
_EDGES = 24

#: Flatter than this, in degrees, no edge meets a shared one: the line would end far outside.
_FLATTEST = 20.0


@dataclass(frozen=True, eq=False)
class Pattern:
    """Pieces a kerf apart, of one part or of several.

    Parameters
    ----------
    members : tuple of Placement
        Where each piece lies, as seen from the pattern's (0, 0).
    outline : Contour
        Around all pieces and the slots between them, counter-clockwise.
    lines : tuple of Contour
        Open: the middle of each slot, from edge to edge of the outline.
    """

    members: tuple[Placement, ...]
    outline: Contour
    lines: tuple[Contour, ...] = ()

    def moved(self, x: float, y: float) -> Pattern:
        """Return the pattern moved by (x, y) mm."""
        members = tuple(replace(m, x=m.x + x, y=m.y + y) for m in self.members)
        lines = tuple(moved(line, x, y) for line in self.lines)
        return Pattern(members, moved(self.outline, x, y), lines)

    def turned(self, degrees: float = 180.0) -> Pattern:
        """Return the pattern turned about its (0, 0), by half a turn if nothing else is said."""
        cos, sin = cos_sin(degrees)
        members = tuple(
            replace(
                m,
                rotation=(m.rotation + degrees) % 360.0 % 360.0,
                x=cos * m.x - sin * m.y,
                y=sin * m.x + cos * m.y,
            )
            for m in self.members
        )
        lines = tuple(turned(line, degrees) for line in self.lines)
        return Pattern(members, turned(self.outline, degrees), lines)

    def from_corner(self) -> Pattern:
        """Return the pattern with its lower left corner at (0, 0)."""
        x0, y0, _, _ = self.outline.bounds
        return self.moved(-x0, -y0)

    def edges(self, least: float) -> list[int]:
        """Return which segments of the outline are straight and at least so long, in mm.

        The longest come first, and no more than 24 of them.
        """
        a, b, bulge = self.outline.segments
        lengths = np.where(bulge == 0, np.hypot(*(b - a).T), 0.0)
        order = np.argsort(-lengths, kind="stable")[:_EDGES]
        return [int(i) for i in order if lengths[i] >= least]


def single(name: str, outer: Contour) -> Pattern:
    """Return the pattern of one piece."""
    return Pattern((Placement(name, 0.0, False, 0.0, 0.0),), outer.oriented(ccw=True))


def facing(one: Pattern, other: Pattern, least: float) -> Iterator[tuple[int, int]]:
    """Yield pairs of edges, equally long, that would face each other if moved together."""
    for i in one.edges(least):
        for j in other.edges(least):
            if face(one, i, other, j):
                yield i, j


def face(one: Pattern, i: int, other: Pattern, j: int) -> bool:
    """Return whether two edges are equally long and run in opposite directions."""
    return bool(np.hypot(*(_way(one.outline, i) + _way(other.outline, j))) <= _SAME)


def facing_turn(one: Pattern, i: int, other: Pattern, j: int) -> float:
    """Return by how many degrees the other has to be turned so that two edges face each other."""
    angles = [math.atan2(y, x) for x, y in (_way(one.outline, i), _way(other.outline, j))]
    turn = (math.degrees(angles[0] - angles[1]) + 180.0) % 360.0
    quarter = 90.0 * round(turn / 90.0)
    return quarter % 360.0 if abs(turn - quarter) < _NEARLY else turn


def joined(
    one: Pattern, i: int, other: Pattern, j: int, kerf: float, apart: float
) -> Pattern | None:
    """Return two patterns joined along an edge of each.

    Parameters
    ----------
    one, other : Pattern
        The second is moved, not turned.
    i, j : int
        Segments of their outlines, equally long and run in opposite directions.
    kerf : float
        Distance of the two edges, in mm.
    apart : float
        What else lies nearer to each other than this, in mm, is no join.

    Returns
    -------
    Pattern, or None
        None if the outline would turn inward, or pieces come too near elsewhere.
    """
    found = [_joined_at(one, i, other, j, kerf, slide) for slide in _slides(one, i, other, j, kerf)]
    kept = [f.whole for f in found if f is not None and _clear(one, f, kerf, apart)]
    # What runs straight on goes on to rows, and few corners are quickly run.
    return min(kept, key=lambda p: (len(p.outline), p.outline.length), default=None)


def reaching(pattern: Pattern, kerf: float) -> tuple[Contour, ...]:
    """Return the lines as the beam runs them: to the middle of the slot around the outline.

    So the slot between two pieces is open at both ends, and nothing but slots is cut.

    Parameters
    ----------
    pattern : Pattern
        With its lines from edge to edge.
    kerf : float
        Width of the slots, in mm.

    Returns
    -------
    tuple of Contour
        One for each line.
    """
    return tuple(_reaching(pattern.outline, line, kerf) for line in pattern.lines)


def _reaching(outline: Contour, line: Contour, kerf: float) -> Contour:
    a, b = line.points
    u = _unit(b - a)
    beyond = [kerf / 2 / abs(_cross(u, _edge_at(outline, end))) for end in (a, b)]
    return Contour([a - beyond[0] * u, b + beyond[1] * u], closed=False)


def _edge_at(outline: Contour, point: FloatArray) -> FloatArray:
    """Direction of the straight segment on which a point lies."""
    a, b, bulge = outline.segments
    ways = b - a
    share = ((point - a) * ways).sum(axis=1) / (ways**2).sum(axis=1)
    apart = np.hypot(*(a + np.clip(share, 0, 1)[:, None] * ways - point).T)
    return _unit(ways[int(np.argmin(np.where(bulge == 0, apart, np.inf)))])


@dataclass(frozen=True, eq=False)
class _Join:
    """A join, the second pattern where it lies in it, and the line between the two."""

    whole: Pattern
    there: Pattern
    line: Contour


def _way(outline: Contour, i: int) -> FloatArray:
    """From start to end of a segment."""
    n = len(outline)
    way: FloatArray = outline.points[(i + 1) % n] - outline.points[i]
    return way


def _unit(way: FloatArray) -> FloatArray:
    return np.asarray(way / math.hypot(*way))


def _cross(one: FloatArray, other: FloatArray) -> float:
    return float(one[0] * other[1] - one[1] * other[0])


def _beside(outline: Contour, i: int) -> tuple[FloatArray, FloatArray]:
    """Directions in which the outline arrives at a segment and leaves it."""
    a, b, bulge = outline.segments
    before, after = i - 1, (i + 1) % len(outline)
    arrives = arc_direction(a[before], b[before], float(bulge[before]), 1.0)
    leaves = arc_direction(a[after], b[after], float(bulge[after]), 0.0)
    return np.array(arrives), np.array(leaves)


def _slides(one: Pattern, i: int, other: Pattern, j: int, kerf: float) -> list[float]:
    """How far the second may be slid along the first: not at all, or to run straight on."""
    u = _unit(_way(one.outline, i))
    out = np.array([u[1], -u[0]])
    slides = [0.0]
    for d in (*_beside(one.outline, i), *_beside(other.outline, j)):
        steep = float(d @ out)
        if abs(steep) > math.sin(math.radians(_FLATTEST)):
            slides.append(kerf * float(d @ u) / steep)
    return list({round(s / _SAME): s for s in slides}.values())


def _joined_at(
    one: Pattern, i: int, other: Pattern, j: int, kerf: float, slide: float
) -> _Join | None:
    """The join at one place; None if the outline turns inward, or lines end within it."""
    u = _unit(_way(one.outline, i))
    n, m = len(one.outline), len(other.outline)
    start, end = one.outline.points[i], one.outline.points[(i + 1) % n]
    target = end + kerf * np.array([u[1], -u[0]]) + slide * u
    there = other.moved(*(target - other.outline.points[j]))
    first, second = (
        c.starting_at((k + 1) % len(c)) for c, k in ((one.outline, i), (there.outline, j))
    )
    points = np.concatenate([first.points, second.points])
    # The edges that face each other make room for the ways over the ends of the slot.
    bulges = np.concatenate([first.bulges, second.bulges])
    outline = Contour(points, bulges)
    if min(_turn(outline, k) for k in (n - 1, n, n + m - 1, 0)) < -_STRAIGHT:
        return None
    line = Contour(
        [
            (start + there.outline.points[(j + 1) % m]) / 2,
            (end + there.outline.points[j]) / 2,
        ],
        closed=False,
    )
    lines = _merged([*one.lines, *there.lines, line], kerf)
    whole = Pattern((*one.members, *there.members), _without_straight(outline), lines)
    return _Join(whole, there, line) if _end_outside(whole) else None


def _turn(outline: Contour, vertex: int) -> float:
    """Sine of the turn to the left at a vertex; -1 where it turns back."""
    a, b, bulge = outline.segments
    arrives = np.array(arc_direction(a[vertex - 1], b[vertex - 1], float(bulge[vertex - 1]), 1.0))
    leaves = np.array(arc_direction(a[vertex], b[vertex], float(bulge[vertex]), 0.0))
    sine = _cross(arrives, leaves)
    return sine if abs(sine) > _STRAIGHT or arrives @ leaves > 0 else -1.0


def _without_straight(outline: Contour) -> Contour:
    """Without the vertices at which the outline runs straight on."""
    keep = [
        k
        for k in range(len(outline))
        if outline.bulges[k] or outline.bulges[k - 1] or abs(_turn(outline, k)) > _STRAIGHT
    ]
    return Contour(outline.points[keep], outline.bulges[keep])


def _merged(lines: Sequence[Contour], kerf: float) -> tuple[Contour, ...]:
    """Lines that go on across another slot are one."""
    found = [line.points for line in lines]
    for k in range(len(found)):
        for m in range(k + 1, len(found)):
            one = _one_line(found[k], found[m], kerf)
            if one is not None:
                rest = [line for n, line in enumerate(found) if n not in (k, m)]
                return _merged([Contour(p, closed=False) for p in (*rest, one)], kerf)
    return tuple(Contour(p, closed=False) for p in found)


def _one_line(one: FloatArray, other: FloatArray, kerf: float) -> FloatArray | None:
    """The line from end to end of two that follow each other; None if they do not."""
    for a, b in ((one, other), (one, other[::-1]), (one[::-1], other), (one[::-1], other[::-1])):
        u = _unit(a[1] - a[0])
        gap = b[0] - a[1]
        bent = abs(_cross(u, b[1] - b[0])) + abs(_cross(u, gap))
        if bent <= _SAME and 0 < gap @ u <= 2 * kerf and (b[1] - b[0]) @ u > 0:
            return np.array([a[0], b[1]])
    return None


def _end_outside(pattern: Pattern) -> bool:
    """Whether both ends of each line lie on the outline."""
    edge = region(pattern.outline).exterior
    ends = shapely.points(np.concatenate([line.points for line in pattern.lines]))
    return bool((shapely.distance(edge, ends) <= 1e-6).all())


def _clear(one: Pattern, join: _Join, kerf: float, apart: float) -> bool:
    """Whether the two come near each other along their slot only."""
    a, b = region(one.outline), region(join.there.outline)
    slot = shapely.LineString(join.line.points).buffer(apart + kerf)
    rest = a.difference(slot)
    exact = abs(a.distance(b) - kerf) <= 10 * _SAME
    return bool(exact and (rest.is_empty or rest.distance(b) >= apart - _SAME))
