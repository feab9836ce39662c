"""Whole shares of a whole, that add up exactly."""

from __future__ import annotations

import math
from collections.abc import Sequence
from fractions import Fraction


def largest_remainders(total: int, weights: Sequence[Fraction]) -> list[int]:
    """Return whole shares of a whole total, in proportion to weights.

    Each share is rounded down, and what is left goes, one by one, to the largest remainders;
    among equal ones to the first.

    Examples
    --------
    >>> largest_remainders(100, [Fraction(1), Fraction(1), Fraction(1)])
    [34, 33, 33]
    """
    whole = sum(weights)
    if not whole:
        weights, whole = [Fraction(1)] * len(weights), Fraction(len(weights))
    exact = [total * w / whole for w in weights]
    shares = [math.floor(e) for e in exact]
    order = sorted(range(len(exact)), key=lambda i: (shares[i] - exact[i], i))
    for i in order[: total - sum(shares)]:
        shares[i] += 1
    return shares
