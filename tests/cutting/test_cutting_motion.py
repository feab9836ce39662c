"""Times of lines and arcs against closed forms of uniformly accelerated motion.

Source of every formula here: textbook kinematics (constant acceleration, s = v t + a t²/2,
v² = u² + 2 a s, centripetal acceleration v²/r), worked out by hand beside the check.
"""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from nestlib.cutting.motion import Limits, joined, run_time, stretches, travel_time
from nestlib.model import Contour

THOUSANDTH = 1e-3

SQUARE = Contour([(0, 0), (100, 0), (100, 100), (0, 100)])


def line(*points: tuple[float, float]) -> Contour:
    """An open chain of straight lines."""
    return Contour(points, closed=False)


def test_a_long_line_is_a_trapezoid():
    """Reaching v takes v²/2a = 25 mm each way: t = d/v + v/a = 400/50 + 50/50 = 9 s."""
    seconds = run_time(stretches(line((0, 0), (400, 0))), Limits(50.0, 50.0))
    assert seconds == pytest.approx(9.0, rel=THOUSANDTH)


def test_a_short_line_is_a_triangle():
    """v is not reached: half the way at a takes √(d/a), so t = 2 √(18/50) = 1.2 s."""
    seconds = run_time(stretches(line((0, 0), (0, 18))), Limits(50.0, 50.0))
    assert seconds == pytest.approx(1.2, rel=THOUSANDTH)


def test_both_meet_where_the_speed_is_just_reached():
    """At d = v²/a both formulas give 2 v/a."""
    v, a = 30.0, 45.0
    assert travel_time(v * v / a, Limits(v, a)) == pytest.approx(2 * v / a, rel=1e-12)


def test_a_square_with_a_stop_at_each_corner_is_four_lines():
    """t = 4 (d/v + v/a) = 4 (100/50 + 50/500) = 8.4 s."""
    assert run_time(stretches(SQUARE), Limits(50.0, 500.0)) == pytest.approx(8.4, rel=THOUSANDTH)


def test_a_circle_is_run_at_the_speed_that_its_acceleration_allows():
    """v = √(a r) = √(500 · 5) = 50 mm/s; t = 2π r/v + v/a = 10π/50 + 0.1 s."""
    circle = Contour.circle((3, 4), 5)
    expected = 2 * math.pi * 5 / 50 + 50 / 500
    assert run_time(stretches(circle), Limits(1000.0, 500.0)) == pytest.approx(
        expected, rel=THOUSANDTH
    )


def test_a_wide_circle_is_run_at_full_speed():
    """√(a r) = 100 mm/s is more than the 50 of the feed: t = 2π r/v + v/a."""
    circle = Contour.circle((0, 0), 20)
    expected = 2 * math.pi * 20 / 50 + 50 / 500
    assert run_time(stretches(circle), Limits(50.0, 500.0)) == pytest.approx(
        expected, rel=THOUSANDTH
    )


def test_a_zig_zag_keeps_the_speed_that_the_allowed_jump_leaves():
    """Turns of 90°: 2 c sin 45° = Δ = 14.142 gives c = 10 mm/s at each of three corners.

    Each line of 40 mm speeds up to v = 50 and down again at a = 100. Between corners:
    ramps take 2 (50-10)/100 = 0.8 s over 2 (2500-100)/200 = 24 mm, 16 mm at 50 take 0.32 s.
    At the ends one ramp begins at rest: 0.5 + 0.4 = 0.9 s over 12.5 + 12 = 24.5 mm, and
    15.5 mm take 0.31 s. Together 2 · 1.12 + 2 · 1.21 = 4.66 s.
    """
    side = 40 / math.sqrt(2)
    zig_zag = line((0, 0), (side, side), (2 * side, 0), (3 * side, side), (4 * side, 0))
    limits = Limits(50.0, 100.0, corner_jump=10 * math.sqrt(2))
    assert run_time(stretches(zig_zag), limits) == pytest.approx(4.66, rel=THOUSANDTH)


