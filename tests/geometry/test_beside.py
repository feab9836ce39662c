"""The curve beside a contour, against shapely's offset of a fine flattening."""

import math

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from nestlib.geometry import beside
from nestlib.model import Contour
from tests.cutting.test_cut_path import CHORD, points_along
from tests.shapes import parts, rounded_rectangle, slot


def polygon(contour: Contour) -> shapely.Polygon:
    """Within CHORD of the contour."""
    return shapely.Polygon(points_along(contour))


def assert_beside(contour: Contour, distance: float) -> None:
    """The curve bounds shapely's polygon, grown where the contour is clockwise."""
    found = beside(contour, distance)
    grown = polygon(contour).buffer(-math.copysign(distance, contour.signed_area), quad_segs=200)
    assert found.closed
    assert found.signed_area * contour.signed_area > 0
    assert polygon(found).hausdorff_distance(grown) < 0.01 * distance + 5 * CHORD
    points = shapely.points(points_along(found))
    edge = polygon(contour).exterior
    apart = shapely.distance(points, edge)
    assert np.abs(apart - distance).max() < 3 * CHORD


def test_steiners_formula_for_a_rectangle():
    """Convex K: length P + 2πr and area A + Pr + πr² (Steiner, textbook convex geometry)."""
    found = beside(Contour.rectangle(100, 50).oriented(ccw=False), 5)
    assert found.length == pytest.approx(300 + 2 * math.pi * 5, rel=1e-9)
    assert found.area == pytest.approx(5000 + 300 * 5 + math.pi * 25, rel=1e-9)


def test_half_a_slot_beside_a_disc_and_a_hole():
    """A round part of 100 and a hole of 20 with a slot of 0.2: π·100.2 and π·19.8 mm."""
    disc = beside(Contour.circle((0, 0), 50).oriented(ccw=False), 0.1)
    hole = beside(Contour.circle((0, 0), 10), 0.1)
    assert disc.length == pytest.approx(math.pi * 100.2, rel=1e-12)
    assert hole.length == pytest.approx(math.pi * 19.8, rel=1e-12)


def test_inward_corners_are_cut_off():
    """A rectangle's inside, 90 by 40 mm at 5 mm: exactly a rectangle again."""
    found = beside(Contour.rectangle(100, 50), 5)
    assert found.area == pytest.approx(3600, rel=1e-12)
    assert sorted(map(tuple, found.points.round(9).tolist())) == [
        (5.0, 5.0), (5.0, 45.0), (95.0, 5.0), (95.0, 45.0)
    ]  # fmt: skip


@pytest.mark.parametrize("ccw", [True, False])
@pytest.mark.parametrize("distance", [0.05, 0.25, 1.0])
def test_lines_and_arcs_keep_their_distance(ccw, distance):
    """Slots, rounded and notched outlines, on either side."""
    notched = Contour(
        [(0, 0), (40, 0), (40, 30), (25, 30), (20, 12), (15, 30), (0, 30)],
        [0, 0.4, 0, 0, 0, -0.3, 0],
    )
    for contour in (rounded_rectangle(60, 30, 8), slot(24, 5), notched):
        assert_beside(contour.oriented(ccw=ccw), distance)


def test_short_segments_that_vanish_are_left_out():
    """An inward corner that is broken by 0.1 mm: at 0.5 mm its chamfer is gone."""
    corner = Contour([(0.1, 0), (20, 0), (20, 20), (0, 20), (0, 0.1)])
    assert_beside(corner, 0.5)


def test_a_room_that_is_too_narrow_has_no_path():
    """A hole of 0.3 mm, and a dumbbell whose neck closes."""
    assert beside(Contour.circle((0, 0), 0.15), 0.2) is None
    assert beside(slot(24, 0.15).oriented(ccw=True), 0.2) is None
    neck = [(0, 0), (10, 0), (10, 4.9), (20, 4.9), (20, 0), (30, 0), (30, 10), (20, 10)]
    dumbbell = Contour([*neck, (20, 5.1), (10, 5.1), (10, 10), (0, 10)])
    assert beside(dumbbell, 0.2) is None


@settings(max_examples=60, deadline=None, derandomize=True)
@given(parts("p"), st.sampled_from([0.05, 0.125]))
def test_contours_of_random_parts_keep_their_distance(part, distance):
    """Outside of outer contours, inside of holes."""
    assert_beside(part.outer.oriented(ccw=False), distance)
    for hole in part.inners:
        assert_beside(hole.oriented(ccw=True), distance)
