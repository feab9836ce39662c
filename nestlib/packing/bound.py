"""What no plan can beat.

Several arguments, each of which holds by itself, are put together: see
`nestlib.packing.bounds`.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from nestlib.model import Bound
from nestlib.packing.bounds import (
    Mixes,
    PatternRules,
    Weighting,
    apart,
    by_area,
    by_number,
    by_pairs,
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
    return Proof(shapes, containers, missing, aims).bound(effort)


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
    proof = Proof(shapes, containers)
    given = proof.case
    if given.spaces:
        prices, _ = whole_prices([s.price or 0.0 for s in given.spaces])
        proof.least(prices, 1.0, lambda: False)
    found = _all([*proof.simple, proof.mixes])
    return [Demand(a.capacities, a.total(given), a.why) for a in found]


class Proof:
    """All arguments about one case, the simple ones first; goes on where it stopped.

    Parameters
    ----------
    shapes, containers, missing, aims
        As for `lower_bound`.
    """

    def __init__(
        self,
        shapes: Sequence[Shape],
        containers: Sequence[Container],
        missing: Sequence[int] = (),
        aims: Aims | None = None,
    ) -> None:
        self.case = given = case(shapes, containers, missing)
        self.aims, self.partly = aims or Aims(), any(missing)
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
        #: Looks for weights by mixes of pieces, for each choice of prices.
        self.searches: dict[tuple[int, ...], Mixes] = {}

    @property
    def mixes(self) -> list[Weighting]:
        """Return the weights by mixes of pieces that were found so far."""
        return [w for search in self.searches.values() for w in search.kept]

    def bound(self, effort: float = 1.0, over: Callable[[], bool] = lambda: False) -> Bound:
        """Return what is proved after some more effort.

        Parameters
        ----------
        effort : float
            Part of what is usual, on top of what was spent before.
        over : callable
            Asked now and then whether to stop with what is proved by then.
        """
        given = self.case
        ones = [1] * len(given.spaces)
        prices, unit = whole_prices([s.price or 0.0 for s in given.spaces] or [0.0])
        count, cost = (0, ""), (0, "")
        while True:
            # In turns, so that the one gets its share also where the other finds no end.
            part = min(effort, 1.0)
            count = _better(count, self.least(ones, part, over))
            if len(set(prices)) == 1:
                cost = (count[0] * prices[0], count[1])
            else:
                cost = _better(cost, self.least(prices, part, over))
            effort -= part
            if effort <= 0 or over():
                break
        why = count[1] if cost[1] == count[1] else f"{count[1]}; cost: {cost[1]}"
        why += ", for the pieces that were placed" if self.partly else ""
        return Bound(count[0], float(cost[0] * unit), why, self._net(float(cost[0] * unit)))

    def _net(self, cost: float) -> float:
        """Return the least net cost, where the sheets alone cost so much at least."""
        aims = self.aims
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

    def least(
        self, prices: Sequence[int], effort: float, over: Callable[[], bool]
    ) -> tuple[int, str]:
        """Return the least price of containers, and what proves it."""
        if not self.case.kinds:
            return 0, "nothing to place"
        groups = [g for g in self.simple if g]
        known = least(self.case, _all(groups), prices)
        if known is not None:
            groups += self._patterns(prices, known, effort, over)
            known = least(self.case, _all(groups), prices)
        alone = [least(self.case, g, prices) for g in groups]
        if known is None:
            # The stock does not suffice: what it does suffice for still holds.
            known = max((n for n in alone if n is not None), default=0)
        reached = (g[0].why for g, n in zip(groups, alone, strict=True) if n == known)
        return known, next(reached, "together: " + ", ".join(g[0].why for g in groups))

    def _patterns(
        self, prices: Sequence[int], known: int, effort: float, over: Callable[[], bool]
    ) -> list[list[Weighting]]:
        key = tuple(prices)
        if key not in self.searches:
            first = next((a for a in self.areas if all(a.weights)), self.areas[0])
            self.searches[key] = Mixes(self.case, self.rules, prices, first)
        found = self.searches[key].search(known, effort, over)
        return [found] if found else []


def _better(old: tuple[int, str], new: tuple[int, str]) -> tuple[int, str]:
    """Return what proves more, and the newer of two that prove the same."""
    return new if new[0] >= old[0] else old


def _all(groups: Sequence[Sequence[Weighting]]) -> list[Weighting]:
    return [a for g in groups for a in g]
