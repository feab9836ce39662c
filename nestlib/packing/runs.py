"""How often each layout shall be cut, where few different layouts are wanted.

A filling that takes all that fits makes a full layout, one that is full but for what is
wanted less often, and so on: many layouts, cut once or twice. Here the runs come first: the
number of sheets is split into as many numbers as there shall be layouts, and each layout
takes no more of a shape than lets it be cut so often, and the others make the rest.

References
----------
C. McDiarmid, "Pattern minimisation in cutting stock problems", Discrete Applied Mathematics
98 (1999) 121-130, for how hard it is to have few layouts.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import lru_cache
from itertools import islice

#: Most different layouts that runs are made for, and most lists of runs.
_LAYOUTS, _LISTS = 4, 60

Runs = tuple[int, ...]


def run_lists(sheets: int, price: float, set_up: float, most: int) -> list[Runs]:
    """Return how often layouts may be cut, what costs least first.

    Parameters
    ----------
    sheets : int
        How many sheets the best plan has.
    price : float
        Of a sheet, on the average.
    set_up : float
        Of a layout.
    most : int
        Most layouts.

    Returns
    -------
    list of tuple of int
        Descending, without layouts that are cut once: those come by themselves.

    Examples
    --------
    >>> run_lists(3, price=10.0, set_up=4.0, most=2)
    [(2,), (3,), (4,), (2, 2), (5,), (6,)]
    """
    few = range(1, min(most, _LAYOUTS) + 1)
    totals = range(-(-sheets // 2), 2 * sheets + 1)
    # Where more than one layout is cut, hardly more sheets pay off than there are now.
    sums = sorted(
        (n * price + k * set_up, k, n) for k in few for n in totals if k == 1 or n <= sheets + 1
    )
    often = (tuple(r for r in runs if r > 1) for _, k, n in sums for runs in _split(n, k, n))
    return list(islice(dict.fromkeys(runs for runs in often if runs), _LISTS))


def _split(total: int, parts: int, largest: int) -> Iterator[Runs]:
    """Ways to write a number as a sum of so many, none larger than the one before."""
    if parts == 1:
        if 1 <= total <= largest:
            yield (total,)
        return
    for first in range(min(total - parts + 1, largest), 0, -1):
        for rest in _split(total - first, parts - 1, first):
            yield (first, *rest)


def share(wanted: int, runs: Runs) -> int:
    """Return the most pieces that the first of some layouts may take of a shape.

    Parameters
    ----------
    wanted : int
        How many are wanted in all.
    runs : tuple of int
        How often each of the layouts is cut.

    Returns
    -------
    int
        The others can make the rest without any surplus, where any number lets them.

    Examples
    --------
    >>> share(50, (2, 1)), share(9, (4, 3))
    (25, 0)
    """
    return trimmed(wanted // runs[0], wanted, runs)


def trimmed(pieces: int, wanted: int, runs: Runs) -> int:
    """Return how many of the pieces of one shape may stay on the first of some layouts.

    Parameters
    ----------
    pieces : int
        On that layout.
    wanted : int
        How many are wanted in all.
    runs : tuple of int
        How often each of the layouts is cut.
    """
    first, rest = runs[0], runs[1:]
    if not rest or rest[-1] == 1:
        return pieces
    made = _makeable(rest, wanted)
    return next((n for n in range(pieces, -1, -1) if made[wanted - n * first]), pieces)


@lru_cache(maxsize=64)
def _makeable(runs: Runs, most: int) -> Sequence[bool]:
    """For each number up to one, whether layouts that are cut so often can make it."""
    made = [True] + [False] * most
    for r in runs:
        for n in range(r, most + 1):
            made[n] = made[n] or made[n - r]
    return made
