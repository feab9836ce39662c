"""Distances between lines and arcs, against closed formulas and fine flattening."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from hypothesis import assume, given
from hypothesis import strategies as st

from nestlib.model import Contour, Placement
from nestlib.verifying.curves import Curve, curve_distance, deviation, point_distances
from nestlib.verifying.shapes import exact_distance, line_of, polygon_of

numbers = st.floats(-50, 50).map(lambda v: round(v, 3))
bulges = st.one_of(st.just(0.0), st.floats(-2, 2).map(lambda v: round(v, 3)))


@st.composite
def chains(draw: st.DrawFn) -> Curve:
    """Open chains of one to four lines and arcs."""
    n = draw(st.integers(2, 5))
    points = draw(st.lists(st.tuples(numbers, numbers), min_size=n, max_size=n, unique=True))
    return Curve.of(Contour(points, draw(st.lists(bulges, min_size=n, max_size=n)), closed=False))


def test_arcs_of_the_dxf_reference() -> None:
    """A chord of 10 with bulge 1 passes (5, -5) (worked check from the DXF Reference)."""
    arc = Curve.of(Contour([(0, 0), (10, 0)], [1, 0], closed=False))
    assert point_distances(np.array([5 - 5j]), arc)[0] == pytest.approx(0, abs=1e-12)
    assert point_distances(np.array([5 + 5j]), arc)[0] == pytest.approx(math.sqrt(50), abs=1e-12)
    assert arc.length == pytest.approx(5 * math.pi, abs=1e-12)


def test_area_and_length_of_a_circle() -> None:
    """A circle of radius 5 has the area 78.53981634 and the length 31.41592654."""
    circle = Curve.of(Contour.circle((1e5, -1e5), 5))
    assert circle.area == pytest.approx(78.5398163397, abs=1e-6)
    assert circle.length == pytest.approx(31.4159265359, abs=1e-6)


@given(st.floats(1, 50), st.floats(1, 50), st.floats(0, 100), st.floats(0, 6))
def test_two_circles_are_as_far_apart_as_their_centres_less_the_radii(
    r: float, s: float, gap: float, angle: float
) -> None:
    """Exact within 1e-9 mm, whatever the direction."""
    way = (r + s + gap) * np.exp(1j * angle)
    one = Curve.of(Contour.circle((0, 0), r))
    other = Curve.of(Contour.circle((way.real, way.imag), s))
    assert curve_distance(one, other) == pytest.approx(gap, abs=1e-9)


@given(chains(), chains())
def test_distance_agrees_with_fine_flattening(one: Curve, other: Curve) -> None:
    """Law: |exact - flattened| is at most the errors of the two flattenings."""
    flat = float(line_of(one).distance(line_of(other)))
    error = one.flat[1] + other.flat[1]
    assume(flat > error)
    assert exact_distance(one, other, flat + error + 1e-9) == pytest.approx(flat, abs=error + 1e-9)


@given(chains())
def test_flattening_keeps_its_stated_error(curve: Curve) -> None:
    """Law: every vertex lies on the curve, and the curve nowhere strays further than stated."""
    points, error = curve.flat
    assert error <= 0.001 + 1e-9
    assert point_distances(points, curve).max() < 1e-9
    samples = shapely.points(np.stack([curve.samples().real, curve.samples().imag], axis=1))
    assert shapely.distance(samples, line_of(curve)).max() <= error + 1e-9


@given(chains(), st.floats(0, 360), st.booleans(), numbers, numbers)
def test_placing_keeps_shape(curve: Curve, turn: float, flip: bool, x: float, y: float) -> None:
    """Law: placing keeps the length, and placing back by the opposite placement is nothing."""
    placed = curve.placed(Placement("a", turn, flip, x, y))
    assert placed.length == pytest.approx(curve.length, abs=1e-9)
    back = placed.placed(Placement("a", 0, False, -x, -y))
    back = back.placed(Placement("a", turn if flip else -turn, flip, 0, 0))
    if flip:  # mirror and turn, done twice with the same angle, is the identity
        back = placed.placed(Placement("a", 0, False, -x, -y)).placed(
            Placement("a", turn, True, 0, 0)
        )
    assert deviation(curve, back) < 1e-8


def test_degenerate_curves_do_no_harm() -> None:
    """Points in the same place, and arcs that close on themselves, still give polygons."""
    for points, bulge in (([(0, 0), (0, 0)], [1, 1]), ([(0, 0), (5, 0)], [0, 0])):
        curve = Curve.of(Contour(points, bulge))
        assert polygon_of(curve).area == 0
        assert curve_distance(curve, Curve.of(Contour.circle((20, 0), 5))) > 9
