"""Ellipses, splines and Bezier curves against closed formulas and other evaluations."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose
from scipy.interpolate import BSpline
from scipy.special import ellipe

from nestlib.drawings.curves import arc, bezier, spline
from nestlib.geometry.flatten import flatten
from nestlib.tolerances import CURVE

FULL = 2 * math.pi


def distance(made: np.ndarray, exact: np.ndarray) -> float:
    """Greatest distance between two polylines, either way."""
    return float(shapely.hausdorff_distance(shapely.LineString(made), shapely.LineString(exact)))


@pytest.mark.parametrize(("a", "b"), [(50, 20), (5, 1), (500, 3), (3, 2.9), (0.8, 0.5)])
def test_area_and_length_of_an_ellipse(a: float, b: float) -> None:
    """Area πab and length 4 a E(1 - b²/a²) (textbook formulas) within 0.01 %."""
    made = arc((7, -3), (a, 0), (0, b), 0, FULL)
    assert made.closed
    assert_allclose(made.area, math.pi * a * b, rtol=1e-4)
    assert_allclose(made.length, 4 * a * ellipe(1 - b * b / a / a), rtol=1e-4)


@settings(max_examples=40)
@given(
    st.tuples(*[st.floats(-80, 80)] * 4),
    st.floats(-7, 7),
    st.floats(0.2, 6.2),
    st.sampled_from([1, -1]),
)
def test_elliptic_arcs_stay_within_the_tolerance(
    axes: tuple[float, float, float, float], start: float, span: float, way: int
) -> None:
    """Any conjugate half diameters, either way round; ends exact to 1e-9 mm."""
    u, v = np.array(axes[:2]), np.array(axes[2:])
    if abs(u[0] * v[1] - u[1] * v[0]) < 25:
        return
    made = arc((0, 0), u, v, start, way * span)
    t = np.linspace(start, start + way * span, 5000)
    exact = np.cos(t)[:, None] * u + np.sin(t)[:, None] * v
    assert_allclose(made.points[[0, -1]], exact[[0, -1]], atol=1e-9)
    assert distance(flatten(made, 1e-3), exact) <= CURVE + 1.5e-3  # 1.5e-3: the flattening


@pytest.mark.parametrize("mirror", [1, -1])
def test_circles_and_arcs_stay_what_they_are(mirror: int) -> None:
    """Equal axes at right angles give a circle, or arcs of exactly its radius."""
    u, v = np.array([3.0, 4.0]), mirror * np.array([-4.0, 3.0])
    assert arc((1, 2), u, v, 0.3, FULL).is_circle
    quarter = arc((1, 2), u, v, 0.3, math.pi / 2)
    assert_allclose(quarter.bulges, [mirror * math.tan(math.pi / 8), 0])
    assert_allclose(arc((1, 2), u, v, 0.3, 6.0).length, 5 * 6.0, rtol=1e-12)


def test_an_ellipse_without_width_is_refused() -> None:
    """Both half diameters on one line leave nothing to cut."""
    with pytest.raises(ValueError, match="no width"):
        arc((0, 0), (5, 5), (-2, -2), 0, FULL)


@settings(max_examples=40)
@given(st.lists(st.tuples(st.floats(0, 60), st.floats(0, 60)), min_size=4, max_size=4))
def test_bezier_curves_stay_within_the_tolerance(control: list[tuple[float, float]]) -> None:
    """Against Bernstein's formula at 5000 points; cusps and loops included."""
    p = np.array(control)
    if np.ptp(p, axis=0).max() < 1:
        return
    t = np.linspace(0, 1, 5000)[:, None]
    exact = (
        (1 - t) ** 3 * p[0] + 3 * (1 - t) ** 2 * t * p[1] + 3 * (1 - t) * t**2 * p[2] + t**3 * p[3]
    )
    assert distance(flatten(bezier(control), 1e-3), exact) <= CURVE + 1.5e-3


