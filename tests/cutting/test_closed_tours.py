"""Closed tours, against exact dynamic programming."""

import itertools
import math

import numpy as np
import pytest

from nestlib.cutting import closed_tour


def length(xy, tour):
    """Length of a closed tour."""
    return sum(math.dist(xy[a], xy[b]) for a, b in zip(tour, [*tour[1:], *tour[:1]], strict=True))


def held_karp(xy):
    """Optimum by M. Held, R. M. Karp, J. SIAM 10 (1962) 196-210."""
    n = len(xy)
    best = {(1 << i, i): math.dist(xy[0], xy[i]) for i in range(1, n)}
    for size in range(2, n):
        for some in itertools.combinations(range(1, n), size):
            mask = sum(1 << i for i in some)
            for j in some:
                rest = mask & ~(1 << j)
                ways = (best[rest, i] + math.dist(xy[i], xy[j]) for i in some if i != j)
                best[mask, j] = min(ways)
    full = 2**n - 2
    return min(best[full, i] + math.dist(xy[i], xy[0]) for i in range(1, n))


@pytest.mark.parametrize("n", [6, 8, 10])
def test_small_tours_are_optimal(n):
    """Equal to Held-Karp within 1e-9."""
    xy = np.random.default_rng(n).uniform(0, 100, (n, 2)).tolist()
    tour = closed_tour(xy, rounds=500)
    assert sorted(tour) == list(range(n))
    assert length(xy, tour) == pytest.approx(held_karp(xy), rel=1e-9)


@pytest.mark.parametrize("m", [1, 2, 4, 6])
def test_small_tours_through_clusters_are_optimal(m):
    """Equal to the best of all orders and all choices of points, within 1e-9."""
    xy = np.random.default_rng(m).uniform(0, 100, (3 * m, 2)).tolist()
    clusters = [[3 * k, 3 * k + 1, 3 * k + 2][: 1 + k % 3] for k in range(m)]
    tour = closed_tour(xy, clusters, rounds=300)
    assert [sum(i in c for i in tour) for c in clusters] == [1] * m
    best = min(
        length(xy, [first, *points])
        for first in clusters[0]
        for order in itertools.permutations(clusters[1:])
        for points in itertools.product(*order)
    )
    assert length(xy, tour) == pytest.approx(best, rel=1e-9, abs=1e-9)


@pytest.mark.parametrize("n", [0, 1, 2, 3, 5])
def test_tiny_tours_visit_everything(n):
    """No search is needed; nothing is left out."""
    assert sorted(closed_tour([(i, i * i) for i in range(n)])) == list(range(n))


def test_the_same_seed_and_rounds_give_the_same_tour():
    """Also where many distances are equal, and points coincide."""
    xy = [(i % 6, i // 12) for i in range(60)]
    assert closed_tour(xy, rounds=700, seed=3) == closed_tour(xy, rounds=700, seed=3)


def test_an_empty_cluster_is_refused():
    """Nothing could be visited there."""
    with pytest.raises(ValueError, match="every cluster needs a point"):
        closed_tour([(0, 0)], [[0], []])
