"""Leads: from the pierce point, in the waste, to the place where a contour is entered.

Piercing leaves a blob that is wider than the slot, so it is done in the waste. Lengths,
directions and preferences are our own simple rules; common practice, no source.

Terms
-----
straight lead
    A line that meets a corner or an edge at an angle.
arc lead
    A quarter of a circle that runs into a smooth contour along its tangent.
heart
    The middle of the largest circle that fits into a hole; small holes are pierced there.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import shapely

from nestlib.cutting.starts import Start, starts
from nestlib.cutting.surroundings import Surroundings
from nestlib.geometry.arcs import arc_bulge
from nestlib.geometry.polygons import region
from nestlib.model.contour import Contour, FloatArray

#: Shares of the usual length that are tried.
_SHARES = np.array([1.0, 0.7, 0.45, 0.3, 0.2])

#: Where in the waste's angle a straight lead may arrive: at a corner, and at an edge,
#: where leaning back against the travel is better than leaning forward.
_AT_CORNER = np.array([0.5, 0.65, 0.35])
_AT_EDGE = np.array([0.5, 0.65, 0.8])

_QUARTER = arc_bulge(math.pi / 2)

# What is second best counts like so many mm of rapid.
_EDGE = 10.0
_INWARD_CORNER = 40.0
_STRAIGHT_AT_EDGE = 15.0
_ODD_ANGLE = np.array([0.0, 3.0, 6.0])
_SHORTENED = 60.0
_RAPID = 0.1
_WANTED = 0.5
_HEART = -100.0

#: How many leads are checked at once: one of the cheapest is free nearly always.
_FIRST_BATCH, _BATCH = 6, 40


@dataclass(frozen=True)
class Lead:
    """Where a contour is entered, and how.

    Parameters
    ----------
    start : Start
        The place on the contour.
    path : Contour, or None
        Open, from the pierce point to the start; None if there is no room for it.
    """

    start: Start
    path: Contour | None


@dataclass(frozen=True, eq=False)
class _Choices:
    """Leads that might be taken: pierce points (n, 2), bulges, starts and costs (n,)."""

    pierces: FloatArray
    bulges: FloatArray
    starts: FloatArray
    costs: FloatArray

    def by_cost(self) -> Iterator[_Choices]:
        """The cheapest first, a batch at a time."""
        order = np.argsort(self.costs, kind="stable")
        order = order[np.isfinite(self.costs[order])]
        yield self[order[:_FIRST_BATCH]]
        for first in range(_FIRST_BATCH, len(order), _BATCH):
            yield self[order[first : first + _BATCH]]

    def __getitem__(self, which: np.ndarray[tuple[int], np.dtype[np.intp]]) -> _Choices:
        return _Choices(
            self.pierces[which], self.bulges[which], self.starts[which], self.costs[which]
        )


def usual_length(thickness: float, kerf: float) -> float:
    """Return the length in mm of a lead that has all the room it wants.

    Examples
    --------
    >>> usual_length(4.0, 0.2)
    6.2
    """
    return max(3.0, 1.5 * thickness) + kerf


def choose_lead(
    contour: Contour,
    own: int,
    surroundings: Surroundings,
    length: float,
    head: tuple[float, float] = (0.0, 0.0),
    *,
    hole: bool = False,
    wanted: tuple[float, float] | None = None,
) -> Lead:
    """Return the best lead that touches no part.

    Parameters
    ----------
    contour : Contour
        Closed, run through with the waste on the left.
    own : int
        Which of the pieces in the surroundings it belongs to.
    surroundings : Surroundings
        What the lead has to keep away from.
    length : float
        Its usual length in mm; it becomes shorter where room is scarce.
    head : (float, float)
        Where the head comes from.
    hole : bool
        Whether the contour is a hole, which is pierced in its heart if it is small.
    wanted : (float, float), optional
        Where the order of the cuts wants the contour entered, in mm; it is, or nearby, if
        a lead fits there.

    Returns
    -------
    Lead
        Without a path if no lead fits.
    """
    places = starts(contour)
    for batch in _choices(contour, places, length, head, hole, wanted).by_cost():
        lines = _sampled(batch, places)
        free = np.flatnonzero(surroundings.free(lines, own))
        if len(free):
            best = int(free[0])
            surroundings.take(lines[best])
            start = places[int(batch.starts[best])]
            ends = [batch.pierces[best], (start.x, start.y)]
            return Lead(start, Contour(ends, [batch.bulges[best], 0.0], closed=False))
    return Lead(places[0], None)


def _choices(
    contour: Contour,
    places: Sequence[Start],
    length: float,
    head: tuple[float, float],
    hole: bool,
    wanted: tuple[float, float] | None,
) -> _Choices:
    """Every lead to every place, with its cost."""
    heart, radius = _heart(contour, length) if hole else ((0.0, 0.0), math.inf)
    lengths = length * _SHARES
    if radius < length:
        lengths = np.append(lengths[lengths < 1.5 * radius], 0.95 * radius)
    straight = _straight(places, lengths)
    arcs = _arcs(places, lengths)
    pierces, bulges, costs = (np.concatenate(a, axis=1) for a in zip(straight, arcs, strict=True))
    costs = costs + _SHORTENED * (1 - lengths / length)
    n = len(places)
    flat = [pierces.reshape(n, -1, 2), bulges.reshape(n, -1), costs.reshape(n, -1)]
    if radius <= 1.5 * length:
        hearts = _to_heart(places, heart, 2 * length)
        flat = [np.concatenate(a, axis=1) for a in zip(flat, hearts, strict=True)]
    pierces, bulges, costs = flat
    costs = costs + _place_costs(places)[:, None]
    if wanted is not None:
        away = [math.dist(wanted, (p.x, p.y)) for p in places]
        costs = costs + _WANTED * np.array(away)[:, None]
    costs = costs + _RAPID * np.hypot(pierces[..., 0] - head[0], pierces[..., 1] - head[1])
    index = np.broadcast_to(np.arange(n, dtype=np.float64)[:, None], costs.shape)
    return _Choices(pierces.reshape(-1, 2), bulges.ravel(), index.ravel(), costs.ravel())


def _place_costs(places: Sequence[Start]) -> FloatArray:
    """Outstanding corners are best, then edges, then inward corners."""
    corner = [0.0 if p.waste > math.pi else _INWARD_CORNER for p in places]
    return np.where([p.smooth for p in places], _EDGE, corner)


def _straight(places: Sequence[Start], lengths: FloatArray) -> tuple[FloatArray, ...]:
    """Pierce points (n, 3, k, 2), bulges and costs (n, 3, k) of straight leads."""
    smooth = np.array([[p.smooth] for p in places])
    turn = np.where(smooth, _AT_EDGE, _AT_CORNER) * [[p.waste] for p in places]
    angle = turn + [[p.direction] for p in places]
    away = np.stack([np.cos(angle), np.sin(angle)], axis=-1)
    pierces = _spots(places) + away[:, :, None] * lengths[:, None]
    costs = np.broadcast_to(_ODD_ANGLE[:, None], pierces.shape[:-1])
    return pierces, np.zeros(costs.shape), costs + np.where(smooth, _STRAIGHT_AT_EDGE, 0)[..., None]


def _arcs(places: Sequence[Start], lengths: FloatArray) -> tuple[FloatArray, ...]:
    """Pierce points (n, 1, k, 2), bulges and costs (n, 1, k) of arc leads."""
    angle = np.array([[p.direction] for p in places])
    # A quarter turn to the left of the travel, and as far back.
    back_left = np.stack([-np.sin(angle) - np.cos(angle), np.cos(angle) - np.sin(angle)], axis=-1)
    radius = lengths / (math.pi / 2)
    pierces = _spots(places) + back_left[:, :, None] * radius[:, None]
    allowed = np.array([[[0.0 if p.smooth else math.inf]] for p in places])
    costs = np.broadcast_to(allowed, pierces.shape[:-1])
    return pierces, np.full(costs.shape, _QUARTER), costs


def _to_heart(
    places: Sequence[Start], heart: tuple[float, float], longest: float
) -> tuple[FloatArray, ...]:
    """Pierce points (n, 1, 2), bulges and costs (n, 1) of leads from a hole's heart."""
    distance = np.array([[math.dist(heart, (p.x, p.y))] for p in places])
    pierces = np.broadcast_to(np.array(heart), (len(places), 1, 2))
    costs = np.where(distance <= longest, _HEART + distance, math.inf)
    return pierces, np.zeros(costs.shape), costs


