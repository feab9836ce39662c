"""The bound under conditions against the best of all plans for bars, every one tried out."""

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import product

import networkx as nx
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import MultiPolygon, box

from nestlib.packing import Container, Shape, lower_bound, pack
from nestlib.packing.stopping import SearchState

#: What is laid on one rack: its kind, and how many bars of each kind.
Layout = tuple[int, tuple[int, ...]]


@dataclass(frozen=True)
class Bars:
    """Bars of width 1 and racks as wide as a bar.

    Parameters
    ----------
    lengths, numbers, most : tuple of int
        Of each kind of bar; at most so many on a rack.
    apart : frozenset of (int, int)
        Kinds that may not share a rack, the lower index first.
    racks : tuple of (int, int, int)
        Length, price and number of each kind of rack.
    """

    lengths: tuple[int, ...]
    numbers: tuple[int, ...]
    most: tuple[int, ...]
    apart: frozenset[tuple[int, int]]
    racks: tuple[tuple[int, int, int], ...]

    @property
    def shapes(self) -> list[Shape]:
        """As the packer sees the bars; none can be turned."""
        return [
            Shape(
                f"bar {i}",
                box(0, 0, length, 1),
                float(length),
                self.numbers[i],
                (0.0,),
                most=self.most[i],
                apart=tuple(j for a, j in self.apart if a == i),
            )
            for i, length in enumerate(self.lengths)
        ]

    @property
    def containers(self) -> list[Container]:
        """As the packer sees the racks."""
        return [
            Container("rack", MultiPolygon([box(0, 0, n, 1)]), float(n), stock, cost=float(price))
            for n, price, stock in self.racks
        ]

    def fillings(self) -> list[Layout]:
        """Everything that may lie on one rack."""
        limits = [range(min(n, m) + 1) for n, m in zip(self.numbers, self.most, strict=True)]
        return [
            (k, counts)
            for k, (length, _, _) in enumerate(self.racks)
            for counts in product(*limits)
            if any(counts)
            and sum(n * c for n, c in zip(self.lengths, counts, strict=True)) <= length
            and not any(
                counts[i] and counts[j] and (i != j or counts[i] > 1) for i, j in self.apart
            )
        ]

    def plans(self) -> Iterator[Counter[Layout]]:
        """Every way to lay out all bars."""
        yield from self._plans(self.fillings(), self.numbers, [n for _, _, n in self.racks])

    def _plans(
        self, fillings: Sequence[Layout], left: Sequence[int], stock: Sequence[int]
    ) -> Iterator[Counter[Layout]]:
        if not any(left):
            yield Counter()
            return
        if not fillings:
            return
        (rack, counts), rest = fillings[0], fillings[1:]
        runs = 0
        while min(left) >= 0 and stock[rack] >= runs:
            for plan in self._plans(
                rest, left, [n - runs * (k == rack) for k, n in enumerate(stock)]
            ):
                yield plan + Counter({(rack, counts): runs})
            left = [n - c for n, c in zip(left, counts, strict=True)]
            runs += 1


@st.composite
def bars(draw: st.DrawFn) -> Bars:
    """At most three kinds, eight pieces and two kinds of racks."""
    kinds = draw(st.integers(1, 3))

    def each(low: int, high: int) -> tuple[int, ...]:
        return tuple(draw(st.integers(low, high)) for _ in range(kinds))

    pairs = [(i, j) for i in range(kinds) for j in range(i, kinds)]
    apart = draw(st.sets(st.sampled_from(pairs)))
    rack = st.tuples(st.integers(3, 7), st.integers(1, 6), st.integers(1, 4))
    racks = draw(st.lists(rack, min_size=1, max_size=2))
    return Bars(each(1, 4), each(0, 3), each(1, 3), frozenset(apart), tuple(racks))


@settings(deadline=None, max_examples=60)
@given(bars())
def test_the_bound_knows_of_the_conditions_and_is_never_above_the_best_plan(case: Bars) -> None:
    """Number and cost of racks over all plans (cost to 1e-9)."""
    bound = lower_bound(case.shapes, case.containers)
    for plan in case.plans():
        assert bound.sheets <= plan.total()
        assert bound.cost <= sum(case.racks[k][1] * n for (k, _), n in plan.items()) + 1e-9


