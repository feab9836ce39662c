"""Corners that the round beam does not reach."""

import math

import pytest

from nestlib.drawings.corners import check_corners
from nestlib.model import Contour, Part

KERF = 0.4


def corners(outer, *holes, kerf=KERF):
    """Return what is found about a plate."""
    return list(check_corners(Part("plate", outer, holes), kerf))


def test_outside_corners_stay_sharp():
    """The beam runs around them on the waste side."""
    assert corners(Contour.rectangle(100, 50)) == []


def test_the_inside_corner_of_an_angle_is_rounded():
    """A right angle keeps r (√2 - 1) of metal in its tip, r being half of the kerf."""
    angle = Contour([(0, 0), (50, 0), (50, 10), (10, 10), (10, 50), (0, 50)])
    (found,) = corners(angle)
    assert found.code == "corner-rounded"
    assert found.places == ((10.0, 10.0),)
    assert f"{0.2 * (math.sqrt(2) - 1):.2f} mm" in found.message


def test_all_corners_of_a_square_hole_are_rounded():
    """In a hole the waste lies inside, so its convex corners are the ones."""
    (found,) = corners(
        Contour.rectangle(100, 50), Contour([(10, 10), (10, 20), (20, 20), (20, 10)])
    )
    assert len(found.places) == 4


@pytest.mark.parametrize(("radius", "rounded"), [(0.05, True), (0.2, False), (1.0, False)])
def test_a_fillet_is_reached_if_it_is_as_large_as_the_beam(radius, rounded):
    """Only fillets tighter than half of the kerf change."""
    r, bulge = radius, -math.tan(math.pi / 8)
    angle = Contour(
        [(0, 0), (50, 0), (50, 10), (10 + r, 10), (10, 10 + r), (10, 50), (0, 50)],
        [0, 0, 0, bulge, 0, 0, 0],
    )
    assert bool(corners(angle)) == rounded


def test_flattened_curves_are_no_corners():
    """Turns that leave less than the tolerance of drawings in the tip are not reported."""
    turn = [2 * math.pi * i / 90 for i in range(90)]
    hole = Contour([(50 + 9 * math.cos(a), 25 + 9 * math.sin(a)) for a in turn]).reversed()
    assert corners(Contour.rectangle(100, 50), hole) == []


def test_slots_with_round_ends_have_no_corners():
    """Half circles meet their straight sides without a turn."""
    slot = Contour([(20, 20), (60, 20), (60, 25), (20, 25)], [0, 1, 0, 1]).reversed()
    assert corners(Contour.rectangle(100, 50), slot) == []