def _spots(places: Sequence[Start]) -> FloatArray:
    return np.array([(p.x, p.y) for p in places])[:, None, None, :]


def _heart(contour: Contour, length: float) -> tuple[tuple[float, float], float]:
    """Middle and radius of the largest circle in a hole; infinite if the hole is wide."""
    x0, y0, x1, y1 = contour.bounds
    centre = ((x0 + x1) / 2, (y0 + y1) / 2)
    if contour.is_circle:
        return centre, (x1 - x0) / 2
    size = min(x1 - x0, y1 - y0)
    if size > 8 * length:
        return centre, math.inf
    radius = shapely.maximum_inscribed_circle(region(contour), tolerance=0.03 * size)
    (x, y), edge = shapely.get_coordinates(radius)
    return (float(x), float(y)), math.dist((x, y), edge)


def _sampled(choices: _Choices, places: Sequence[Start]) -> FloatArray:
    """Points (n, 21, 2) along each lead, from its pierce point to its start."""
    share = np.linspace(0.0, 1.0, 21)[:, None]
    ends = np.array([(places[int(i)].x, places[int(i)].y) for i in choices.starts])
    chord = ends - choices.pierces
    half = 2 * np.arctan(choices.bulges)
    curved = half != 0
    angle = np.where(curved, half, 1.0)
    scale = np.where(curved, np.sin(share * angle) / np.sin(angle), share)
    turn = (share - 1) * half
    cos, sin = (scale * np.cos(turn)).T, (scale * np.sin(turn)).T
    x = cos * chord[:, :1] - sin * chord[:, 1:]
    y = sin * chord[:, :1] + cos * chord[:, 1:]
    points: FloatArray = choices.pierces[:, None] + np.stack([x, y], axis=-1)
    return points
