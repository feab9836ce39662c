"""Two patterns joined along a straight edge of each, one kerf apart.

The slot between them has a line in its middle. Where both edges end, the outline runs on from
one pattern to the other over the end of the slot; what is not cut square there is slid along
the slot until the outline runs straight on. If it would turn inward there, it is no join: a
round beam could not reach into the notch between the two, and would leave a burr on both.

Where only one edge ends and the other runs on, the outline turns inward too, from the side of
the one into the edge of the other. A round beam does not reach into that corner either, but
the line does: it lies as far from the edge as the way around does there, and runs on to the
middle of it. What the way around leaves in the corner is within the slot of the line.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import shapely

from nestlib.bundling.pattern import Pattern, cross, unit
from nestlib.geometry.arcs import arc_direction
from nestlib.geometry.polygons import region
from nestlib.geometry.transform import turned
from nestlib.model import Contour
from nestlib.model.contour import FloatArray

#: Edges are parallel, equally long and on one line within this, in mm.
_SAME = 1e-7

#: Sine of an angle below which the outline counts as straight.
_STRAIGHT = 1e-8

#: Turns nearer than this to quarter turns are quarter turns, in degrees.
_NEARLY = 1e-6

#: Flatter than this, in degrees, no edge meets a shared one: the line would end far outside.
_FLATTEST = 20.0

#: An edge that runs on beyond the other does so for as many kerfs at least.
_RUNS_ON = 4.0


def facing(one: Pattern, other: Pattern, least: float) -> Iterator[tuple[int, int]]:
    """Yield pairs of edges, equally long, that would face each other if moved together."""
    for i in one.edges(least):
        way = one.way(i)
        for j in other.edges(least):
            if np.hypot(*(way + other.way(j))) <= _SAME:
                yield i, j


def facing_turn(one: Pattern, i: int, other: Pattern, j: int) -> float:
    """Return by how many degrees the other has to be turned so that two edges face each other."""
    angles = [math.atan2(y, x) for x, y in (one.way(i), other.way(j))]
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
        Segments of their outlines, run in opposite directions.
    kerf : float
        Distance of the two edges, in mm.
    apart : float
        What else lies nearer to each other than this, in mm, is no join.

    Returns
    -------
    Pattern, or None
        None if the edges are not parallel, if the outline would turn inward other than into
        an edge that runs on, or if pieces come too near elsewhere.
    """
    edge, opposite = one.way(i), other.way(j)
    if abs(cross(unit(edge), opposite)) > _SAME or edge @ opposite > 0:
        return None
    found = [_joined_at(one, i, other, j, kerf, slide) for slide in _slides(one, i, other, j, kerf)]
    kept = [f.whole for f in found if f is not None and _clear(one, f, kerf, apart)]
    # What runs straight on goes on to rows, and few corners are quickly run.
    return min(kept, key=lambda p: (len(p.outline), p.outline.length), default=None)


@dataclass(frozen=True, eq=False)
class _Join:
    """A join, the second pattern where it lies in it, and the line between the two."""

    whole: Pattern
    there: Pattern
    line: Contour


def _beside(outline: Contour, i: int) -> tuple[FloatArray, FloatArray]:
    """Directions in which the outline arrives at a segment and leaves it."""
    a, b, bulge = outline.segments
    before, after = i - 1, (i + 1) % len(outline)
    arrives = arc_direction(a[before], b[before], float(bulge[before]), 1.0)
    leaves = arc_direction(a[after], b[after], float(bulge[after]), 0.0)
    return np.array(arrives), np.array(leaves)


def _right_of(u: FloatArray) -> FloatArray:
    return np.array([u[1], -u[0]])


def _slides(one: Pattern, i: int, other: Pattern, j: int, kerf: float) -> list[float]:
    """How far the second may be slid along the first: not at all, or to run straight on.

    At the end of the first one's edge, or at its start.
    """
    u = unit(one.way(i))
    out = _right_of(u)
    slides = [0.0]
    for d in (*_beside(one.outline, i), *_beside(other.outline, j)):
        if abs(float(d @ out)) > math.sin(math.radians(_FLATTEST)):
            slides.append(kerf * float(d @ u) / float(d @ out))
    longer = math.hypot(*other.way(j)) - math.hypot(*one.way(i))
    slides += [slide + longer for slide in slides]
    return list({round(s / _SAME): s for s in slides}.values())


@dataclass(frozen=True, eq=False)
class _End:
    """One end of a slot.

    Parameters
    ----------
    corners : FloatArray, shape (2, 2)
        Where the edges end, of the first pattern and of the second.
    sides : tuple of FloatArray
        Directions of the sides there, towards the slot.
    out : FloatArray
        From the first edge to the second, a unit.
    beyond : FloatArray
        Along the slot, away from its middle, a unit.
    """

    corners: FloatArray
    sides: tuple[FloatArray, FloatArray]
    out: FloatArray
    beyond: FloatArray

    @property
    def ahead(self) -> float:
        """How far the first edge runs on beyond the end of the second, in mm."""
        return float((self.corners[0] - self.corners[1]) @ self.beyond)

    def together(self, kerf: float) -> bool:
        """Whether both edges end here."""
        return abs(self.ahead) < _RUNS_ON * kerf

    def foot(self, kerf: float) -> FloatArray | None:
        """Where the side of the one meets the edge of the other, which runs on; if it does."""
        ends = 1 if self.ahead > 0 else 0
        side = self.sides[ends]
        steep = float(side @ self.out) * (1 - 2 * ends)
        if steep < math.sin(math.radians(_FLATTEST)):
            return None
        foot: FloatArray = self.corners[ends] + kerf / steep * side
        beyond = float((self.corners[1 - ends] - foot) @ self.beyond)
        return foot if beyond >= _RUNS_ON * kerf else None

    def middle(self, foot: FloatArray | None) -> FloatArray:
        """Where the middle of the slot leaves the outline."""
        if foot is None:
            return np.asarray(self.corners.mean(axis=0))
        return np.asarray((foot + self.corners[1 if self.ahead > 0 else 0]) / 2)


