"""The bound under conditions against the best of all plans for bars, every one tried out."""

import random
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from itertools import product

import networkx as nx
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import MultiPolygon, box

from nestlib.packing import Aims, Container, Iterations, Shape, lower_bound, pack
from nestlib.packing.bound import Proof
from nestlib.packing.problem import prepare
from nestlib.packing.score import net_cost
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

    def net_cost(self, plan: Counter[Layout], set_up: float, worth: float) -> float:
        """Prices and set-ups less what is left of the racks is worth."""
        total = set_up * len(+plan)
        for (k, counts), runs in plan.items():
            length, price, _ = self.racks[k]
            used = sum(n * c for n, c in zip(self.lengths, counts, strict=True))
            total += runs * price * (1 - worth * (1 - used / length))
        return total

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
@given(bars(), st.sampled_from([0.3, 1.0, 8.0]))
def test_the_bound_knows_of_the_conditions_and_is_never_above_the_best_plan(
    case: Bars, effort: float
) -> None:
    """Number and cost of racks over all plans (cost to 1e-9)."""
    bound = lower_bound(case.shapes, case.containers, effort=effort)
    for plan in case.plans():
        assert bound.sheets <= plan.total()
        assert bound.cost <= sum(case.racks[k][1] * n for (k, _), n in plan.items()) + 1e-9


@settings(deadline=None, max_examples=40)
@given(bars(), st.lists(st.integers(0, 6), min_size=1, max_size=4))
def test_a_proof_that_goes_on_is_never_above_the_best_plan(case: Bars, looks: list[int]) -> None:
    """It is asked again and again, and stopped each time after some more looks (to 1e-9)."""
    proof = Proof(case.shapes, case.containers)
    bounds = [proof.bound(8.0, stopping_after(looks_now)) for looks_now in looks]
    for plan in case.plans():
        cost = sum(case.racks[k][1] * n for (k, _), n in plan.items())
        assert all(b.sheets <= plan.total() and b.cost <= cost + 1e-9 for b in bounds)


def stopping_after(looks: int) -> Callable[[], bool]:
    """Say stop when asked more often than that."""
    asked = iter(range(looks))
    return lambda: next(asked, None) is None


@settings(deadline=None, max_examples=60)
@given(bars(), st.integers(0, 6), st.sampled_from([0.0, 0.3, 1.0]))
def test_the_bound_on_net_cost_is_never_above_the_best_plan(
    case: Bars, set_up: int, worth: float
) -> None:
    """What is free of a rack is one remnant, since bars can be pushed together (to 1e-9)."""
    bound = lower_bound(case.shapes, case.containers, aims=Aims(set_up / 2, worth=worth))
    for plan in case.plans():
        assert bound.net_cost <= case.net_cost(plan, set_up / 2, worth) + 1e-9


# --- by hand


def tile(number: int, **more: object) -> Shape:
    """A small tile that keeps its direction."""
    return Shape("tile", box(0, 0, 1, 1), 1.0, number, (0.0,), **more)  # type: ignore[arg-type]


TRAY = Container("tray", MultiPolygon([box(0, 0, 10, 10)]), 100.0, cost=5.0)


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(2))
def test_effort_proves_no_more_than_sheets_that_were_cut_up(seed: int) -> None:
    """Five sheets of two sizes cut into rectangles: they can be put together again."""
    chance = random.Random(seed)
    sides = [chance.choice([(10, 10), (14, 8)]) for _ in range(5)]
    pieces = [piece for side in sides for piece in cut_up(*side, chance)]
    shapes = [Shape(f"{k}", box(0, 0, w, h), w * h, 1, (0.0,)) for k, (w, h) in enumerate(pieces)]
    stock = [
        Container(f"{w}x{h}", MultiPolygon([box(0, 0, w, h)]), w * h, cost=float(w * h - 30))
        for w, h in ((10, 10), (14, 8))
    ]
    bound = lower_bound(shapes, stock, effort=1.0)
    assert bound.sheets <= len(sides)
    assert bound.cost <= sum(w * h - 30 for w, h in sides) + 1e-9


def test_a_search_that_ends_at_once_has_its_bound() -> None:
    """The first proof is carried through, however soon the search is over."""
    sizes = [(4, 7), (9, 9), (9, 3), (5, 3), (6, 9), (6, 6)]
    shapes = [Shape(f"{w}x{h}", box(0, 0, w, h), w * h, 3, (0.0,)) for w, h in sizes]
    stock = [TRAY, Container("large", MultiPolygon([box(0, 0, 14, 8)]), 112.0, cost=6.0)]
    ended = pack(shapes, stock, stop=Iterations(1)).bound
    assert ended is not None
    assert ended.cost == lower_bound(shapes, stock, effort=1 / 3).cost


def test_a_proof_stopped_after_every_look_gets_as_far_in_the_end() -> None:
    """What was found before a stop is not looked for again."""
    sizes = [(4, 7), (9, 9), (9, 3), (5, 3), (6, 9), (6, 6)]
    shapes = [Shape(f"{w}x{h}", box(0, 0, w, h), w * h, 3, (0.0,)) for w, h in sizes]
    stock = [TRAY, Container("large", MultiPolygon([box(0, 0, 14, 8)]), 112.0, cost=6.0)]
    proof = Proof(shapes, stock)
    bounds = [proof.bound(8.0, stopping_after(6)) for _ in range(60)]
    assert bounds[0].cost < bounds[-1].cost
    assert bounds[-1].cost == lower_bound(shapes, stock).cost


