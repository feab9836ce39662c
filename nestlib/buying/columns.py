"""Layouts as columns of an integer program, and which of them are worth offering to it.

A column says from which format a layout is cut and how many pieces of each part lie on it.
A piece that is not wanted need not be cut, so a column that holds as much of every part as
another, from the same format, makes that one superfluous. Which of many columns can matter is
told by their reduced cost at the prices of the pieces, as in P. C. Gilmore and R. E. Gomory,
"A linear programming approach to the cutting-stock problem", Operations Research 9 (1961)
849-859.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import linprog

from nestlib.buying.formats import Format, holders

#: So many columns are offered to the integer program at most.
OFFERED = 250


@dataclass(frozen=True)
class Column:
    """A layout as the integer program sees it.

    Parameters
    ----------
    format : int
        From which format it is cut.
    counts : tuple of int
        How many pieces of each part lie on it.
    layout : int
        Which layout it stands for.
    """

    format: int
    counts: tuple[int, ...]
    layout: int = -1


def without_dominated(columns: Iterable[Column]) -> list[Column]:
    """Return the columns that no other one of the same format makes superfluous.

    Examples
    --------
    >>> without_dominated([Column(0, (1, 2)), Column(0, (1, 1)), Column(1, (1, 1))])
    [Column(format=0, counts=(1, 2), layout=-1), Column(format=1, counts=(1, 1), layout=-1)]
    """
    kept: list[Column] = []
    rows: dict[int, list[NDArray[np.int64]]] = {}
    # A column with more pieces is never made superfluous by one with fewer.
    for column in sorted(columns, key=lambda c: (-sum(c.counts), c.format)):
        row, known = np.array(column.counts, np.int64), rows.setdefault(column.format, [])
        if not any((other >= row).all() for other in known):
            known.append(row)
            kept.append(column)
    return kept


def promising(
    columns: Sequence[Column],
    formats: Sequence[Format],
    wanted: Sequence[int],
    most: int = OFFERED,
) -> list[Column]:
    """Return the columns that can matter most, at most a fixed number.

    Parameters
    ----------
    columns : sequence of Column
        All there are.
    formats : sequence of Format
        What they are cut from.
    wanted : sequence of int
        Pieces of each part.
    most : int
        So many are returned at most; among them enough to make all that any of them makes.
    """
    if len(columns) <= most:
        return list(columns)
    cost = np.array([_cost_of_use(formats, c.format) for c in columns], float)
    made = np.array([c.counts for c in columns], float)
    values = _piece_values(cost, made, wanted)
    reduced = cost - made @ values
    order = sorted(range(len(columns)), key=lambda i: (reduced[i], i))
    chosen = list(dict.fromkeys([*_makers(columns, order), *order]))[:most]
    return [columns[i] for i in chosen]


def usable(columns: Sequence[Column], formats: Sequence[Format]) -> list[Column]:
    """Return the columns for which there can be a sheet."""
    there = [any(formats[h].available for h in holders(formats, f)) for f in range(len(formats))]
    return [c for c in columns if there[c.format]]


def _cost_of_use(formats: Sequence[Format], form: int) -> int:
    """What the cheapest sheet costs that can hold what is cut from a format."""
    return min(formats[h].cost_of_use for h in holders(formats, form) if formats[h].available)


def _piece_values(
    cost: NDArray[np.float64], made: NDArray[np.float64], wanted: Sequence[int]
) -> NDArray[np.float64]:
    """Dual prices of the pieces; nothing where these columns cannot make all."""
    makes = made.sum(axis=0) > 0
    needed = np.where(makes, np.array(wanted, float), 0.0)
    result = linprog(cost, A_ub=-made.T, b_ub=-needed)
    if result.status != 0:
        return np.zeros(made.shape[1])
    values: NDArray[np.float64] = np.maximum(0.0, -np.array(result.ineqlin.marginals))
    return values


def _makers(columns: Sequence[Column], order: Sequence[int]) -> list[int]:
    """For each format and part the first column in the order that makes it."""
    found: dict[tuple[int, int], int] = {}
    for i in order:
        for part, n in enumerate(columns[i].counts):
            if n:
                found.setdefault((columns[i].format, part), i)
    return list(dict.fromkeys(found.values()))
