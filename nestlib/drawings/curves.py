"""Arcs, ellipses, splines and Bezier curves as chains of lines and arcs.

Everything circular stays exact. What is not becomes arcs within a tolerance, and lines
where it is straight.

References
----------
L. Piegl, W. Tiller, "The NURBS Book", 2nd ed., Springer 1997, chapters 3 and 4.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy.interpolate import BSpline

from nestlib.drawings.biarcs import fit
from nestlib.model.contour import Contour, FloatArray
from nestlib.tolerances import CURVE

#: Axes that differ by less than this share of their length are those of a circle.
_ROUND = 1e-9

#: A curve may stray by no more than this share of its width, so that small ones keep
#: their area as well as large ones.
_SHARE = 1e-4


def arc(
    centre: ArrayLike,
    u: ArrayLike,
    v: ArrayLike,
    start: float,
    span: float,
    tolerance: float = CURVE,
) -> Contour:
    """Return ``centre + cos(t) u + sin(t) v`` as arcs.

    Any circle or ellipse, moved, turned, scaled, mirrored or skewed, has this form: u
    and v are conjugate half diameters.

    Parameters
    ----------
    centre, u, v : array_like, shape (2,)
        In mm.
    start, span : float
        First parameter and how far it runs, in radians; a span of a full turn closes.
    tolerance : float
        Greatest distance in mm between an ellipse and its arcs.

    Returns
    -------
    Contour
        A circle if u and v are of equal length and at right angles; closed if full.

    Raises
    ------
    ValueError
        If the ellipse has no width.

    Examples
    --------
    >>> arc((0, 0), (5, 0), (0, 5), 0, 2 * math.pi).is_circle
    True
    """
    c, u, v = (np.asarray(x, dtype=np.float64) for x in (centre, u, v))
    size = max(math.hypot(*u), math.hypot(*v))
    twice_area = abs(u[0] * v[1] - u[1] * v[0])
    if not size or twice_area < 1e-12 * size**2:
        raise ValueError("the ellipse has no width")
    full = abs(span) >= 2 * math.pi - 1e-9
    skew = max(abs(math.hypot(*u) - math.hypot(*v)), abs(float(u @ v)) / size)
    if skew <= _ROUND * size:
        return _round(c, u, v, start, span, full)
    return _ellipse(c, u, v, start, span, full, min(tolerance / 2, _SHARE * twice_area / size))


def _round(
    c: FloatArray, u: FloatArray, v: FloatArray, start: float, span: float, full: bool
) -> Contour:
    """A circle, or an arc in pieces of at most half a turn."""
    if full:
        return Contour.circle((float(c[0]), float(c[1])), math.hypot(*u))
    pieces = 2 if abs(span) > math.pi * (1 + 1e-9) else 1
    t = start + span / pieces * np.arange(pieces + 1, dtype=np.float64)
    mirrored = -1.0 if u[0] * v[1] < u[1] * v[0] else 1.0
    bulges = [mirrored * math.tan(span / pieces / 4)] * pieces + [0.0]
    return Contour(_on_ellipse(c, u, v, t), bulges, closed=False)


def _ellipse(
    c: FloatArray,
    u: FloatArray,
    v: FloatArray,
    start: float,
    span: float,
    full: bool,
    tolerance: float,
) -> Contour:
    """Biarcs between the vertices of the ellipse, so that symmetric curves stay so."""
    vertex = math.atan2(2 * float(u @ v), float(u @ u - v @ v)) / 2
    end = start + span
    low, high = (vertex, vertex + 2 * math.pi) if full else (min(start, end), max(start, end))
    first = vertex + math.ceil((low - vertex) / (math.pi / 2)) * math.pi / 2
    inner = [t for t in first + math.pi / 2 * np.arange(6) if low + 1e-6 < t < high - 1e-6]
    open_chain = fit(_Ellipse(c, u, v), [low, *inner, high], tolerance)
    if full:
        return Contour(open_chain.points[:-1], open_chain.bulges[:-1])
    return open_chain if span > 0 else open_chain.reversed()


def spline(
    control: ArrayLike,
    knots: ArrayLike,
    degree: int,
    weights: ArrayLike | None = None,
    tolerance: float = CURVE,
) -> Contour:
    """Return a B-spline, rational or not, as an open chain of lines and arcs.

    Only the valid span of the knots is drawn, so unclamped and periodic ones are fine.

    Parameters
    ----------
    control : array_like, shape (n, 2)
        Control points in mm.
    knots : array_like, shape (n + degree + 1,)
        Never falling.
    degree : int
        1 or more.
    weights : array_like, shape (n,), optional
        All 1 by default.
    tolerance : float
        Greatest distance in mm between the spline and the chain.

    Returns
    -------
    Contour
        Open, even if its ends meet.

    Raises
    ------
    ValueError
        If the numbers do not make a spline.
    """
    xy = np.asarray(control, dtype=np.float64)
    t = np.asarray(knots, dtype=np.float64)
    w = np.ones(len(xy)) if weights is None else np.asarray(weights, dtype=np.float64)
    _check_spline(xy, t, degree, w)
    curve = _Spline.of(xy, t, degree, w)
    size = float(np.hypot(*np.ptp(xy, axis=0)))
    return fit(curve, _breaks(t, degree, len(xy)), max(min(tolerance / 2, _SHARE * size), 1e-6))


def bezier(control: ArrayLike, tolerance: float = CURVE) -> Contour:
    """Return a Bezier curve of any degree as an open chain of lines and arcs.

    Examples
    --------
    >>> len(bezier([(0, 0), (1, 0), (2, 0), (3, 0)]))
    2
    """
    degree = len(np.asarray(control)) - 1
    return spline(control, [0.0] * (degree + 1) + [1.0] * (degree + 1), degree, None, tolerance)


def _check_spline(xy: FloatArray, knots: FloatArray, degree: int, weights: FloatArray) -> None:
    if degree < 1 or len(xy) <= degree:
        raise ValueError(f"{len(xy)} control points are too few for degree {degree}")
    if len(knots) != len(xy) + degree + 1:
        raise ValueError(f"{len(xy)} control points of degree {degree} and {len(knots)} knots")
    if len(weights) != len(xy) or not (weights > 0).all():
        raise ValueError("each control point needs a weight above 0")
    if (np.diff(knots) < 0).any() or knots[degree] >= knots[len(xy)]:
        raise ValueError("its knots do not rise")


def _breaks(knots: FloatArray, degree: int, count: int) -> Sequence[float]:
    """Where the spline starts, ends, and may have a corner or change its make-up.

    Between single knots a cubic is twice differentiable: no break is needed, but long
    stretches would be sampled too thinly, so every fourth knot is one.
    """
    valid = knots[degree : count + 1]
    values, times = np.unique(valid, return_counts=True)
    sharp = times >= max(degree - 1, 1) if degree > 1 else np.ones(len(values), dtype=bool)
    keep = sharp | (np.arange(len(values)) % 4 == 0)
    keep[[0, -1]] = True
    return [float(v) for v in values[keep]]


def _on_ellipse(c: FloatArray, u: FloatArray, v: FloatArray, t: FloatArray) -> FloatArray:
    # Rounding in sin and cos would move the points at the quarter turns off their axes.
    cos, sin = np.cos(t), np.sin(t)
    cos[np.abs(cos) < 1e-15] = 0.0
    sin[np.abs(sin) < 2e-16] = 0.0
    return np.asarray(c + cos[:, None] * u + sin[:, None] * v)


@dataclass(frozen=True, eq=False)
class _Ellipse:
    """An ellipse by its centre and two conjugate half diameters."""

    centre: FloatArray
    u: FloatArray
    v: FloatArray

    def at(self, t: FloatArray) -> FloatArray:
        return _on_ellipse(self.centre, self.u, self.v, t)

    def slope(self, t: FloatArray) -> FloatArray:
        return np.asarray(-np.sin(t)[:, None] * self.u + np.cos(t)[:, None] * self.v)


@dataclass(frozen=True, eq=False)
class _Spline:
    """A rational B-spline: a plain one in homogeneous coordinates (x w, y w, w)."""

    homogeneous: BSpline
    derivative: BSpline

    @classmethod
    def of(cls, xy: FloatArray, knots: FloatArray, degree: int, weights: FloatArray) -> _Spline:
        xyw = BSpline(knots, np.column_stack([xy * weights[:, None], weights]), degree)
        return cls(xyw, xyw.derivative())

    def at(self, t: FloatArray) -> FloatArray:
        xyw = self.homogeneous(t)
        return np.asarray(xyw[:, :2] / xyw[:, 2:])

    def slope(self, t: FloatArray) -> FloatArray:
        xyw, d = self.homogeneous(t), self.derivative(t)
        # Quotient rule.
        return np.asarray((d[:, :2] - xyw[:, :2] / xyw[:, 2:] * d[:, 2:]) / xyw[:, 2:])
