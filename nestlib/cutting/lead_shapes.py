"""The leads that might be taken: lines, arcs and lines to the middle of a hole.

Lengths, angles and costs are our own simple rules; common practice, no source. A lead is a
line from its outer end, in the waste, to its knee, and from there an arc to the contour; at
a straight lead the knee lies on the contour. So every lead has a straight move on which a
control can switch its own offset on or off.

Terms
-----
straight lead
    A line that meets a corner or an edge at an angle.
arc lead
    A quarter of a circle that runs along the tangent into a contour, or out of it.
heart
    The middle of the largest circle that fits into a hole; small holes are pierced there.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from nestlib.cutting.starts import Start
from nestlib.geometry.arcs import arc_bulge
from nestlib.model.contour import Contour, FloatArray

#: Where in the waste's angle a straight lead may arrive: at a corner, and at an edge,
#: where leaning back against the travel is better than leaning forward.
_AT_CORNER = np.array([0.5, 0.65, 0.35])
_AT_EDGE = np.array([0.5, 0.65, 0.8])

#: How far to the left of the travel it may leave, in degrees: straight on at a corner.
_OFF_CORNER = np.array([0.0, 20.0, 45.0, 100.0, 130.0])
_OFF_EDGE = np.array([45.0, 30.0, 60.0, 20.0, 130.0])

_QUARTER = arc_bulge(math.pi / 2)

#: Share of an arc lead that is straight, and the least that is left for its arc.
_STRAIGHT, _CURVED = 0.25, 0.3

# What is second best counts like so many mm of rapid.
_STRAIGHT_AT_EDGE = 15.0
_ODD_ANGLE = 3.0
_OTHER_SHAPE = 300.0
_HEART = -100.0

#: How many leads are checked at once: one of the cheapest is free nearly always.
_FIRST_BATCH, _BATCH = 6, 40

#: Points along the line and the arc of a lead, at which it is looked at.
_ON_LINE, _POINTS = 6, 21

Which = np.ndarray[tuple[int], np.dtype[np.intp]]


@dataclass(frozen=True, eq=False)
class Choices:
    """Leads that might be taken.

    Parameters
    ----------
    outer, knees, inner : ndarray, shape (n, 2)
        End in the waste, knee, and place on the contour.
    bulges : ndarray, shape (n,)
        Of the arcs from knee to contour.
    starts : ndarray of int, shape (n,)
        Which place each leads to.
    costs : ndarray, shape (n,)
        In mm; infinite for what cannot be taken.
    """

    outer: FloatArray
    knees: FloatArray
    inner: FloatArray
    bulges: FloatArray
    starts: Which
    costs: FloatArray

    def by_cost(self) -> Iterator[Choices]:
        """The cheapest first, a batch at a time."""
        order = np.argsort(self.costs, kind="stable")
        order = order[np.isfinite(self.costs[order])]
        yield self[order[:_FIRST_BATCH]]
        for first in range(_FIRST_BATCH, len(order), _BATCH):
            yield self[order[first : first + _BATCH]]

    def __getitem__(self, which: Which) -> Choices:
        outer, knees, inner = self.outer[which], self.knees[which], self.inner[which]
        return Choices(
            outer, knees, inner, self.bulges[which], self.starts[which], self.costs[which]
        )

    def costing(self, more: FloatArray) -> Choices:
        """The same, each as much more costly."""
        columns = self.outer, self.knees, self.inner, self.bulges, self.starts
        return Choices(*columns, self.costs + more)

    def path(self, which: int) -> Contour:
        """One of them, from its outer end to the contour."""
        outer, knee, inner = self.outer[which], self.knees[which], self.inner[which]
        bulge = float(self.bulges[which])
        if not bulge:
            return Contour([outer, inner], closed=False)
        return Contour([outer, knee, inner], [0.0, bulge, 0.0], closed=False)

    def sampled(self) -> FloatArray:
        """Points (n, 21, 2) along each lead, from its outer end to the contour."""
        share = np.linspace(0.0, 1.0, _POINTS)
        straight = self.outer[:, None] + share[:, None] * (self.inner - self.outer)[:, None]
        line = np.linspace(0.0, 1.0, _ON_LINE)[:-1, None]
        begun = self.outer[:, None] + line * (self.knees - self.outer)[:, None]
        round_it = np.linspace(0.0, 1.0, _POINTS - _ON_LINE + 1)
        curved = np.concatenate([begun, self._on_arcs(round_it)], axis=1)
        return np.where((self.bulges != 0)[:, None, None], curved, straight)

    def _on_arcs(self, share: FloatArray) -> FloatArray:
        """Points (n, m, 2) of the arcs at shares (m,) of their angle."""
        half = np.where(self.bulges != 0, 2 * np.arctan(self.bulges), 1.0)[:, None]
        scale, turn = np.sin(share * half) / np.sin(half), (share - 1) * half
        cos, sin = scale * np.cos(turn), scale * np.sin(turn)
        x, y = (self.inner - self.knees).T[..., None]
        points = self.knees[:, None] + np.stack([cos * x - sin * y, sin * x + cos * y], axis=-1)
        return np.asarray(points)


def joined(some: Sequence[Choices]) -> Choices:
    """Return all of several choices."""
    names = "outer", "knees", "inner", "bulges", "starts", "costs"
    return Choices(*(np.concatenate([getattr(c, name) for c in some]) for name in names))


def leads_in(
    places: Sequence[Start], lengths: FloatArray, least: float, shape: str
) -> list[Choices]:
    """Return straight leads and arcs of some lengths to some places.

    Parameters
    ----------
    places : sequence of Start
        Where they may lead to.
    lengths : ndarray, shape (k,)
        In mm.
    least : float
        Length in mm that each has to be straight.
    shape : str
        As `Entry.lead_in`.
    """
    smooth = np.array([p.smooth for p in places])
    turns = np.where(smooth[:, None], _AT_EDGE, _AT_CORNER) * _column(places, "waste")
    dear = np.where(smooth & (shape == "by place"), _STRAIGHT_AT_EDGE, 0.0)
    dear = dear + (_OTHER_SHAPE if shape == "arc" else 0.0)
    lines = _lines(places, turns + _column(places, "direction"), lengths, least, dear)
    fits = smooth if shape != "arc" else _column(places, "waste")[:, 0] > math.radians(160)
    dear = np.where(fits, _OTHER_SHAPE if shape == "line" else 0.0, math.inf)
    return [lines, _arcs(places, _column(places, "direction")[:, 0], lengths, least, dear, -1.0)]


def leads_out(place: Start, lengths: FloatArray, least: float, shape: str) -> list[Choices]:
    """Return straight leads and arcs out of a place; parameters as in `leads_in`."""
    turns = np.radians(_OFF_EDGE if place.smooth else _OFF_CORNER)
    arriving = place.direction - (math.pi - place.waste)
    dear = np.array([_OTHER_SHAPE if shape == "arc" else 0.0])
    lines = _lines([place], (arriving + turns)[None], lengths, least, dear)
    dear = np.array([_OTHER_SHAPE if shape == "line" else 0.0])
    return [lines, _arcs([place], np.array([arriving]), lengths, least, dear, 1.0)]


def to_heart(places: Sequence[Start], heart: tuple[float, float], longest: float) -> Choices:
    """Return leads from a hole's heart, no longer than so many mm."""
    distance = np.array([math.dist(heart, (p.x, p.y)) for p in places])
    costs = np.where(distance <= longest, _HEART + distance, math.inf)
    spots, n = _spots(places), len(places)
    middle = np.broadcast_to(np.array(heart), (n, 2))
    return Choices(middle, spots, spots, np.zeros(n), np.arange(n), costs)


