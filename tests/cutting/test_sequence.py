"""Ways that keep what has to come first, against all permutations."""

import itertools
import math

import numpy as np
import pytest

from nestlib.cutting.sequence import Stop, short_sequence


def length(stops, order, places):
    """Length of the open way from (0, 0)."""
    spots = [(0.0, 0.0), *(stops[i].places[k] for i, k in zip(order, places, strict=True))]
    return sum(math.dist(a, b) for a, b in itertools.pairwise(spots))


def chance(n, seed, most=3):
    """Stops with some places each, and pairs that a lower number comes first in."""
    random = np.random.default_rng(seed)
    stops = [
        Stop(tuple(map(tuple, random.uniform(0, 100, (random.integers(1, most), 2)))), (), i, i)
        for i in range(n)
    ]
    return stops, [p for p in itertools.combinations(range(n), 2) if random.random() < 0.15]


def keeps(order, pairs):
    """Whether the first of every pair comes first."""
    when = {a: i for i, a in enumerate(order)}
    return all(when[a] < when[b] for a, b in pairs)


def brute_force(stops, pairs):
    """Optimum over all orders and places."""
    every = (o for o in itertools.permutations(range(len(stops))) if keeps(o, pairs))
    return min(
        length(stops, order, places)
        for order in every
        for places in itertools.product(*(range(len(stops[i].places)) for i in order))
    )


@pytest.mark.parametrize("seed", range(6))
def test_tiny_ways_are_optimal(seed):
    """Equal to the best of all permutations and places within 1e-9."""
    stops, pairs = chance(6, seed)
    way = short_sequence(stops, pairs, rounds=2000)
    assert keeps(way.order, pairs)
    assert way.cost == pytest.approx(length(stops, way.order, way.places), rel=1e-9)
    assert way.cost == pytest.approx(brute_force(stops, pairs), rel=1e-9)


@pytest.mark.parametrize("together", [True, False])
def test_pairs_and_units_are_kept_in_random_plans(together):
    """50 plans each: every stop once, pairs kept, units in a row, never longer than nearest."""
    for seed in range(50):
        random = np.random.default_rng(seed)
        stops, pairs = [], []
        for piece in range(12):
            holes = range(len(stops), len(stops) + int(random.integers(0, 5)))
            pairs += [(h, holes.stop) for h in holes]
            for i in range(holes.start, holes.stop + 1):
                spot = tuple(random.uniform(0, 300, 2))
                stops.append(Stop((spot,), (), piece if together else i, piece))
        outers = sorted({b for _, b in pairs})
        if len(outers) > 1:
            pairs += [(outers[0], a) for a, b in pairs if b == outers[1]]
        way = short_sequence(stops, pairs, rounds=300, seed=seed)
        assert sorted(way.order) == list(range(len(stops)))
        assert keeps(way.order, pairs)
        runs = [u for u, _ in itertools.groupby(stops[i].unit for i in way.order)]
        assert len(runs) == len(set(runs))
        assert way.cost <= short_sequence(stops, pairs, rounds=0).cost + 1e-9
        assert way == short_sequence(stops, pairs, rounds=300, seed=seed)


def test_short_steps_are_avoided_where_they_can_be():
    """On a line of ten stops 10 mm apart, steps of 15 mm or more are possible throughout."""
    stops = [Stop(((10.0 * i + 20, 0.0),), (), i, i) for i in range(10)]
    way = short_sequence(stops, apart=15.0, rounds=3000)
    spots = [stops[i].places[0][0] for i in way.order]
    assert all(abs(a - b) >= 15 for a, b in itertools.pairwise(spots))