def _joined_at(
    one: Pattern, i: int, other: Pattern, j: int, kerf: float, slide: float
) -> _Join | None:
    """The join at one place; None if the outline turns inward, or lines end within it."""
    u = unit(one.way(i))
    target = one.outline.points[(i + 1) % len(one.outline)] + kerf * _right_of(u) + slide * u
    there = other.moved(*(target - other.outline.points[j]))
    ends = _ends(one.outline, i, there.outline, j)
    feet = [None if end.together(kerf) else end.foot(kerf) for end in ends]
    if any(f is None and not end.together(kerf) for f, end in zip(feet, ends, strict=True)):
        return None
    outline = _around(one.outline, i, there.outline, j, feet)
    if outline is None:
        return None
    middles = [end.middle(foot) for end, foot in zip(ends, feet, strict=True)]
    line = Contour(middles, closed=False)
    lines = _merged([*one.lines, *there.lines, line], kerf)
    whole = Pattern((*one.members, *there.members), _without_straight(outline), lines)
    return _Join(whole, there, line) if _end_outside(whole) else None


def _ends(one: Contour, i: int, other: Contour, j: int) -> tuple[_End, _End]:
    """The ends of the slot where the first edge starts and where it ends."""
    a, b, _ = one.segments
    c, d, _ = other.segments
    u = unit(b[i] - a[i])
    (arrives, leaves), (comes, goes) = _beside(one, i), _beside(other, j)
    return (
        _End(np.array([a[i], d[j]]), (arrives, -goes), _right_of(u), -u),
        _End(np.array([b[i], c[j]]), (-leaves, comes), _right_of(u), u),
    )


def _around(
    one: Contour, i: int, other: Contour, j: int, feet: Sequence[FloatArray | None]
) -> Contour | None:
    """The outline of both, over the ends of the slot or by the corners there."""
    # The edges that face each other make room for the ways over the ends of the slot.
    first, second = one.starting_at((i + 1) % len(one)), other.starting_at((j + 1) % len(other))
    at_start, at_end = (np.reshape([] if foot is None else foot, (-1, 2)) for foot in feet)
    points = np.concatenate([first.points, at_start, second.points, at_end])
    bulges = [first.bulges, np.zeros(len(at_start)), second.bulges, np.zeros(len(at_end))]
    outline = Contour(points, np.concatenate(bulges))
    begins = len(first) + len(at_start)
    over = [] if len(at_start) else [begins - 1, begins]
    over += [] if len(at_end) else [len(outline) - 1, 0]
    inward = any(_turn(outline, vertex) < -_STRAIGHT for vertex in over)
    return None if inward else outline


def _turn(outline: Contour, vertex: int) -> float:
    """Sine of the turn to the left at a vertex; -1 where it turns back."""
    a, b, bulge = outline.segments
    arrives = np.array(arc_direction(a[vertex - 1], b[vertex - 1], float(bulge[vertex - 1]), 1.0))
    leaves = np.array(arc_direction(a[vertex], b[vertex], float(bulge[vertex]), 0.0))
    sine = cross(arrives, leaves)
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
        u = unit(a[1] - a[0])
        gap = b[0] - a[1]
        bent = abs(cross(u, b[1] - b[0])) + abs(cross(u, gap))
        if bent <= _SAME and 0 < gap @ u <= 2 * kerf and (b[1] - b[0]) @ u > 0:
            return np.array([a[0], b[1]])
    return None


def _end_outside(pattern: Pattern) -> bool:
    """Whether both ends of each line lie on the outline."""
    edge = region(pattern.outline).exterior
    ends = shapely.points(np.concatenate([line.points for line in pattern.lines]))
    return bool((shapely.distance(edge, ends) <= 1e-6).all())


def _clear(one: Pattern, join: _Join, kerf: float, apart: float) -> bool:
    """Whether the two lie on both sides of their slot, and near each other along it only."""
    if not _parted(one.outline, join.there.outline, join.line):
        return False
    a, b = region(one.outline), region(join.there.outline)
    slot = shapely.LineString(join.line.points).buffer(apart + kerf)
    rest = a.difference(slot)
    exact = abs(a.distance(b) - kerf) <= 10 * _SAME
    return bool(exact and (rest.is_empty or rest.distance(b) >= apart - _SAME))


def _parted(one: Contour, other: Contour, line: Contour) -> bool:
    """Whether a line, run on at both ends, has the one on its left and the other on its right."""
    x, y = line.points[1] - line.points[0]
    lying = [turned(c, -math.degrees(math.atan2(y, x))).bounds for c in (one, line, other)]
    # Lowest of the one, the line, highest of the other, with the line lying along x.
    (_, above, _, _), (_, middle, _, _), (_, _, _, below) = lying
    return bool(below < middle < above)