def _lines(
    places: Sequence[Start], angles: FloatArray, lengths: FloatArray, least: float, dear: FloatArray
) -> Choices:
    """Straight leads at angles (n, t), the better ones first, in some lengths (k,)."""
    away = np.stack([np.cos(angles), np.sin(angles)], axis=-1)
    spots = _spots(places)[:, None, None]
    outer = spots + away[:, :, None] * lengths[:, None]
    odd = _ODD_ANGLE * np.arange(angles.shape[1])[:, None]
    costs = dear[:, None, None] + odd + np.where(lengths >= least, 0.0, math.inf)
    return _flat(outer, np.broadcast_to(spots, outer.shape), places, 0.0, costs)


def _arcs(
    places: Sequence[Start],
    headings: FloatArray,
    lengths: FloatArray,
    least: float,
    dear: FloatArray,
    way: float,
) -> Choices:
    """Quarters of circles to the left of the travel: way -1 comes from behind, 1 goes ahead."""
    line = np.maximum(_STRAIGHT * lengths, least)
    radius = np.maximum(lengths - line, 0.0) / (math.pi / 2)
    ahead = np.stack([np.cos(headings), np.sin(headings)], axis=-1)[:, None, None]
    left = np.stack([-ahead[..., 1], ahead[..., 0]], axis=-1)
    knees = _spots(places)[:, None, None] + radius[:, None] * (left + way * ahead)
    costs = dear[:, None, None] + np.where(lengths - line >= _CURVED * lengths, 0.0, math.inf)
    return _flat(knees + line[:, None] * left, knees, places, -way * _QUARTER, costs)


def _flat(
    outer: FloatArray, knees: FloatArray, places: Sequence[Start], bulge: float, costs: FloatArray
) -> Choices:
    """Rows of choices from arrays by place, angle and length."""
    shape = outer.shape[:-1]
    which = np.broadcast_to(np.arange(len(places))[:, None, None], shape).ravel()
    costs = np.broadcast_to(costs, shape).ravel()
    bulges = np.full(len(which), bulge)
    spots = _spots(places)[which]
    return Choices(outer.reshape(-1, 2), knees.reshape(-1, 2), spots, bulges, which, costs)


def _spots(places: Sequence[Start]) -> FloatArray:
    return np.array([(p.x, p.y) for p in places])


def _column(places: Sequence[Start], name: str) -> FloatArray:
    return np.array([[getattr(p, name)] for p in places])