def test_straight_curves_become_one_line() -> None:
    """Control points on a line, at any pace, give two vertices."""
    assert len(bezier([(0, 0), (1, 1), (8, 8), (10, 10)])) == 2
    assert len(spline([(0, 0), (5, 0), (9, 0), (20, 0)], [0, 0, 0, 0, 1, 1, 1, 1], 3)) == 2


def test_a_spline_of_degree_1_is_its_control_polygon() -> None:
    """Vertices stay, all segments straight."""
    made = spline([(0, 0), (10, 0), (10, 5)], [0, 0, 1, 2, 2], 1)
    assert made.points.tolist() == [[0, 0], [10, 0], [10, 5]]
    assert not made.bulges.any()


def test_a_rational_spline_draws_an_exact_circle() -> None:
    """The seven-point circle (Piegl and Tiller, The NURBS Book, ch. 7; recalled from memory).

    The area is that of the circle within 1e-6.
    """
    h = math.sqrt(3)
    control = [(0, -1), (h, -1), (h / 2, 0.5), (0, 2), (-h / 2, 0.5), (-h, -1), (0, -1)]
    weights = [1, 0.5, 1, 0.5, 1, 0.5, 1]
    made = spline(np.array(control) * 10, [0, 0, 0, 1, 1, 2, 2, 3, 3, 3], 2, weights)
    assert_allclose(np.hypot(*made.points.T), 10, atol=1e-9)
    assert_allclose(made.length, 20 * math.pi, rtol=1e-6)


def test_only_the_valid_span_of_unclamped_knots_is_drawn() -> None:
    """A periodic uniform cubic on a regular polygon closes, and repeats its symmetry."""
    n = 8
    turn = FULL * np.arange(n + 3) / n
    ring = 50 * np.column_stack([np.cos(turn), np.sin(turn)])
    made = spline(ring, np.arange(n + 7), 3)
    assert_allclose(made.points[0], made.points[-1], atol=1e-9)
    # Value at a knot of a uniform cubic: (1, 4, 1) / 6 of its neighbours (textbook).
    radius = 50 * (4 + 2 * math.cos(FULL / n)) / 6
    assert_allclose(np.hypot(*made.points[0]), radius, rtol=1e-12)


def test_corners_of_a_spline_are_kept() -> None:
    """Where a knot is as often as the degree, the two sides meet in a corner."""
    control = [(0, 0), (0, 10), (10, 10), (20, 10), (20, 0)]
    made = spline(control, [0, 0, 0, 1, 1, 2, 2, 2], 2)
    assert [10, 10] in made.points.round(9).tolist()


@pytest.mark.parametrize(
    ("count", "knots", "weights", "says"),
    [
        (3, [0] * 4 + [1] * 4, None, "too few"),
        (4, [0, 0, 0, 1, 1, 1], None, "knots"),
        (4, [0, 0, 0, 0, 1, 1, 1, 0.5], None, "rise"),
        (4, [0] * 8, None, "rise"),
        (4, [0] * 4 + [1] * 4, [1, 1, 0, 1], "weight"),
    ],
)
def test_impossible_splines_are_refused(
    count: int, knots: list[float], weights: list[float] | None, says: str
) -> None:
    """Each with the reason."""
    with pytest.raises(ValueError, match=says):
        spline([(i, i * i) for i in range(count)], knots, 3, weights)


def test_long_splines_keep_their_wiggles() -> None:
    """50 waves along one spline: nothing is missed between samples."""
    control = np.array([(x, 3.0 * (-1) ** x) for x in range(100)])
    knots = np.array([0] * 3 + list(range(98)) + [97] * 3, dtype=np.float64)
    made = spline(control, knots, 3)
    exact = BSpline(knots, control, 3)(np.linspace(0, 97, 8000))
    assert distance(flatten(made, 1e-3), exact) <= CURVE + 1.5e-3
