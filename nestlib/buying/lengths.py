"""Sheets that are cut to order: a layout takes the shortest length that holds it.

To prove a bound, the lengths of an offer are put into a few bands: a band is a sheet as long
as its longest and as cheap as its shortest, so whatever is cut from one of its lengths could
be cut from it for no more.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Sequence

#: So many lengths of an offer are packed, and so many bands are proved with.
LENGTHS, BANDS = 4, 12


def tried(lengths: Sequence[float], most: int = LENGTHS) -> list[float]:
    """Return some of the lengths, evenly from the longest down to about the shortest.

    Examples
    --------
    >>> tried([1000, 1100, 1200, 1300, 1400, 1500, 1600], most=3)
    [1600, 1300, 1000]
    """
    steps = min(most, len(lengths))
    last = len(lengths) - 1
    return [lengths[last - round(i * last / max(1, steps - 1))] for i in range(steps)]


def shortest_holding(lengths: Sequence[float], needed: float) -> int:
    """Return the index of the shortest length that is long enough.

    Parameters
    ----------
    lengths : sequence of float
        The shortest first.
    needed : float
        In the same unit; no more than the longest. A millionth less still counts as enough.

    Examples
    --------
    >>> shortest_holding([1000, 1100, 1200], 1050), shortest_holding([1000, 1100], 900)
    (1, 0)
    """
    return min(bisect_left(lengths, needed - 1e-6), len(lengths) - 1)


def bands(lengths: Sequence[float], most: int = BANDS) -> list[tuple[float, float]]:
    """Return bands of lengths, each as its shortest and longest.

    Examples
    --------
    >>> bands([1, 2, 3, 4, 5], most=2)
    [(1, 3), (4, 5)]
    """
    size = -(-len(lengths) // most)
    parts = [lengths[i : i + size] for i in range(0, len(lengths), size)]
    return [(part[0], part[-1]) for part in parts]
