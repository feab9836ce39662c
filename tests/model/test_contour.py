"""Exact measures of contours."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from nestlib.model import Contour

points = st.tuples(st.floats(-1e3, 1e3), st.floats(-1e3, 1e3))


def test_two_vertices_with_bulge_one_are_a_circle():
    """Chord (0,0)-(10,0), bulge 1: area 78.53981634, length 31.41592654 (worked from the
    DXF Reference's definition of the bulge)."""
    circle = Contour([(0, 0), (10, 0)], [1, 1])
    assert circle.is_circle
    assert circle.area == pytest.approx(78.53981634, abs=1e-8)
    assert circle.length == pytest.approx(31.41592654, abs=1e-8)
    assert circle.bounds == pytest.approx((0, -5, 10, 5))


def test_a_counter_clockwise_arc_runs_below_its_chord():
    """From (0,0) to (10,0) with bulge 1 the arc passes (5,-5) (DXF Reference)."""
    assert Contour([(0, 0), (10, 0)], [1, 0], closed=False).bounds[1] == pytest.approx(-5)


def test_circular_segment_area():
    """R² (θ - sin θ) / 2 for a quarter circle of radius 10 (closed form)."""
    bulge = math.tan(math.pi / 8)
    cap = Contour([(10, 0), (0, 10)], [bulge, 0])
    assert cap.area == pytest.approx(50 * (math.pi / 2 - 1), rel=1e-12)


def test_tiny_bulges_lose_no_digits():
    """A nearly straight arc adds 2/3 of chord times sagitta, c² b / 3 (parabola, closed form)."""
    plain = Contour([(0, 0), (100, 0), (100, 100), (0, 100)])
    curved = Contour(plain.points, [1e-7, 0, 0, 0])
    assert curved.area - plain.area == pytest.approx(100**2 * 1e-7 / 3, rel=1e-4)


@given(st.lists(points, min_size=3, max_size=8, unique=True), st.floats(-1, 1))
def test_reversing_negates_the_signed_area(vertices, bulge):
    """And keeps the length and the bounds."""
    contour = Contour(vertices, [bulge] * len(vertices))
    back = contour.reversed()
    assert back.signed_area == pytest.approx(-contour.signed_area, rel=1e-9, abs=1e-6)
    assert back.length == pytest.approx(contour.length, rel=1e-9)
    assert back.bounds == pytest.approx(contour.bounds, rel=1e-9, abs=1e-6)


@pytest.mark.parametrize(
    ("vertices", "bulge"),
    [([(0, 0)], None), ([(0, 0), (1, math.nan)], None), ([(0, 0), (1, 0)], [0, math.inf])],
)
def test_nonsense_is_refused(vertices, bulge):
    """Too few vertices, or numbers that are not finite."""
    with pytest.raises(ValueError, match="contour"):
        Contour(vertices, bulge)
