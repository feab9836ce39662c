"""Moving, turning and mirroring keep what must be kept."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from nestlib.geometry import mirrored, placed, turned
from nestlib.model import Contour, Placement

hook = Contour([(0, 0), (60, 0), (60, 20), (20, 30)], [0.3, 0, -0.5, 0.1])
angles = st.floats(0, 359.99)


@given(angles, st.booleans(), st.floats(-1e4, 1e4), st.floats(-1e4, 1e4))
def test_placing_keeps_area_and_length(rotation, flip, x, y):
    """A placement is a congruence: relative 1e-9."""
    there = placed(hook, Placement("hook", rotation, flip, x, y))
    assert there.area == pytest.approx(hook.area, rel=1e-9)
    assert there.length == pytest.approx(hook.length, rel=1e-9)


def test_quarter_turns_are_exact():
    """Four quarter turns give back the very same numbers."""
    there = turned(turned(turned(turned(hook, 90), 90), 90), 90)
    assert (there.points == hook.points).all()


def test_a_flip_negates_bulges_and_x():
    """Mirroring twice is the identity; once, the direction turns round."""
    assert mirrored(hook).signed_area == -hook.signed_area
    assert (mirrored(mirrored(hook)).bulges == hook.bulges).all()
