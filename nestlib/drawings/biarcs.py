"""Smooth curves replaced by arcs that meet without a corner.

A biarc is a pair of arcs that joins two points with given tangents. Of the one-parameter
family of joints the one with equal control lengths is taken. A stretch of curve whose
biarc strays too far is halved.

References
----------
K. M. Bolton, "Biarc curves", Computer-Aided Design 7 (1975) 89-92.
D. S. Meek, D. J. Walton, "Approximation of smooth planar curves by circular arc splines",
Journal of Computational and Applied Mathematics 88 (1997) 287-299.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise
from typing import Protocol

import numpy as np

from nestlib.geometry.arcs import arc_centre
from nestlib.model.contour import Contour, FloatArray

#: A stretch that stays this close to its chord is a straight line, in mm.
STRAIGHT = 1e-5

#: Points of a stretch at which the deviation is measured.
_SAMPLES = 25

#: One biarc turns by no more than this, so that the nearest of its arcs is known.
_TURN = math.radians(100)

#: Halvings after which a stretch is taken as it is: it is then shorter than any tolerance.
_DEPTH = 16


class Curve(Protocol):
    """A parametric plane curve."""

    def at(self, t: FloatArray) -> FloatArray:
        """Return points, shape (n, 2), at parameters, shape (n,)."""
        ...

    def slope(self, t: FloatArray) -> FloatArray:
        """Return derivatives, shape (n, 2), at parameters, shape (n,)."""
        ...


def fit(curve: Curve, breaks: Sequence[float], tolerance: float) -> Contour:
    """Replace a curve by lines and arcs.

    Parameters
    ----------
    curve : Curve
        Continuous; smooth between the breaks.
    breaks : sequence of float
        Parameters, rising: the start, places where the curve may have a corner, the end.
    tolerance : float
        Greatest distance in mm between the curve and its replacement.

    Returns
    -------
    Contour
        Open, from the first break to the last.
    """
    pieces: list[tuple[FloatArray, float]] = []
    for t0, t1 in pairwise(breaks):
        _fit(curve, t0, t1, tolerance, _DEPTH, pieces)
    start = curve.at(np.array([breaks[0]]))[0]
    points = [start, *(end for end, _ in pieces)]
    return Contour(points, [*(b for _, b in pieces), 0.0], closed=False)


def _fit(
    curve: Curve,
    t0: float,
    t1: float,
    tolerance: float,
    depth: int,
    pieces: list[tuple[FloatArray, float]],
) -> None:
    """Append the ends and bulges of the arcs that replace one smooth stretch."""
    samples = curve.at(np.linspace(t0, t1, _SAMPLES))
    if _from_chord(samples) <= STRAIGHT or depth == 0:
        pieces.append((samples[-1], 0.0))
        return
    found = biarc(samples[0], _tangent(curve, t0, t1), samples[-1], -_tangent(curve, t1, t0))
    if found is not None and _deviation(samples, *found) <= tolerance:
        joint, first, second = found
        pieces.extend([(joint, first), (samples[-1], second)])
        return
    middle = (t0 + t1) / 2
    _fit(curve, t0, middle, tolerance, depth - 1, pieces)
    _fit(curve, middle, t1, tolerance, depth - 1, pieces)


def biarc(
    start: FloatArray, leaving: FloatArray, end: FloatArray, arriving: FloatArray
) -> tuple[FloatArray, float, float] | None:
    """Join two points with given tangents by two arcs.

    Parameters
    ----------
    start, end : ndarray, shape (2,)
        The points.
    leaving, arriving : ndarray, shape (2,)
        Unit tangents there, in the direction of travel.

    Returns
    -------
    (ndarray, float, float) or None
        Joint, and the bulges of the arc before and after it; None if there is no biarc
        that turns little enough.
    """
    chord = end - start
    total = leaving + arriving
    # |joint control polygon| condition, quadratic in the common control length d:
    # 2 d² (1 - t0·t1) + 2 d chord·(t0 + t1) - chord·chord = 0
    a = 2 * (1 - float(leaving @ arriving))
    b, c = 2 * float(chord @ total), -float(chord @ chord)
    root = math.sqrt(max(b * b - 4 * a * c, 0.0))
    if b + root <= 0:
        return None
    d = -2 * c / (b + root)  # the positive solution, in the form that does not cancel
    joint = (start + end + d * (leaving - arriving)) / 2
    first = _turn(leaving, joint - start)
    second = _turn(end - joint, arriving)
    if 2 * max(abs(first), abs(second)) > _TURN:
        return None
    return joint, math.tan(first / 2), math.tan(second / 2)


def _tangent(curve: Curve, t: float, other: float) -> FloatArray:
    """Unit tangent at one end of a stretch, pointing into it.

    It is taken a little inside, because a corner may lie at the end itself, and from a
    short chord where the derivative vanishes.
    """
    inside = t + 1e-9 * (other - t)
    slope = curve.slope(np.array([inside]))[0] * math.copysign(1.0, other - t)
    size = math.hypot(*slope)
    if size * abs(other - t) < 1e-6 * math.dist(*curve.at(np.array([t, (t + other) / 2]))):
        a, b = curve.at(np.array([t, t + 1e-4 * (other - t)]))
        slope, size = b - a, math.dist(a, b)
    return np.asarray(slope / size) if size else np.array([1.0, 0.0])


def _turn(a: FloatArray, b: FloatArray) -> float:
    """Signed angle from one direction to another."""
    return math.atan2(a[0] * b[1] - a[1] * b[0], a[0] * b[0] + a[1] * b[1])


def _from_chord(samples: FloatArray) -> float:
    """Greatest distance of any sample from the segment between the first and the last."""
    chord = samples[-1] - samples[0]
    length = math.hypot(*chord)
    off = samples - samples[0]
    if length == 0:
        return float(np.hypot(*off.T).max())
    along = np.clip(off @ chord / length**2, 0, 1)
    return float(np.hypot(*(off - along[:, None] * chord).T).max())


def _deviation(samples: FloatArray, joint: FloatArray, first: float, second: float) -> float:
    """Greatest distance of the samples from a biarc."""
    start, end = samples[0], samples[-1]
    # Both arcs leave the joint at right angles to this line, one on each side of it.
    across = _tangent_at_end(start, joint, first)
    before = (samples - joint) @ across <= 0
    return max(
        _from_arc(samples[before], start, joint, first),
        _from_arc(samples[~before], joint, end, second),
    )


def _tangent_at_end(start: FloatArray, end: FloatArray, bulge: float) -> FloatArray:
    chord = end - start
    half = 2 * math.atan(bulge)
    cos, sin = math.cos(half), math.sin(half)
    return np.array([cos * chord[0] - sin * chord[1], sin * chord[0] + cos * chord[1]])


def _from_arc(samples: FloatArray, start: FloatArray, end: FloatArray, bulge: float) -> float:
    """Greatest distance of samples beside an arc from its circle, or from its line."""
    if len(samples) == 0:
        return 0.0
    if abs(bulge) < 1e-9:
        return _from_chord(np.concatenate([start[None], samples, end[None]]))
    centre = np.array(arc_centre(start, end, bulge))
    radius = math.dist(start, centre)
    return float(np.abs(np.hypot(*(samples - centre).T) - radius).max())
