"""Biarcs against curves whose shape is known."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from nestlib.drawings.biarcs import biarc, fit
from nestlib.geometry.flatten import flatten
from nestlib.model.contour import FloatArray


@dataclass(frozen=True)
class Cubic:
    """y = a x³ + b x, an S whose slope and curvature are known everywhere."""

    a: float
    b: float

    def at(self, t: FloatArray) -> FloatArray:
        """Return points."""
        return np.column_stack([t, self.a * t**3 + self.b * t])

    def slope(self, t: FloatArray) -> FloatArray:
        """Return derivatives."""
        return np.column_stack([np.ones_like(t), 3 * self.a * t**2 + self.b])


def test_a_biarc_of_a_circle_is_the_circle() -> None:
    """Tangents of one circle give two arcs of it: equal curvature, exactly to 1e-12."""
    start, end = np.array([1.0, 0.0]), np.array([0.0, 1.0])
    made = biarc(start, np.array([0.0, 1.0]), end, np.array([-1.0, 0.0]))
    assert made is not None
    joint, first, second = made
    assert_allclose(joint, [math.sqrt(0.5)] * 2, atol=1e-12)
    assert_allclose([first, second], math.tan(math.pi / 16), atol=1e-12)


def test_a_biarc_of_a_line_is_straight() -> None:
    """Equal tangents along the chord give two straight pieces."""
    along = np.array([0.6, 0.8])
    made = biarc(np.zeros(2), along, 10 * along, along)
    assert made is not None
    assert_allclose(made[0], 5 * along, atol=1e-12)
    assert_allclose(made[1:], 0, atol=1e-12)


def test_a_biarc_that_would_turn_back_is_refused() -> None:
    """Tangents against the chord need more than two short arcs."""
    back = np.array([-1.0, 0.0])
    assert biarc(np.zeros(2), back, np.array([10.0, 0.0]), back) is None


@given(st.floats(0.001, 0.02), st.floats(-1, 1), st.sampled_from([0.1, 0.01, 0.001]))
def test_the_fit_stays_within_its_tolerance(a: float, b: float, tolerance: float) -> None:
    """Measured both ways on a fine flattening, with 5 % for what lies between samples."""
    curve = Cubic(a, b)
    made = flatten(fit(curve, [-10.0, 10.0], tolerance), tolerance / 50)
    exact = curve.at(np.linspace(-10, 10, 4001))
    apart = shapely.hausdorff_distance(shapely.LineString(made), shapely.LineString(exact))
    assert apart <= 1.05 * tolerance


@given(st.floats(0.001, 0.02), st.floats(-1, 1))
def test_arcs_meet_without_a_corner(a: float, b: float) -> None:
    """The direction changes by less than 1e-6 rad where two pieces meet."""
    made = fit(Cubic(a, b), [-10.0, 10.0], 0.01)
    starts, ends, bulges = made.segments
    chord = np.arctan2(*(ends - starts).T[::-1])
    half = 2 * np.arctan(bulges)
    assert_allclose((chord + half)[:-1], (chord - half)[1:], atol=1e-6)


def test_a_finer_fit_has_more_arcs() -> None:
    """The error of a biarc falls with the cube of its length: 1000 times finer, 10 times more."""
    counts = [len(fit(Cubic(0.01, 0), [-10.0, 10.0], t)) for t in (1e-2, 1e-5)]
    assert 5 < counts[1] / counts[0] < 20


def test_corners_at_breaks_are_kept() -> None:
    """A break in the curve becomes a vertex, and its two sides are fitted on their own."""

    class Roof:
        def at(self, t: FloatArray) -> FloatArray:
            return np.column_stack([t, -np.abs(t)])

        def slope(self, t: FloatArray) -> FloatArray:
            return np.column_stack([np.ones_like(t), -np.sign(t)])

    made = fit(Roof(), [-3.0, 0.0, 2.0], 0.01)
    assert made.points.tolist() == [[-3, -3], [0, 0], [2, -2]]
    assert not made.bulges.any()


@pytest.mark.parametrize("angle", [10, 45, 90, 97])
def test_a_biarc_ends_in_its_tangents(angle: float) -> None:
    """The second arc arrives in the direction that was asked for, within 1e-9 rad."""
    arriving = np.array([math.cos(math.radians(angle)), math.sin(math.radians(angle))])
    end = np.array([10.0, 4.0])
    made = biarc(np.zeros(2), np.array([1.0, 0.0]), end, arriving)
    assert made is not None
    joint, _, second = made
    direction = math.atan2(*(end - joint)[::-1]) + 2 * math.atan(second)
    assert math.isclose(direction, math.radians(angle), abs_tol=1e-9)
