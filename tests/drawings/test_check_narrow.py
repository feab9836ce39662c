"""Holes, slots and webs against thickness and kerf.

The rules are common practice of the trade, without a source.
"""

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import Polygon, box

from nestlib.drawings.narrow import check_narrow, narrow_places
from nestlib.geometry.polygons import region
from nestlib.geometry.transform import turned
from nestlib.model import Contour, Part

THICKNESS, KERF = 3.0, 0.2


def circle(x, y, diameter):
    """Return a hole, clockwise."""
    return Contour.circle((x, y), diameter / 2).reversed()


def slot(x, y, length, width):
    """Return a hole with round ends whose middle line starts at (x, y), clockwise."""
    r = width / 2
    corners = [(x, y - r), (x + length, y - r), (x + length, y + r), (x, y + r)]
    return Contour(corners, [0, 1, 0, 1]).reversed()


def plate(*holes, outer=None):
    """Return a part with these holes."""
    return Part("plate", outer or Contour.rectangle(200, 100), holes)


def codes(part, thickness=THICKNESS, kerf=KERF):
    """Return what is found, by code."""
    return {found.code: found for found in check_narrow(part, thickness, kerf)}


def test_a_hole_as_wide_as_the_thickness_is_fine():
    """Exactly the thickness passes, 0.05 mm less does not."""
    assert codes(plate(circle(50, 50, 3.0))) == {}
    assert set(codes(plate(circle(50, 50, 2.95)))) == {"hole-too-small"}


def test_the_smallest_hole_is_named_and_all_are_placed():
    """One finding lists all holes, to a hundredth of a mm."""
    found = codes(plate(circle(50, 50, 2.0), circle(100, 50, 2.5), circle(150, 50, 8)))
    message = found["hole-too-small"].message
    assert message.startswith("2 holes smaller than the thickness 3 mm; the smallest is 2.00 mm")
    assert found["hole-too-small"].places == ((50.0, 50.0), (100.0, 50.0))


@pytest.mark.parametrize(("diameter", "rarely"), [(2.2, False), (2.0, True)])
def test_a_hole_below_seven_tenths_of_the_thickness_is_said_to_fail(diameter, rarely):
    """0.7 times the thickness is the best that is cut (common practice, no source)."""
    message = codes(plate(circle(50, 50, diameter)))["hole-too-small"].message
    assert ("rarely" in message) == rarely


@pytest.mark.parametrize("angle", [0, 17, 90])
def test_a_narrow_slot_is_measured_across(angle):
    """Whatever way it points; 0.02 mm is the tolerance of the flattened ends."""
    part = Part("plate", Contour.rectangle(200, 100), (turned(slot(60, 20, 30, 1.2), angle / 4),))
    found = codes(part)
    assert set(found) == {"slot-too-narrow"}
    width = float(found["slot-too-narrow"].message.split()[-2])
    assert width == pytest.approx(1.2, abs=0.02)


def test_a_keyhole_is_narrow_at_its_shaft_only():
    """The round end is wide enough; the place lies in the shaft."""
    hole = Contour([(50, 49), (60, 49), (60, 51), (50, 51)], [0, 0, 0, 0]).reversed()
    wide = Contour([(60, 40), (80, 40), (80, 60), (60, 60), (60, 51), (40, 51), (40, 49), (60, 49)])
    found = codes(plate(wide.oriented(ccw=False)))
    assert set(found) == {"slot-too-narrow"}
    ((x, y),) = found["slot-too-narrow"].places
    assert 40 < x < 60
    assert y == pytest.approx(50, abs=0.1)
    assert set(codes(plate(hole))) == {"slot-too-narrow"}


def test_a_notch_from_outside_counts_as_a_slot():
    """What is narrow on the waste side is narrow whether it is closed or not."""
    notched = Contour(
        [(0, 0), (200, 0), (200, 100), (101, 100), (101, 40), (99, 40), (99, 100), (0, 100)]
    )
    found = codes(plate(outer=notched))
    assert set(found) == {"slot-too-narrow"}
    assert found["slot-too-narrow"].places[0][0] == pytest.approx(100)


def test_the_mouth_of_a_pocket_counts_as_a_slot():
    """A pocket that is wide inside is still cut through a narrow mouth."""
    outer = Contour(
        [
            (0, 0),
            (100, 0),
            (100, 60),
            (51, 60),
            (51, 50),
            (80, 50),
            (80, 10),
            (20, 10),
            (20, 50),
            (49, 50),
            (49, 60),
            (0, 60),
        ]
    )
    found = codes(plate(outer=outer))
    assert set(found) == {"slot-too-narrow"}
    assert found["slot-too-narrow"].places[0] == pytest.approx((50, 55), abs=0.5)


