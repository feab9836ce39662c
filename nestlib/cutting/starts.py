"""Where a contour may be entered, and the same contour entered there."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from nestlib.geometry.along import Along
from nestlib.geometry.arcs import arc_angle, arc_bulge, arc_direction, arc_point
from nestlib.model.contour import Contour, FloatArray

#: A vertex where the direction changes by less than this is no corner, in degrees.
_CORNER = 20.0

#: No contour needs more places to begin than this.
_MOST = 60

#: Places on a circle.
_ON_CIRCLE = 12

#: Places spread over a contour, and the least distance between them, in mm.
_SPREAD, _APART = 48, 4.0

#: Says of directions of travel in radians whether they are those of critical edges.
Critical = Callable[[FloatArray], NDArray[np.bool_]]


@dataclass(frozen=True)
class Start:
    """A place on a closed contour with the waste to its left.

    Parameters
    ----------
    segment : int
        The segment that it lies on.
    share : float
        How far along that segment, 0 to below 1.
    x, y : float
        Where it is, in mm.
    direction : float
        Direction of travel on leaving it, in radians.
    waste : float
        Angle in radians from that direction, counter-clockwise through the waste, to the
        metal that is reached in the end: π on a smooth line, 3π/2 at a square corner of
        the outside.
    """

    segment: int
    share: float
    x: float
    y: float
    direction: float
    waste: float

    @property
    def smooth(self) -> bool:
        """Whether the contour runs on here without a corner."""
        return abs(math.degrees(self.waste) - 180) < _CORNER


def entered_at(contour: Contour, segment: int, share: float) -> Contour:
    """Return the same closed curve, entered at a place of one of its segments.

    Parameters
    ----------
    contour : Contour
        Closed.
    segment : int
        The segment that holds the place.
    share : float
        How far along it, 0 to below 1. A segment entered between its ends is split, an
        arc into two arcs of the same circle; a circle stays two semicircles.

    Returns
    -------
    Contour

    Examples
    --------
    >>> entered_at(Contour.rectangle(4, 2), 0, 0.5).points[0].tolist()
    [2.0, 0.0]
    """
    if share == 0:
        return contour.starting_at(segment)
    starts, ends, bulges = contour.segments
    place = np.array(arc_point(starts[segment], ends[segment], bulges[segment], share))
    if contour.is_circle:
        return Contour([place, starts[0] + ends[0] - place], contour.bulges)
    rest = contour.starting_at((segment + 1) % len(contour))
    angle = arc_angle(float(bulges[segment]))
    split = arc_bulge((1 - share) * angle), arc_bulge(share * angle)
    return Contour([place, *rest.points], [split[0], *rest.bulges[:-1], split[1]])


def beyond(contour: Contour, over: float) -> Start:
    """Return the place so many mm along a closed contour, from its first vertex."""
    if over == 0:
        return _corner(contour, 0)
    along = Along(contour)
    segment = int(along.segment(np.array([over]))[0])
    share = (over - along.marks[segment]) / along.lengths[segment]
    return _middle(along.contour, segment, float(share))


def ranks(
    places: Sequence[Start], start_at: str, critical: Critical | None = None
) -> tuple[NDArray[np.intp], NDArray[np.bool_]]:
    """Return how good places are, 0 the best to 2, and whether an edge there is critical.

    Parameters
    ----------
    places : sequence of Start
        On one contour.
    start_at : str
        As `Entry.start_at`.
    critical : callable, optional
        Says which directions of travel are those of critical edges.
    """
    corner, smooth = {"corner": (0, 1), "mid-edge": (1, 0), "anywhere": (0, 0)}[start_at]
    outstanding = [p.waste > math.pi for p in places]
    rank = np.where([p.smooth for p in places], smooth, np.where(outstanding, corner, 2))
    if critical is None:
        return rank, np.zeros(len(places), dtype=np.bool_)
    leaving = np.array([p.direction for p in places])
    arriving = leaving - math.pi + [p.waste for p in places]
    return rank, critical(leaving) | critical(arriving)


def preferred(contour: Contour, start_at: str, critical: Critical | None = None) -> list[Start]:
    """Return the places at which a contour is best entered; parameters as in `ranks`."""
    places = starts(contour, spread=start_at == "anywhere")
    rank, edge = ranks(places, start_at, critical)
    score = rank + 3 * edge
    return [p for p, s in zip(places, score.tolist(), strict=True) if s == score.min()]


def starts(contour: Contour, *, spread: bool = False) -> list[Start]:
    """Return the places where a contour may be entered, the usual ones first.

    These are the corners that stand out into the waste, the middles of the segments from
    the longest to the shortest, and only then the other corners. A lead that ends at an
    outstanding corner leaves no dent in an edge.

    Parameters
    ----------
    contour : Contour
        Closed, with the waste to its left.
    spread : bool
        Whether places spread all over it are wanted, too.

    Returns
    -------
    list of Start
        60 at most, and 48 more if they are to be spread.
    """
    if spread:
        return [*_usual(contour), *_spread(contour)]
    return _usual(contour)


def _spread(contour: Contour) -> list[Start]:
    """Places at equal distances, at vertices none."""
    along = Along(contour)
    whole = float(along.marks[-1])
    n = max(1, min(_SPREAD, int(whole / _APART)))
    at = (np.arange(n) + 0.5) * whole / n
    rows = zip(along.segment(at).tolist(), at.tolist(), strict=True)
    shares = [(i, (a - float(along.marks[i])) / float(along.lengths[i])) for i, a in rows]
    return [_middle(contour, i, share) for i, share in shares if 0.02 < share < 0.98]


def _usual(contour: Contour) -> list[Start]:
    if contour.is_circle:
        per_half = _ON_CIRCLE // 2
        return [_middle(contour, s, k / per_half) for s in (0, 1) for k in range(per_half)]
    corners = [_corner(contour, i) for i in range(len(contour))]
    outstanding = [c for c in corners if c.waste > math.pi and not c.smooth]
    others = [c for c in corners if c.waste <= math.pi or c.smooth]
    middles = [_middle(contour, s, 0.5) for s in _longest_first(contour)]
    third = _MOST // 3
    return (_thinned(outstanding, third) + middles[:third] + _thinned(others, third))[:_MOST]


def _longest_first(contour: Contour) -> list[int]:
    a, b, bulge = contour.segments
    lengths = np.hypot(*(b - a).T) * (1 + bulge**2)  # good enough to rank by
    return [int(i) for i in np.argsort(-lengths, kind="stable")]


def _thinned(found: list[Start], most: int) -> list[Start]:
    """Evenly chosen ones, `most` at most."""
    step = max(1, math.ceil(len(found) / most))
    return found[::step]


def _corner(contour: Contour, vertex: int) -> Start:
    a, b, bulge = contour.segments
    x, y = contour.points[vertex]
    arriving = _heading(arc_direction(a[vertex - 1], b[vertex - 1], float(bulge[vertex - 1]), 1.0))
    leaving = _heading(arc_direction(a[vertex], b[vertex], float(bulge[vertex]), 0.0))
    # Turning right leaves more than half a turn of waste on the left.
    turn = math.remainder(leaving - arriving, 2 * math.pi)
    return Start(vertex, 0.0, float(x), float(y), leaving, math.pi - turn)


def _middle(contour: Contour, segment: int, share: float) -> Start:
    a, b, bulge = (values[segment] for values in contour.segments)
    x, y = arc_point(a, b, float(bulge), share)
    heading = _heading(arc_direction(a, b, float(bulge), share))
    return Start(segment, share, x, y, heading, math.pi)


def _heading(direction: tuple[float, float]) -> float:
    return math.atan2(direction[1], direction[0])
