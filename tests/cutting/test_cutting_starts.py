"""Entering a contour elsewhere leaves the curve as it is."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from nestlib.cutting import entered_at, starts
from nestlib.geometry import placed
from nestlib.model import Contour, Placement
from tests.shapes import outlines

shares = st.floats(0, 0.999)


@given(outlines(), st.integers(0, 100), shares, st.floats(0, 360), st.booleans())
def test_a_contour_entered_anywhere_keeps_area_length_and_direction(
    outline, segment, share, turn, flip
):
    """Signed area and length agree within 1e-9 of themselves, after any turn and flip."""
    contour = placed(outline, Placement("", turn, flip, 1234.5, -678.9))
    entered = entered_at(contour, segment % len(contour), share)
    assert entered.length == pytest.approx(contour.length, rel=1e-9)
    assert entered.signed_area == pytest.approx(contour.signed_area, rel=1e-9)
    np.testing.assert_allclose(entered.bounds, contour.bounds, atol=1e-9 * contour.length)


@given(st.floats(-50, 50).filter(lambda b: abs(b) > 1e-9), shares)
def test_both_halves_of_a_split_arc_lie_on_its_circle(bulge, share):
    """The new vertex and both bulges belong to the circle: radius within 1e-9 of itself."""
    contour = Contour([(0, 0), (10, 3), (-5, 20)], [bulge, 0, 0])
    entered = entered_at(contour, 0, share)
    radii = [
        math.dist(a, b) * (1 + k * k) / (4 * abs(k))
        for a, b, k in zip(*entered.segments, strict=True)
        if abs(k) > 1e-13 and math.dist(a, b) > 1e-6
    ]
    exact = math.dist((0, 0), (10, 3)) * (1 + bulge * bulge) / (4 * abs(bulge))
    assert radii
    np.testing.assert_allclose(radii, exact, rtol=1e-7)


@given(st.floats(0.1, 1e4), st.integers(0, 1), shares)
def test_a_circle_stays_a_circle_of_two_vertices(radius, segment, share):
    """It is still recognised, with its centre and radius within 1e-12 of its size."""
    circle = Contour.circle((100.0, -50.0), radius).reversed()
    entered = entered_at(circle, segment, share)
    assert entered.is_circle
    np.testing.assert_allclose(entered.points.mean(axis=0), (100, -50), atol=1e-12 * (100 + radius))
    assert math.dist(*entered.points) / 2 == pytest.approx(radius, rel=1e-12)


def test_an_edge_entered_in_its_middle_is_split_there():
    """The middle of the first side of a rectangle becomes the first vertex."""
    entered = entered_at(Contour.rectangle(4, 2), 0, 0.5)
    assert entered.points.tolist() == [[2, 0], [4, 0], [4, 2], [0, 2], [0, 0]]


def test_corners_of_the_outside_come_first():
    """A clockwise rectangle has 3/2 π of waste at its corners and π along its edges."""
    places = starts(Contour.rectangle(4, 2).reversed())
    assert [round(p.waste / math.pi, 9) for p in places] == [1.5] * 4 + [1.0] * 4
    assert [p.share for p in places] == [0.0] * 4 + [0.5] * 4


def test_a_hole_is_entered_along_its_edges_first():
    """The corners of a counter-clockwise rectangle have little waste and come last."""
    places = starts(Contour.rectangle(4, 2))
    assert [round(p.waste / math.pi, 9) for p in places] == [1.0] * 4 + [0.5] * 4


@given(outlines())
def test_places_lie_on_the_contour(outline):
    """Each place is the first vertex of the contour entered there, exactly."""
    contour = outline.oriented(ccw=False)
    for place in starts(contour):
        entered = entered_at(contour, place.segment, place.share)
        assert entered.points[0].tolist() == [place.x, place.y]