def test_webs_between_holes_and_to_the_edge_are_measured_exactly():
    """The shortest bridge between two contours is the web; 0.005 mm for the chords."""
    found = codes(plate(circle(50, 50, 20), circle(71, 50, 20), circle(100, 7, 10)))
    assert set(found) == {"web-too-thin"}
    assert "2 webs" in found["web-too-thin"].message
    assert "1.00 mm" in found["web-too-thin"].message
    assert any(p == pytest.approx((60.5, 50), abs=0.01) for p in found["web-too-thin"].places)


def test_a_thin_arm_is_a_web():
    """Metal may also be thin between two sides of the same contour."""
    comb = Contour([(0, 0), (200, 0), (200, 2), (100, 2), (100, 50), (0, 50)])
    found = codes(plate(outer=comb))
    assert set(found) == {"web-too-thin"}
    assert "2.00 mm" in found["web-too-thin"].message


def test_what_the_beam_cannot_enter_is_lost():
    """A hole narrower than the kerf is an error, and not also too small for the thickness."""
    found = codes(plate(circle(50, 50, 0.15), circle(100, 50, 2)))
    assert set(found) == {"lost-in-kerf", "hole-too-small"}
    assert found["lost-in-kerf"].level == "error"
    assert found["lost-in-kerf"].places == ((50.0, 50.0),)
    assert found["hole-too-small"].places == ((100.0, 50.0),)


def test_metal_thinner_than_the_kerf_is_not_lost():
    """The beam runs on the waste side: it takes nothing from a web."""
    found = codes(plate(circle(50, 50, 20), circle(70.1, 50, 20)))
    assert set(found) == {"web-too-thin"}


def test_nothing_is_compared_with_what_is_not_known():
    """Without thickness and kerf there is nothing to say."""
    part = plate(circle(50, 50, 0.1), circle(50.5, 50, 0.1))
    assert codes(part, thickness=None, kerf=None) == {}


@pytest.mark.parametrize("angle", [20, 45, 90, 150])
def test_a_corner_is_not_narrow_however_wide_its_sides_open(angle):
    """Only what lies between two sides facing each other is narrow, not a tip."""
    half = math.radians(angle / 2)
    tip = Polygon([(0, 0), (100, -100 * math.tan(half)), (100, 100 * math.tan(half))])
    assert narrow_places(tip, THICKNESS) == []


@pytest.mark.parametrize("bulge", [-0.1, 0, 0.3])
def test_a_corner_between_curved_sides_is_not_narrow_either(bulge):
    """The tip of a heart has concave sides, that of a leaf has convex ones."""
    drop = Contour([(0, 0), (40, 60), (-40, 60)], [bulge, 0, bulge])
    assert narrow_places(region(drop), THICKNESS) == []


def test_two_tips_facing_each_other_make_a_neck():
    """The narrowest place may be a single point; its width is found to 0.02 mm."""
    waist = Polygon(
        [
            (0, 0),
            (10, 0),
            (20, 9.5),
            (30, 0),
            (40, 0),
            (40, 20),
            (30, 20),
            (20, 10.5),
            (10, 20),
            (0, 20),
        ]
    )
    (neck,) = narrow_places(waist, THICKNESS)
    assert neck.place == pytest.approx((20, 10), abs=0.01)
    assert neck.width == pytest.approx(1.0, abs=0.02)


@given(st.floats(0.5, 6), st.floats(2.5, 4), st.floats(0, 180))
@settings(max_examples=40, deadline=None)
def test_a_bar_between_two_plates_is_narrow_exactly_if_it_is_narrower(width, limit, angle):
    """Law: a neck of constant width is reported if and only if it is below the limit."""
    bone = box(0, 0, 20, 20) | box(20, 10 - width / 2, 40, 10 + width / 2) | box(40, 0, 60, 20)
    ring = turned(Contour(list(bone.exterior.coords)[:-1]), angle)
    found = narrow_places(Polygon(ring.points), limit)
    if abs(width - limit) < 0.03:
        return  # closer than the slack that is forgiven
    assert bool(found) == (width < limit)
    if found:
        assert found[0].width == pytest.approx(width, abs=0.02)
