"""Micro-joints: where a contour is left uncut, so that what it frees stays in the sheet.

Number and width grow with the thickness: 0.2 to 1 mm wide (common practice, no source).
They lie on straight edges where there are enough of these, else on smooth arcs; never in
or beside a corner, where the slot is widest, and never beside the start of the cut.

Three joints carry a piece as three supports do: its centre of mass has to lie inside
their triangle, and the further inside, the smaller the greatest force on any of them.
So the three that keep it furthest from the sides of their triangle are taken.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from functools import cache
from itertools import combinations, pairwise

import numpy as np
from numpy.typing import NDArray

from nestlib.geometry.along import Along
from nestlib.geometry.transform import cos_sin
from nestlib.model.contour import FloatArray
from nestlib.model.layout import Joint, Placement

#: Where the direction changes by more than this, a contour has a corner, in degrees.
CORNER = 20.0

#: A joint ends this far from a corner and from the start of the cut at least, in mm, and
#: no nearer than it is long.
FROM_CORNER, FROM_START = 1.0, 2.0

#: At both ends of so many edges, and at so many more places along them, joints are weighed.
_EDGES, _PLACES = 8, 16

#: Narrowest and widest, and what is added for each mm of thickness.
_NARROWEST, _WIDEST, _PER_THICKNESS = 0.2, 1.0, 0.1

#: Thicker sheets, and longer contours, get a fourth joint, in mm.
_THICK, _LONG = 4.0, 1500.0

#: Sine of the angle by which an edge may face away from a side and still belong to it.
_FACING = math.sin(math.radians(45.0)) - 1e-9

_SIDES = {"right": (1.0, 0.0), "top": (0.0, 1.0), "left": (-1.0, 0.0), "bottom": (0.0, -1.0)}

Intervals = list[tuple[float, float]]


def joint_width(thickness: float) -> float:
    """Return the metal that a joint leaves by default, in mm.

    Examples
    --------
    >>> round(joint_width(1.5), 3), joint_width(12)
    (0.35, 1.0)
    """
    return min(_WIDEST, max(_NARROWEST, _NARROWEST + _PER_THICKNESS * thickness))


def joints_wanted(thickness: float, length: float) -> int:
    """Return how many joints hold a contour of some length, in mm."""
    return 3 + (thickness > _THICK) + (length > _LONG)


def place_joints(
    along: Along,
    centre: tuple[float, float],
    number: int,
    width: float,
    kerf: float,
    critical: Critical | None = None,
    ends: tuple[float, float] = (0.0, 0.0),
) -> tuple[Joint, ...]:
    """Return the joints of a contour, in cutting direction.

    Parameters
    ----------
    along : Along
        The contour, from the start of its cut.
    centre : (float, float)
        Centre of mass of what it frees.
    number : int
        How many are wanted.
    width : float
        Metal left in each, in mm.
    kerf : float
        Width of the slot; the beam is off for ``width + kerf``.
    critical : Critical, optional
        Says which directions of travel are those of edges that carry none.
    ends : (float, float)
        How far behind its start the contour is cut twice, and how far before it not at all.

    Returns
    -------
    tuple of Joint
        Fewer, or none, if there is no room.
    """
    gap = width + kerf
    straight, smooth = (
        _off_start(along, found(along, gap), gap, ends) for found in (_straight, _smooth)
    )
    places, points = _places(along, straight, critical)
    margin, best = _best_three(points, centre)
    if margin <= 0:
        places, points = _places(along, [*straight, *smooth], critical)
        _, best = _best_three(points, centre)
    chosen = _with_more(points, best, number)
    apart = _apart(sorted(places[i] for i in chosen), gap)
    return tuple(Joint(float(at), width, gap) for at in apart)


def held(along: Along, joints: Sequence[Joint], centre: tuple[float, float]) -> bool:
    """Return whether a centre of mass lies inside the polygon of the joints."""
    if len(joints) < 3:
        return False
    points, _ = along.places(np.array([j.at for j in joints]))
    return _margin(points[_around(points, centre)], centre) > 0


class Critical:
    """Which edges of a placed outer contour carry no joint.

    Parameters
    ----------
    sides : iterable of str
        As in `Part.critical`.
    placement : Placement
        How the piece lies.
    """

    def __init__(self, sides: Iterable[str], placement: Placement) -> None:
        self._faces = np.array([_SIDES[s] for s in sides if s in _SIDES]).reshape(-1, 2)
        self._placement = placement

    def __call__(self, headings: FloatArray) -> NDArray[np.bool_]:
        """Return for each direction of travel in radians, metal to the right, whether it is."""
        # The outside is to the left of the travel; as drawn, before the turn and the flip.
        cos, sin = cos_sin(self._placement.rotation)
        x, y = -np.sin(headings), np.cos(headings)
        x, y = cos * x + sin * y, cos * y - sin * x
        x = -x if self._placement.flip else x
        return np.asarray((np.stack([x, y], axis=1) @ self._faces.T >= _FACING).any(axis=1))


def _corners(along: Along) -> NDArray[np.bool_]:
    """Whether there is a corner where each segment begins."""
    return np.abs(along.turns) > math.radians(CORNER)


def _straight(along: Along, gap: float) -> Intervals:
    """Where the middle of a joint may lie so that all of it lies on one straight edge."""
    corner = _corners(along)
    leave = gap / 2 + max(gap, FROM_CORNER)
    found = []
    for i in np.flatnonzero((along.angles == 0) & (along.lengths > gap)):
        first = along.marks[i] + (leave if corner[i] else gap / 2)
        last = along.marks[i + 1] - (leave if corner[(i + 1) % len(corner)] else gap / 2)
        found.append((first, last))
    return found


def _smooth(along: Along, gap: float) -> Intervals:
    """Where it may lie between corners, whatever the curve."""
    leave = gap / 2 + max(gap, FROM_CORNER)
    corners = along.marks[:-1][_corners(along)].tolist()
    whole = along.marks[-1]
    # The start is left anyway, so nothing has to go across it.
    bounds = [0.0, *[c for c in corners if c > 0], whole]
    found = []
    for a, b in pairwise(bounds):
        found.append((a + leave, b - leave))
    return found


def _off_start(along: Along, found: Intervals, gap: float, ends: tuple[float, float]) -> Intervals:
    leave = gap / 2 + max(gap, FROM_START)
    first, last = leave + ends[0], along.marks[-1] - leave - ends[1]
    cut = [(max(a, first), min(b, last)) for a, b in found]
    return [(float(a), float(b)) for a, b in cut if a <= b]


def _places(
    along: Along, intervals: Intervals, critical: Critical | None
) -> tuple[FloatArray, FloatArray]:
    """Places along the contour, spread over what is allowed, and the points there."""
    places = np.unique(list(_spread(intervals)))
    if not len(places):
        return places, np.zeros((0, 2))
    points, headings = along.places(places)
    if critical is not None:
        free = ~critical(headings)
        return places[free], points[free]
    return places, points


def _spread(intervals: Intervals) -> Iterator[float]:
    """Both ends of each interval and, of long ones, places between."""
    longest = sorted(intervals, key=lambda i: i[0] - i[1])[:_EDGES]
    room = sum(b - a for a, b in longest)
    for a, b in longest:
        yield from np.linspace(a, b, 2 + (int(_PLACES * (b - a) / room) if room else 0)).tolist()


def _best_three(points: FloatArray, centre: tuple[float, float]) -> tuple[float, list[int]]:
    """How far inside a centre lies of the best three points, in mm, and their indices.

    All indices, and no good margin, if there are fewer than three.
    """
    if len(points) < 3:
        return -math.inf, list(range(len(points)))
    order = _around(points, centre)
    triples = order[_triples(len(order))]
    margins = _margins(points[triples], centre)
    best = int(np.argmax(margins))
    return float(margins[best]), triples[best].tolist()


def _with_more(points: FloatArray, chosen: list[int], number: int) -> list[int]:
    """The chosen and, up to a number, those that lie furthest from all of them."""
    chosen = chosen[:number]
    while len(chosen) < min(number, len(points)):
        gaps = np.hypot(*(points[:, None] - points[chosen]).T).min(axis=0)
        chosen.append(int(np.argmax(gaps)))
    return chosen


@cache
def _triples(n: int) -> NDArray[np.intp]:
    return np.array(list(combinations(range(n), 3)), dtype=np.intp).reshape(-1, 3)


def _around(points: FloatArray, centre: tuple[float, float]) -> NDArray[np.intp]:
    """Indices of points, counter-clockwise about a centre."""
    away = points - centre
    return np.argsort(np.arctan2(away[:, 1], away[:, 0]), kind="stable")


def _margins(triangles: FloatArray, centre: tuple[float, float]) -> FloatArray:
    """How far inside of triangles (n, 3, 2), run ccw about it, a centre lies, in mm."""
    sides = np.roll(triangles, -1, axis=1) - triangles
    away = np.asarray(centre) - triangles
    cross = sides[..., 0] * away[..., 1] - sides[..., 1] * away[..., 0]
    length = np.hypot(sides[..., 0], sides[..., 1])
    return np.asarray((cross / np.where(length, length, 1.0)).min(axis=1))


def _margin(polygon: FloatArray, centre: tuple[float, float]) -> float:
    return float(_margins(polygon[None], centre)[0])


def _apart(places: Sequence[float], gap: float) -> list[float]:
    """Without those that would run into the one before."""
    kept: list[float] = []
    for at in places:
        if not kept or at - kept[-1] >= 2 * gap:
            kept.append(at)
    return kept