def cut_up(wide: int, high: int, chance: random.Random) -> list[tuple[int, int]]:
    """Cut a rectangle from edge to edge at whole numbers, again and again."""
    if wide * high <= 20 or chance.random() < 0.1:
        return [(wide, high)]
    if wide >= high:
        at = chance.randint(1, wide - 1)
        return [*cut_up(at, high, chance), *cut_up(wide - at, high, chance)]
    at = chance.randint(1, high - 1)
    return [*cut_up(wide, at, chance), *cut_up(wide, high - at, chance)]


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


def test_one_layout_makes_multiples_of_its_runs() -> None:
    """Plates that lie alone: 4 of one kind are one layout; 3 on 2 sheets at a time are two.

    By hand: of the second kind a tray holds two, so two trays are needed; 3 is odd, so they
    are not alike.
    """
    aims = Aims(set_up=3.0)
    alone = Shape("plate", box(0, 0, 6, 6), 36.0, 4, (0.0,))
    assert lower_bound([alone], [TRAY], aims=aims).net_cost == pytest.approx(4 * 5 + 3)
    paired = Shape("plate", box(0, 0, 6, 5), 30.0, 3, (0.0,))
    assert lower_bound([paired], [TRAY], aims=aims).net_cost == pytest.approx(2 * 5 + 2 * 3)


def test_parts_that_lie_apart_take_layouts_of_their_own() -> None:
    """Three tiles, none beside another kind: three sheets and three set-ups."""
    parts = [tile(1, apart=(1, 2)), tile(1, apart=(2,)), tile(1)]
    bound = lower_bound(parts, [TRAY], aims=Aims(set_up=2.0))
    assert bound.net_cost == pytest.approx(3 * 5 + 3 * 2)


def test_kinds_of_sheets_take_layouts_of_their_own() -> None:
    """One large and one small tray hold three plates, so two layouts; prices 5 and 1."""
    small = Container("small", MultiPolygon([box(0, 0, 6, 6)]), 36.0, 1, cost=1.0)
    large = Container("large", MultiPolygon([box(0, 0, 12, 6)]), 72.0, 1, cost=5.0)
    plate = Shape("plate", box(0, 0, 6, 6), 36.0, 3, (0.0,))
    bound = lower_bound([plate], [small, large], aims=Aims(set_up=2.0))
    assert bound.net_cost == pytest.approx(6 + 2 * 2)


def test_what_pieces_reach_is_no_remnant() -> None:
    """A bar of 4 by 9 in a tray of 10: nothing fits above it, so 4/10 of the tray are gone.

    By hand: at full worth the remnant of 6 by 10 brings 3 of 5 back. By area it were 3.2.
    """
    bar = Shape("bar", box(0, 0, 4, 9), 36.0, 1, (0.0,))
    assert lower_bound([bar], [TRAY], aims=Aims(worth=1.0)).net_cost == pytest.approx(2.0, rel=1e-5)
    two = Shape("bar", box(0, 0, 4, 9), 36.0, 2, (0.0,))
    assert lower_bound([two], [TRAY], aims=Aims(worth=1.0)).net_cost == pytest.approx(4.0, rel=1e-5)


def test_gaps_beyond_the_edge_of_the_metal_take_none_of_it() -> None:
    """A tray of 8 by 8 whose room is wider by 1 all round; a plate of 8 with a gap of 1.

    By hand: it fills the tray, so nothing comes back. A plate of 4 with the same gap takes
    at least its own quarter.
    """
    room = MultiPolygon([box(-1, -1, 9, 9)])
    stock = Container("tray", room, 64.0, cost=5.0, beyond=1.0)
    for side, least in ((8, 5.0 * 0.64), (4, 5.0 * 0.16)):
        plate = Shape("plate", box(-1, -1, side + 1, side + 1), side**2, 1, (0.0,))
        net = lower_bound([plate], [stock], aims=Aims(worth=1.0)).net_cost
        assert least - 1e-5 <= net <= 5.0 * side**2 / 64


def test_the_search_stops_where_set_ups_are_proved_least() -> None:
    """Four plates that lie alone: 20 for sheets and 3 for one set-up cannot be beaten."""
    rounds: list[int] = []

    def told(state: SearchState) -> bool:
        rounds.append(state.iterations)
        return state.iterations >= 1000

    alone = Shape("plate", box(0, 0, 6, 6), 36.0, 4, (0.0,))
    packing = pack([alone], [TRAY], stop=told, aims=Aims(set_up=3.0))
    assert packing.bound is not None
    assert packing.bound.net_cost == pytest.approx(23.0)
    assert max(rounds) < 100


@pytest.mark.parametrize("worth", [0.0, 0.5])
def test_no_packing_beats_the_bound_on_net_cost(worth: float) -> None:
    """Plates that may turn, on an irregular remnant and on sheets, as the packer lays them."""
    sizes = [(5, 3, 4), (4, 4, 3), (7, 2, 2)]
    parts = [Shape(f"{w}", box(0, 0, w, h), w * h, n, most=2) for w, h, n in sizes]
    rest = MultiPolygon([box(0, 0, 9, 8) - box(5, 5, 6, 6)])
    stock = [Container("rest", rest, rest.area, 1, cost=1.0), TRAY]
    aims = Aims(set_up=1.5, worth=worth)
    packing = pack(parts, stock, stop=Iterations(2), aims=aims)
    net = net_cost(prepare(parts, stock, aims), packing.sheets)
    assert lower_bound(parts, stock, aims=aims).net_cost <= net + 1e-9
