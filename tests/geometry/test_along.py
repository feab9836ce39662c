"""Stretches of a contour end exactly where they should."""

from hypothesis import given, settings
from hypothesis import strategies as st

from nestlib.geometry.along import Along
from tests.layouts import shifted
from tests.shapes import outlines


@settings(max_examples=200, deadline=None, derandomize=True)
@given(outlines(), st.floats(-50, 50), st.floats(-50, 50), st.floats(0.1, 0.9))
def test_a_stretch_up_to_the_end_comes_back_to_the_very_start(outline, dx, dy, share):
    """To the last digit: a program rounds both, and half a step off they would part."""
    contour = shifted(outline, dx, dy)
    along = Along(contour)
    whole = float(along.marks[-1])
    last = along.stretch(share * whole, whole)
    assert last.points[-1].tolist() == contour.points[0].tolist()