def test_a_corner_is_rounded_as_far_as_it_may_be():
    """90° rounded within δ = 0.1: r = δ / (√2 - 1) = 0.24142, c = √(a r) = √241.42 = 15.538.

    Two lines of 30 mm at v = 50, a = 1000: ramps 0 to 50 and 50 to c; no textbook number,
    but the same closed form by hand.
    """
    corner = math.sqrt(1000 * 0.1 / (math.sqrt(2) - 1))
    ramps = (50 + 50 - corner) / 1000
    rest = (30 - (2 * 2500 - corner**2) / 2000) / 50
    limits = Limits(50.0, 1000.0, corner_deviation=0.1)
    seconds = run_time(stretches(line((0, 0), (30, 0), (30, 30))), limits)
    assert seconds == pytest.approx(2 * (ramps + rest), rel=THOUSANDTH)


def test_a_fine_polygon_is_run_like_its_circle():
    """A circle of radius 10 in 720 chords: the arcs at its corners have its radius at most.

    √(500 · 10) = 70.7 mm/s; t = 2π r/v + v/a. Over half a chord h the head gains a h / v,
    500 · 0.0436 / 70.7 = 0.31 of 70.7 mm/s, so up to 0.4 % may be saved.
    """
    angles = np.linspace(0, 2 * math.pi, 720, endpoint=False)
    polygon = Contour(10 * np.stack([np.cos(angles), np.sin(angles)], axis=1))
    v = math.sqrt(5000)
    expected = 2 * math.pi * 10 / v + v / 500
    limits = Limits(1000.0, 500.0, corner_deviation=0.05)
    assert 0.996 * expected <= run_time(stretches(polygon), limits) <= expected


def test_look_ahead_brakes_over_several_short_lines():
    """Ten lines of 1 mm in a row are one line of 10 mm: 2 √(10/50) s."""
    chain = line(*((float(x), 0.0) for x in range(11)))
    assert run_time(stretches(chain), Limits(50.0, 50.0)) == pytest.approx(
        2 * math.sqrt(10 / 50), rel=1e-9
    )


def test_a_lead_that_runs_in_smoothly_costs_no_stop():
    """Straight on from a lead of 20 mm into an edge of 80 mm: one line of 100 mm."""
    limits = Limits(50.0, 100.0)
    parts = [line((0, 0), (20, 0)), line((20, 0), (100, 0))]
    assert run_time(joined(parts), limits) == pytest.approx(100 / 50 + 50 / 100, rel=1e-9)


def test_without_an_acceleration_the_time_is_length_over_speed():
    """400 mm at 50 mm/s."""
    assert run_time(stretches(SQUARE), Limits(50.0)) == pytest.approx(8.0, rel=1e-12)


speeds = st.floats(1, 1000)


@given(
    st.lists(st.tuples(st.floats(-500, 500), st.floats(-500, 500)), min_size=2, max_size=8),
    st.floats(-0.9, 0.9), speeds, st.floats(10, 20000), st.floats(0.001, 0.5),
)  # fmt: skip
def test_times_lie_between_the_bounds_of_kinematics(points, bulge, v, a, deviation):
    """Not below length over speed; not above stopping at each joint; slower corners cost."""
    contour = Contour(points, [bulge] * len(points), closed=False)
    chain = [s for s in stretches(contour) if s.length > 1e-3]
    seconds = run_time(chain, Limits(v, a, corner_deviation=deviation))
    stopping = run_time(chain, Limits(v, a))
    assert seconds >= sum(s.length for s in chain) / v * (1 - 1e-9)
    assert seconds <= stopping * (1 + 1e-9)
    assert run_time(chain, Limits(v, a, corner_deviation=deviation / 2)) >= seconds * (1 - 1e-9)
    turned = run_time(stretches(contour.reversed()), Limits(v, a, corner_deviation=deviation))
    forward = run_time(stretches(contour), Limits(v, a, corner_deviation=deviation))
    assert turned == pytest.approx(forward, rel=1e-6, abs=1e-6)
