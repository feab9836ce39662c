"""What no plan can beat.

Several arguments, each of which holds by itself, are put together: see
`nestlib.packing.bounds`.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

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
    least_net,
    most_in_one,
    taken,
    weights,
    whole_prices,
)
from nestlib.packing.interface import Aims, Container, Shape


def lower_bound(
    shapes: Sequence[Shape],
    containers: Sequence[Container],
    missing: Sequence[int] = (),
    aims: Aims | None = None,
    effort: float = 1.0,
    over: Callable[[], bool] = lambda: False,
) -> Bound:
    """Return the least number of containers, their least cost and least net cost, proved.

    Proved for all plans in which clearance polygons lie in the rooms of the containers
    and do not overlap, and which keep the conditions of the shapes.

    Parameters
    ----------
    shapes : sequence of Shape
        What has to be placed; fillers do not count, nor does what fits nowhere.
    containers : sequence of Container
        What there is. Those without a price count as free.
    missing : sequence of int
        For each shape, how many pieces were not placed and so do not count.
    aims : Aims, optional
        Price of a set-up, and what remnants are worth; by default nothing.
    effort : float
        Less of it is faster and proves less: part of what is usual.
    over : callable
        Asked now and then whether to stop with what is proved by then.

    Returns
    -------
    Bound
        What the stock cannot hold by one argument is bounded by the others.

    Examples
    --------
    >>> from shapely import MultiPolygon, box
    >>> part = Shape("plate", box(0, 0, 60, 60), 3600.0, quantity=10)
    >>> sheet = Container("sheet", MultiPolygon([box(0, 0, 100, 100)]), 10_000.0, cost=5.0)
    >>> lower_bound([part], [sheet])
    Bound(sheets=10, cost=50.0, method='parts that cannot share a sheet', net_cost=50.0)
    >>> lower_bound([part], [sheet], aims=Aims(set_up=3.0)).net_cost
    53.0
    """
    given = case(shapes, containers, missing)
    proof = _Proof(given, effort, over)
    sheets, why = proof.least([1] * len(given.spaces))
    cost = 0.0
    if given.spaces:
        prices, unit = whole_prices([s.price or 0.0 for s in given.spaces])
        same = len(set(prices)) == 1
        whole, why_cost = (sheets * prices[0], why) if same else proof.least(prices)
        cost = float(whole * unit)
        if why_cost != why:
            why = f"{why}; cost: {why_cost}"
    net = proof.net(cost, aims or Aims())
    why += ", for the pieces that were placed" if any(missing) else ""
    return Bound(sheets, cost, why, net)


@dataclass(frozen=True)
class Demand:
    """What containers have to hold together, in whatever numbers they are used.

    Parameters
    ----------
    capacities : tuple of int
        What one container of each kind holds at most.
    total : int
        So much they hold together at least.
    why : str
        The argument, in plain words.
    """

    capacities: tuple[int, ...]
    total: int
    why: str


def demands(shapes: Sequence[Shape], containers: Sequence[Container]) -> list[Demand]:
    """Return the arguments behind `lower_bound`, for prices that are not so simple.

    Parameters
    ----------
    shapes, containers
        As for `lower_bound`.

    Returns
    -------
    list of Demand
        All of them hold for every plan of all pieces that fit somewhere.

    Examples
    --------
    >>> from shapely import MultiPolygon, box
    >>> part = Shape("plate", box(0, 0, 60, 60), 3600.0, quantity=10)
    >>> sheet = Container("sheet", MultiPolygon([box(0, 0, 100, 100)]), 10_000.0, cost=5.0)
    >>> min(-(-d.total // d.capacities[0]) for d in demands([part], [sheet]) if d.total)
    4
    """
    given = case(shapes, containers)
    proof = _Proof(given, 1.0)
    if given.spaces:
        proof.least(whole_prices([s.price or 0.0 for s in given.spaces])[0])
    found = _all([*proof.simple, proof.mixes])
    return [Demand(a.capacities, a.total(given), a.why) for a in found]


class _Proof:
    """All arguments about one case, the simple ones first."""

    def __init__(
        self, given: Case, effort: float, over: Callable[[], bool] = lambda: False
    ) -> None:
        self.case, self.effort, self.over = given, effort, over
        self.areas = by_area(given)
        conflicts = [apart(given, k) for k in range(len(given.spaces))]
        rows = [weights(given, k) for k in range(len(given.spaces))]
        self.rules = [
            PatternRules(given, k, c, r)
            for k, (c, r) in enumerate(zip(conflicts, rows, strict=True))
        ]
        most = most_in_one(given, self.rules)
        often = [-(-n // m) for n, m in zip(given.numbers, most, strict=True)]
        self.cliques = cliques(given, conflicts, often)
        self.simple = [
            self.areas,
            by_pairs(given, self.cliques, often, most),
            by_number(given, self.rules, often),
            [a for k, r in enumerate(rows) for a in by_size(given, k, r)],
        ]
        #: Weights by mixes of pieces that were found so far.
        self.mixes: list[Weighting] = []

    def net(self, cost: float, aims: Aims) -> float:
        """Return the least net cost, where the sheets alone cost so much at least."""
        if not self.case.kinds or not (aims.set_up or aims.worth):
            return cost
        takes = taken(self.case, by_area_alone=aims.stepped)
        layouts = max(map(len, self.cliques), default=1)
        groups = [g for g in (*self.simple, self.mixes) if g]
        found = [least_net(self.case, _all(groups), takes, aims, layouts)]
        if found == [None]:
            # The stock does not suffice: what it does suffice for still holds.
            found = [least_net(self.case, g, takes, aims, layouts) for g in groups]
        plain = cost * (1 - aims.worth) + aims.set_up * layouts
        return max([plain, *(net for net in found if net is not None)])

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
        found = by_patterns(self.case, self.rules, prices, whole[0], known, self.effort, self.over)
        self.mixes += found
        return [found] if found else []


def _all(groups: Sequence[Sequence[Weighting]]) -> list[Weighting]:
    return [a for g in groups for a in g]
