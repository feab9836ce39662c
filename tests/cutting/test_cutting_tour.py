"""Short ways through points."""

import itertools
import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from nestlib.cutting import short_way


def way_length(points, start, order) -> float:
    """Length of the open way from the start."""
    stops = [start, *(points[i] for i in order)]
    return sum(math.dist(a, b) for a, b in itertools.pairwise(stops))


points = st.lists(st.tuples(st.floats(0, 3000), st.floats(0, 1500)), max_size=7)


@settings(max_examples=20, deadline=None)
@given(points)
def test_a_way_through_few_points_is_nearly_the_shortest(found):
    """Every point once; against all permutations: at most 2 % longer, plus rounding.

    Up to five points it is the shortest.
    """
    order = short_way(found, (5.0, 5.0))
    assert sorted(order) == list(range(len(found)))
    best = min(way_length(found, (5.0, 5.0), p) for p in itertools.permutations(range(len(found))))
    slack = 1e-9 if len(found) <= 5 else 0.02 * best + 0.1
    assert way_length(found, (5.0, 5.0), order) <= best + slack


def test_a_long_way_is_much_shorter_than_going_to_the_nearest_point():
    """400 random points, mended in windows: at least 8 % shorter than nearest-first."""
    found = np.random.default_rng(1).uniform(0, 1000, (400, 2))
    order = short_way(found)
    assert sorted(order) == list(range(400))
    here, left, nearest = (0.0, 0.0), set(range(400)), 0.0
    while left:
        step = min(left, key=lambda i: (math.dist(here, found[i]), i))
        nearest += math.dist(here, found[step])
        here = found[step]
        left.remove(step)
    assert way_length(found, (0.0, 0.0), order) < 0.92 * nearest


@pytest.mark.parametrize("n", [0, 1, 2, 40, 170])
def test_the_way_is_always_the_same(n):
    """Two calls agree, whatever the number of points, even if all lie on a grid."""
    found = [(10.0 * (i % 7), 10.0 * (i // 7)) for i in range(n)]
    assert short_way(found) == short_way(found)
