"""How often something is short, and what that costs on average, by simulation.

Nothing is cut anew in the simulation: of each part a fixed number is cut, some of it is scrap,
and what is wanted beyond the good pieces is short.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from nestlib.buying.demand import Whole

#: Demands that are drawn for every figure.
SAMPLES = 20_000


@dataclass(frozen=True)
class Outcome:
    """What came of many draws.

    Parameters
    ----------
    short : float
        Chance that any part is short, 0 to 1.
    error : float
        Standard error of it.
    pieces_short : float
        Pieces that are short, on average.
    expected_cost : float
        What the order costs and, on average, what is short, in the unit of both.
    """

    short: float
    error: float
    pieces_short: float
    expected_cost: float


def simulate(
    cut: Whole,
    demands: Whole,
    scrap: float,
    cost: float,
    each_short: float,
    chance: np.random.Generator,
) -> Outcome:
    """Return what comes of cutting fixed numbers of pieces.

    Parameters
    ----------
    cut : ndarray of int, shape (parts,)
        Pieces of each part that are cut.
    demands : ndarray of int, shape (samples, parts)
        What is wanted, by chance.
    scrap : float
        Chance that a piece is scrap.
    cost : float
        Of the order.
    each_short : float
        Cost of each piece that is short.
    chance : numpy.random.Generator
        Of the scrap.
    """
    good = chance.binomial(cut, 1 - scrap, size=demands.shape) if scrap else cut
    missing = np.maximum(demands - good, 0)
    short = float((missing > 0).any(axis=1).mean())
    error = float(np.sqrt(short * (1 - short) / len(demands)))
    pieces = float(missing.sum(axis=1).mean())
    return Outcome(short, error, pieces, cost + each_short * pieces)
