"""Chance against closed forms."""

import math

import numpy as np
import pytest
from scipy.stats import binom, norm

from nestlib.buying.demand import enough, from_past, from_ranges, newsvendor_level, with_scrap
from nestlib.buying.simulating import simulate


@pytest.mark.parametrize(
    ("good", "scrap", "service"), [(1, 0.5, 0.9), (20, 0.1, 0.95), (50, 0.02, 0.99)]
)
def test_scrap_allowance_is_the_least_that_suffices(good, scrap, service):
    """P(at most n - good are scrap), summed up from the binomial formula itself."""

    def suffices(n):
        return sum(math.comb(n, k) * scrap**k * (1 - scrap) ** (n - k) for k in range(n - good + 1))

    number = with_scrap(good, scrap, service)
    assert suffices(number) >= service > suffices(number - 1)


def test_the_chance_of_running_short_is_the_binomial_one():
    """Thirty wanted, 33 cut, each scrap with 5 %: short if more than 3 are."""
    demands = np.full((40_000, 1), 30)
    outcome = simulate(np.array([33]), demands, 0.05, 100.0, 2.0, np.random.default_rng(1))
    expected = binom.sf(3, 33, 0.05)
    assert abs(outcome.short - expected) < 4 * outcome.error
    assert outcome.error == pytest.approx(math.sqrt(expected / 40_000), rel=0.2)


def test_expected_cost_of_a_uniform_demand():
    """Demand 0 to 9, 5 cut: 1 + 2 + 3 + 4 = 10 pieces short in ten cases, so 1 on average."""
    demands = np.arange(10).reshape(-1, 1)
    outcome = simulate(np.array([5]), demands, 0.0, 50.0, 7.0, np.random.default_rng(0))
    assert (outcome.short, outcome.pieces_short, outcome.expected_cost) == (0.4, 1.0, 57.0)


def test_newsvendor_with_normal_demand():
    """Mean 100, deviation 20, short 7, left over 3: 100 + 20 z(0.7) = 110.5.

    The quantile of the normal distribution at c_u / (c_u + c_o): K. J. Arrow, T. Harris and
    J. Marschak, Econometrica 19 (1951) 250-272, in the form of today's textbooks.
    """
    chance = np.random.default_rng(3)
    demands = np.rint(chance.normal(100, 20, size=(40_000, 1))).astype(int)
    (found,) = enough(demands, newsvendor_level(7.0, 3.0))
    assert abs(found - (100 + 20 * norm.ppf(0.7))) < 1.0


def test_newsvendor_is_the_cheapest_of_all_numbers():
    """With demand 0 to 19 the expected cost of every number, worked out, is least there."""
    demands = np.arange(20).reshape(-1, 1)
    (found,) = enough(demands, newsvendor_level(7.0, 3.0))

    def expected(n):
        return sum(7 * max(d - n, 0) + 3 * max(n - d, 0) for d in range(20)) / 20

    assert expected(found) == min(expected(n) for n in range(20))


def test_ranges_and_past_weeks_are_drawn_as_they_say():
    """Both ends of a range occur; past weeks keep their parts together; seeds repeat."""
    drawn = from_ranges([2, 5], [4, 5], 2000, np.random.default_rng(0))
    assert {tuple(row) for row in drawn} == {(2, 5), (3, 5), (4, 5)}
    past = np.array([[1, 10], [3, 30]])
    weeks = from_past(past, 2, 500, np.random.default_rng(0))
    assert {tuple(row) for row in weeks} == {(2, 20), (4, 40), (6, 60)}
    assert (weeks == from_past(past, 2, 500, np.random.default_rng(0))).all()
