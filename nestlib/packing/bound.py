"""What no plan can beat.

Several arguments, each of which holds by itself, are put together: see
`nestlib.packing.bounds`.
"""

from __future__ import annotations

from collections.abc import Sequence

from nestlib.model import Bound
from nestlib.packing.bounds import (
    Case,
    PatternRules,
    Weighting,
    apart,
    by_area,
    by_number,
    by_pairs,
    by_patterns,
    by_size,
    case,
    cliques,
    least,
    most_in_one,
    weights,
    whole_prices,
)
from nestlib.packing.interface import Container, Shape


def lower_bound(
    shapes: Sequence[Shape], containers: Sequence[Container], missing: Sequence[int] = ()
) -> Bound:
    """Return the least number of containers and their least cost, proved.

    Proved for all plans in which clearance polygons lie in the rooms of the containers
    and do not overlap.

    Parameters
    ----------
    shapes : sequence of Shape
        What has to be placed; fillers do not count, nor does what fits nowhere.
    containers : sequence of Container
        What there is.
    missing : sequence of int
        For each shape, how many pieces were not placed and so do not count.

    Returns
    -------
    Bound
        The cost is 0 if any container has no price. What the stock cannot hold by one
        argument is bounded by the others.

    Examples
    --------
    >>> from shapely import MultiPolygon, box
    >>> part = Shape("plate", box(0, 0, 60, 60), 3600.0, quantity=10)
    >>> sheet = Container("sheet", MultiPolygon([box(0, 0, 100, 100)]), 10_000.0, cost=5.0)
    >>> lower_bound([part], [sheet])
    Bound(sheets=10, cost=50.0, method='parts that cannot share a sheet')
    """
    given = case(shapes, containers, missing)
    known = [s.price for s in given.spaces if s.price is not None]
    proof = _Proof(given)
    sheets, why = proof.least([1] * len(given.spaces))
    cost = 0.0
    if given.spaces and len(known) == len(given.spaces):
        prices, unit = whole_prices(known)
        same = len(set(prices)) == 1
        whole, why_cost = (sheets * prices[0], why) if same else proof.least(prices)
        cost = float(whole * unit)
        if why_cost != why:
            why = f"{why}; cost: {why_cost}"
    return Bound(sheets, cost, why + (", for the pieces that were placed" if any(missing) else ""))


class _Proof:
    """All arguments about one case, the simple ones first."""

    def __init__(self, given: Case) -> None:
        self.case = given
        self.areas = by_area(given)
        conflicts = [apart(given, k) for k in range(len(given.spaces))]
        rows = [weights(given, k) for k in range(len(given.spaces))]
        self.rules = [
            PatternRules(given, k, c, r)
            for k, (c, r) in enumerate(zip(conflicts, rows, strict=True))
        ]
        most = most_in_one(given, self.rules)
        often = [-(-n // m) for n, m in zip(given.numbers, most, strict=True)]
        self.simple = [
            self.areas,
            by_pairs(given, cliques(given, conflicts, often), often, most),
            by_number(given, self.rules, often),
            [a for k, r in enumerate(rows) for a in by_size(given, k, r)],
        ]

    def least(self, prices: Sequence[int]) -> tuple[int, str]:
        """Return the least price of containers, and what proves it."""
        if not self.case.kinds:
            return 0, "nothing to place"
        groups = [g for g in self.simple if g]
        known = least(self.case, _all(groups), prices)
        if known is not None:
            groups += self._patterns(prices, known)
            known = least(self.case, _all(groups), prices)
        alone = [least(self.case, g, prices) for g in groups]
        if known is None:
            # The stock does not suffice: what it does suffice for still holds.
            known = max((n for n in alone if n is not None), default=0)
        reached = (g[0].why for g, n in zip(groups, alone, strict=True) if n == known)
        return known, next(reached, "together: " + ", ".join(g[0].why for g in groups))

    def _patterns(self, prices: Sequence[int], known: int) -> list[list[Weighting]]:
        whole = [a for a in self.areas if all(a.weights)] or self.areas
        found = by_patterns(self.case, self.rules, prices, whole[0], known)
        return [found] if found else []


def _all(groups: Sequence[Sequence[Weighting]]) -> list[Weighting]:
    return [a for g in groups for a in g]
