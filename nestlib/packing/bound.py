"""What no plan can beat.

Several arguments, each of which holds by itself, are put together: see
`nestlib.packing.bounds`.
"""

from __future__ import annotations

from collections import Counter
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
        #: For each choice of prices: what looks for weights by mixes of pieces, the least price
        #: that was proved and why, and how often that was looked at.
        self.searches: dict[tuple[int, ...], Mixes] = {}
        self.proved: dict[tuple[int, ...], tuple[int, str]] = {}
        self.turns: Counter[tuple[int, ...]] = Counter()

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
        partly = ", for the pieces that were placed" if self.partly else ""
        if not self.case.kinds:
            return Bound(0, 0.0, f"nothing to place{partly}", self._net(0.0))
        ones = (1,) * len(self.case.spaces)
        whole, unit = whole_prices([s.price or 0.0 for s in self.case.spaces])
        # Where all prices are the same, the number of containers says all.
        prices = ones if len(set(whole)) == 1 else tuple(whole)
        left = dict.fromkeys((ones, prices), effort)
        while more := [p for p, n in left.items() if n > 0 or p not in self.proved]:
            if over() and len(self.proved) >= len(left):
                break
            # In turns, from one call to the next too: neither waits for the end of the other.
            now = min(more, key=lambda p: self.turns[p])
            self.turns[now] += 1
            self._prove(now, min(left[now], 1.0), over)
            left[now] = 0.0 if self.searches[now].ended else left[now] - 1.0
        (sheets, why), (least, why_cost) = self.proved[ones], self.proved[prices]
        cost = float((sheets * whole[0] if prices is ones else least) * unit)
        if why_cost != why:
            why = f"{why}; cost: {why_cost}"
        return Bound(sheets, cost, f"{why}{partly}", self._net(cost))

    def demands(self) -> list[Demand]:
        """Return the arguments that were found so far, for prices that are not so simple.

        All of them hold for every plan of all pieces that fit somewhere.

        Examples
        --------
        >>> from shapely import MultiPolygon, box
        >>> part = Shape("plate", box(0, 0, 60, 60), 3600.0, quantity=10)
        >>> sheet = Container("sheet", MultiPolygon([box(0, 0, 100, 100)]), 10_000.0, cost=5.0)
        >>> found = Proof([part], [sheet]).demands()
        >>> min(-(-d.total // d.capacities[0]) for d in found if d.total)
        4
        """
        found = _all([*self.simple, self.mixes])
        return [Demand(a.capacities, a.total(self.case), a.why) for a in found]

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

    def _prove(self, prices: tuple[int, ...], effort: float, over: Callable[[], bool]) -> None:
        """Note the least price of containers, and what proves it, if it is more than before."""
        groups = [g for g in self.simple if g]
        old = self.proved.get(prices)
        if prices not in self.searches:
            first = next((a for a in self.areas if all(a.weights)), self.areas[0])
            self.searches[prices] = Mixes(self.case, self.rules, prices, first)
        search = self.searches[prices]
        kept = search.kept
        known = old[0] if old else least(self.case, _all(groups), prices)
        if known is None:
            search.ended = True  # the stock does not suffice, whatever pieces are worth
        else:
            search.search(known, effort, over)
        if search.kept:
            groups.append(search.kept)
        if old is None or search.kept is not kept:
            new = self._together(groups, prices)
            if old is None or new[0] > old[0]:
                self.proved[prices] = new

    def _together(
        self, groups: Sequence[Sequence[Weighting]], prices: Sequence[int]
    ) -> tuple[int, str]:
        """Return the least price by some arguments, and which of them prove it."""
        alone = [least(self.case, g, prices) for g in groups]
        # Where the stock does not suffice for all, what it does suffice for still holds.
        found = [least(self.case, _all(groups), prices), *alone]
        known = max((n for n in found if n is not None), default=0)
        reached = (g[0].why for g, n in zip(groups, alone, strict=True) if n == known)
        return known, next(reached, "together: " + ", ".join(g[0].why for g in groups))


def _all(groups: Sequence[Sequence[Weighting]]) -> list[Weighting]:
    return [a for g in groups for a in g]
