"""Times with limited jerk: closed forms, a worked example, and an integration by steps.

The closed forms of the move from rest to rest are worked out from the definition: the jerk
is +j, 0, -j, 0, -j, 0, +j (textbook double S; Biagiotti and Melchiorri 2008, from memory).
"""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from nestlib.cutting.motion import Limits, Stretch, run_time, stretches, travel_time
from nestlib.cutting.ramps import Ramps
from nestlib.model import Contour


@pytest.mark.parametrize(
    ("way", "speed", "acceleration", "jerk", "seconds", "peak"),
    [
        # Neither is reached: ∛(32 · 2 / 1) = 4 s; half-way after 2 s at ∛(2² · 1 / 4) = 1.
        (2.0, 100.0, 100.0, 1.0, 4.0, 1.0),
        # Acceleration 2 reached after 1 s, for 1 s, down in 1 s: peak 4 after 3 s, way 2 · 6.
        (12.0, 100.0, 2.0, 2.0, 6.0, 4.0),
        # Speed 4 reached so, and held over 12 more mm: 3 s more.
        (24.0, 4.0, 2.0, 2.0, 9.0, 4.0),
        # Speed 1 reached in 2 · √(1 / 1) = 2 s with an acceleration below 100; 2 mm of ramps.
        (5.0, 1.0, 100.0, 1.0, 7.0, 1.0),
    ],
)
def test_moves_from_rest_to_rest_by_hand(way, speed, acceleration, jerk, seconds, peak):
    """Peak velocity reached or not, greatest acceleration reached or not."""
    limits = Limits(speed, acceleration, jerk=jerk)
    assert travel_time(way, limits) == pytest.approx(seconds, rel=1e-9)
    found = min(speed, Ramps(acceleration, jerk).peak(0.0, 0.0, way))
    assert found == pytest.approx(peak, rel=1e-9)


positive = st.floats(0.5, 200.0)


def by_steps(way, speed, a, j, steps=20000):
    """Time of the move by integrating the jerk: forward until the middle of the way."""
    change = min(speed, a * a / j)
    rise = math.sqrt(change / j) if change < a * a / j else a / j
    # The first ramp up to the speed, as acceleration over time; cut off at half of the way.
    hold = max(0.0, (speed - a * a / j) / a) if change == a * a / j else 0.0
    times = np.linspace(0.0, 2 * rise + hold, steps)
    accelerations = np.minimum(np.minimum(j * times, j * (times[-1] - times)), j * rise)
    step = times[1]
    speeds = np.concatenate([[0.0], np.cumsum((accelerations[1:] + accelerations[:-1]) / 2 * step)])
    ways = np.concatenate([[0.0], np.cumsum((speeds[1:] + speeds[:-1]) / 2 * step)])
    return times[-1], ways[-1], speeds[-1]


@settings(max_examples=60, deadline=None, derandomize=True)
@given(positive, positive, positive)
def test_a_ramp_is_the_integral_of_its_jerk(speed, a, j):
    """Time, way and speed at its end, by summing 20000 steps."""
    seconds, way, reached = by_steps(1.0, speed, a, j)
    assert reached == pytest.approx(speed, rel=1e-3)
    assert Ramps(a, j).time(speed) == pytest.approx(seconds, rel=1e-6)
    assert Ramps(a, j).way(0.0, speed) == pytest.approx(way, rel=1e-3)


@settings(max_examples=100, deadline=None, derandomize=True)
@given(positive, positive, positive, positive)
def test_the_closed_form_of_a_whole_move(way, speed, a, j):
    """All four cases of the formulas in the docstring, written out again."""
    ramp = speed / a + a / j if speed >= a * a / j else 2 * math.sqrt(speed / j)
    if way >= speed * ramp:
        expected = way / speed + ramp
    elif way >= 2 * a**3 / j**2:
        expected = a / j + math.sqrt((a / j) ** 2 + 4 * way / a)
    else:
        expected = (32 * way / j) ** (1 / 3)
    assert travel_time(way, Limits(speed, a, jerk=j)) == pytest.approx(expected, rel=1e-7)


@settings(max_examples=60, deadline=None, derandomize=True)
@given(positive, positive, st.floats(0.0, 1.0), st.floats(0.0, 1.0), positive)
def test_jerk_takes_time_and_vanishes_when_it_is_large(speed, a, first, second, j):
    """No chain is faster with it; with an enormous one it is as fast as without."""
    contour = Contour([(0, 0), (50, 0), (50 + 40 * first, 30 * second), (200, 80)], closed=False)
    chain = stretches(contour)
    plain = run_time(chain, Limits(speed, a, corner_deviation=0.1))
    slow = run_time(chain, Limits(speed, a, corner_deviation=0.1, jerk=j))
    quick = run_time(chain, Limits(speed, a, corner_deviation=0.1, jerk=1e12))
    assert slow >= plain * (1 - 1e-9)
    assert quick == pytest.approx(plain, rel=1e-4)


def test_a_line_in_two_halves_is_no_faster_than_whole():
    """At a joint the acceleration is 0, so dividing a ramp can only slow it down."""
    limits = Limits(100.0, 50.0, corner_deviation=0.1, jerk=200.0)
    whole = run_time([Stretch(200.0, math.inf, 0.0, 0.0)], limits)
    halves = run_time([Stretch(100.0, math.inf, 0.0, 0.0)] * 2, limits)
    assert halves >= whole * (1 - 1e-12)
