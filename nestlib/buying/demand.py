"""What may be wanted, by chance: ranges or past weeks, and scrap.

A piece that is cut is scrap with a chance of its own, so of n pieces a binomial number is
good. How many to have ready where being short costs more than being left over is the
newsvendor's question: K. J. Arrow, T. Harris and J. Marschak, "Optimal inventory policy",
Econometrica 19 (1951) 250-272.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray
from scipy.stats import binom

Whole = NDArray[np.int64]


def from_ranges(
    low: Sequence[int], high: Sequence[int], samples: int, chance: np.random.Generator
) -> Whole:
    """Return random demands, every whole number of a range equally likely.

    Parameters
    ----------
    low, high : sequence of int
        Least and most pieces of each part, both possible.
    samples : int
        How many demands.
    chance : numpy.random.Generator
        Of all chance.

    Returns
    -------
    ndarray of int, shape (samples, parts)
    """
    shape = (samples, len(low))
    return chance.integers(np.array(low), np.array(high), size=shape, endpoint=True)


def from_past(past: Whole, weeks: int, samples: int, chance: np.random.Generator) -> Whole:
    """Return random demands: so many past weeks drawn with replacement, added up.

    All parts of a week are drawn together, so what was wanted together stays together. This
    is the bootstrap of B. Efron, "Bootstrap methods: another look at the jackknife", Annals of
    Statistics 7 (1979) 1-26.

    Parameters
    ----------
    past : ndarray of int, shape (past weeks, parts)
        What was wanted in each of them.
    weeks : int
        For how many weeks is bought.
    samples : int
        How many demands.
    chance : numpy.random.Generator
        Of all chance.

    Returns
    -------
    ndarray of int, shape (samples, parts)
    """
    drawn = chance.integers(0, len(past), size=(samples, weeks))
    total: Whole = past[drawn].sum(axis=1)
    return total


def with_scrap(good: int, scrap: float, service: float) -> int:
    """Return how many pieces to cut so that enough of them are good.

    Parameters
    ----------
    good : int
        Good pieces wanted.
    scrap : float
        Chance that a piece is scrap, 0 to below 1.
    service : float
        Chance with which there shall be enough, 0 to below 1.

    Returns
    -------
    int
        The least n with P(at least `good` of n are good) >= `service`.

    Examples
    --------
    With every second piece scrap, 1 - 0.5^4 = 0.9375 is the first chance above 0.9:

    >>> with_scrap(1, 0.5, 0.9), with_scrap(7, 0.0, 0.99)
    (4, 7)
    """
    number = good
    while good and binom.sf(good - 1, number, 1 - scrap) < service - 1e-12:
        number += 1
    return number


def newsvendor_level(short: float, left_over: float) -> float:
    """Return the chance with which there shall be enough, where both cost something.

    Parameters
    ----------
    short : float
        Cost of a piece that is missing.
    left_over : float
        Cost of a piece that is left over.

    Examples
    --------
    >>> newsvendor_level(7.0, 3.0)
    0.7
    """
    return short / (short + left_over) if short > 0 else 0.0


def enough(demands: Whole, level: float) -> list[int]:
    """Return for each part the least number that suffices with a chance, in these samples.

    Parameters
    ----------
    demands : ndarray of int, shape (samples, parts)
        Random demands.
    level : float
        The chance, 0 to 1.
    """
    rank = min(max(math.ceil(level * len(demands) - 1e-9), 1), len(demands))
    return [int(n) for n in np.sort(demands, axis=0)[rank - 1]]
