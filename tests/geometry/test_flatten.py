"""Lines instead of arcs: which side, and how close."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely import Polygon

from nestlib.geometry import arc_bulge, arc_centre, arc_radius, flatten, region
from nestlib.model import Contour

bulges = st.floats(0.01, 1.0).flatmap(lambda b: st.sampled_from([b, -b]))


def test_number_of_chords_follows_the_sagitta():
    """R = 50, sagitta 0.01 mm: n >= pi / acos(1 - e / R) = 158, by semicircles (closed form)."""
    n = len(flatten(Contour.circle((0, 0), 50), 0.01))
    assert n == 158


@pytest.mark.parametrize(("side", "sign"), [("left", -1), ("right", 1)])
def test_side_of_a_circle(side, sign):
    """Left of a counter-clockwise circle is inside, right of it outside."""
    area = Polygon(flatten(Contour.circle((3, 4), 50), 0.02, side)).area
    assert sign * (area - math.pi * 2500) > 0
    assert area == pytest.approx(math.pi * 2500, abs=0.02 * 2 * math.pi * 50)


@given(st.floats(0.5, 500), bulges, st.sampled_from([0.001, 0.02]))
def test_flattened_points_stay_within_the_chord(length, bulge, chord):
    """No vertex is further from the arc than the tolerance, on either side."""
    arc = Contour([(0, 0), (length, 0)], [bulge, 0], closed=False)
    centre = np.array(arc_centre((0, 0), (length, 0), bulge))
    radius = arc_radius((0, 0), (length, 0), bulge)
    for side in ("on", "left", "right"):
        distance = np.hypot(*(flatten(arc, chord, side) - centre).T) - radius
        assert np.abs(distance).max() <= chord * 1.0001 + 1e-9 * radius


@given(st.floats(5, 500), st.floats(5, 500), bulges)
def test_outside_covers_and_inside_is_covered(width, height, bulge):
    """The true region lies between its inside and its outside polygon."""
    shape = Contour(
        [(0, 0), (width, 0), (width, height), (0, height)], [0.1 * bulge, 0, bulge / 8, 0]
    )
    inside, outside = (region(shape, chord=0.02, side=s).area for s in ("inside", "outside"))
    assert inside <= shape.area * (1 + 1e-12)
    assert outside >= shape.area * (1 - 1e-12)


@pytest.mark.parametrize(
    ("degrees", "bulge"),
    [(30, 0.131652498), (60, 0.267949192), (90, 0.414213562), (120, 0.577350269), (180, 1.0)],
)
def test_bulge_is_the_tangent_of_a_quarter_of_the_angle(degrees, bulge):
    """DXF Reference, LWPOLYLINE group code 42; values computed from that definition."""
    assert arc_bulge(math.radians(degrees)) == pytest.approx(bulge, abs=1e-9)