# --- by hand


def tile(number: int, **more: object) -> Shape:
    """A small tile that keeps its direction."""
    return Shape("tile", box(0, 0, 1, 1), 1.0, number, (0.0,), **more)  # type: ignore[arg-type]


TRAY = Container("tray", MultiPolygon([box(0, 0, 10, 10)]), 100.0, cost=5.0)


def test_at_most_so_many_on_a_sheet_take_so_many_sheets() -> None:
    """Seven tiles, at most three on a sheet: three sheets. By area one would do."""
    bound = lower_bound([tile(7, most=3), tile(90)], [TRAY])
    assert (bound.sheets, bound.cost) == (3, 15.0)


def test_parts_that_lie_apart_add_up_their_sheets() -> None:
    """2 sheets of the first part and 3 of the second, none of them in common: 5."""
    bound = lower_bound([tile(4, most=2, apart=(1,)), tile(5, most=2)], [TRAY])
    assert bound.sheets == 5
    assert lower_bound([tile(6, apart=(0,))], [TRAY]).sheets == 6


def test_fillers_and_missing_pieces_make_no_conflict() -> None:
    """A filler may stay away, and what is missing needs no sheet."""
    parts = [tile(1, apart=(1, 2)), tile(9, filler=True), tile(1)]
    assert lower_bound(parts, [TRAY]).sheets == 2
    assert lower_bound(parts, [TRAY], [0, 0, 1]).sheets == 1


@pytest.mark.parametrize("seed", range(6))
def test_parts_apart_are_a_colouring(seed: int) -> None:
    """Small tiles in conflict: between the largest clique and the fewest colours (networkx)."""
    graph = nx.gnp_random_graph(7, 0.5, seed=seed)
    parts = [tile(1, apart=tuple(graph.neighbors(i))) for i in graph]
    bound = lower_bound(parts, [TRAY]).sheets
    assert bound >= max(map(len, nx.find_cliques(graph)))
    fewer = product(range(bound - 1), repeat=len(graph))
    assert not any(all(c[i] != c[j] for i, j in graph.edges) for c in fewer)


def test_a_ring_of_five_parts_takes_three_sheets() -> None:
    """Each apart from the next: no three of them are, yet two sheets hold at most four.

    The fractional chromatic number of an odd cycle of 5 is 5/2: D. Scheinerman, D. Ullman,
    "Fractional graph theory", Wiley 1997, chapter 3 (from memory).
    """
    parts = [tile(1, apart=((i + 1) % 5,)) for i in range(5)]
    assert lower_bound(parts, [TRAY]).sheets == 3


def test_a_ring_around_a_hole_of_the_sheet_takes_no_room_in_it() -> None:
    """By hand: the ring lies around the hole, the plate beside it; one sheet holds both."""
    room = box(0, 0, 20, 10) - box(1, 1, 9, 9)
    ring = Shape("ring", box(0, 0, 10, 10) - box(0.5, 0.5, 9.5, 9.5), 19.0, 1, (0.0,))
    plate = Shape("plate", box(0, 0, 9.5, 10), 95.0, 1, (0.0,))
    stock = Container("sheet", MultiPolygon([room]), room.area, cost=5.0)
    assert lower_bound([ring, plate], [stock]).sheets == 1


def test_the_search_stops_where_conditions_say_that_nothing_is_better() -> None:
    """Nine tiles, two on a sheet at most: five sheets are proved, long before 1000 rounds."""
    rounds: list[int] = []

    def told(state: SearchState) -> bool:
        rounds.append(state.iterations)
        return state.iterations >= 1000

    packing = pack([tile(9, most=2)], [TRAY], stop=told)
    assert sum(s.runs for s in packing.sheets) == 5
    assert packing.bound is not None
    assert packing.bound.sheets == 5
    assert max(rounds) < 100
