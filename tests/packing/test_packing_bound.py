"""The bound against the best of all plans for bars, which are easy to try out."""

from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import MultiPolygon, box

from nestlib.packing import Container, Iterations, Shape, lower_bound, pack

#: Length, price and number of the racks that bars of width 1 are laid on.
racks = st.lists(
    st.tuples(st.integers(3, 9), st.integers(1, 6), st.integers(0, 2)), min_size=1, max_size=2
)
bars = st.lists(st.tuples(st.integers(1, 6), st.integers(0, 3)), min_size=1, max_size=2)


def bar(length: int, quantity: int) -> Shape:
    """A bar that cannot be turned."""
    return Shape("bar", box(0, 0, length, 1), float(length), quantity, (0.0,))


def rack(length: int, price: int, quantity: int) -> Container:
    """As wide as a bar."""
    room = MultiPolygon([box(0, 0, length, 1)])
    return Container("rack", room, float(length), quantity, cost=float(price))


def fit(lengths: Sequence[int], rooms: tuple[int, ...]) -> bool:
    """Whether all lengths go into the rooms: every way is tried."""
    if not lengths:
        return True
    return any(
        fit(lengths[1:], (*rooms[:k], room - lengths[0], *rooms[k + 1 :]))
        for k, room in enumerate(rooms)
        if room >= lengths[0]
    )


def plans(
    lengths: Sequence[int], stock: Sequence[tuple[int, int, int]]
) -> Iterator[tuple[int, int]]:
    """Number and cost of the racks in every plan that holds all lengths."""
    for counts in product(*(range(n + 1) for _, _, n in stock)):
        rooms = tuple(s[0] for s, n in zip(stock, counts, strict=True) for _ in range(n))
        if fit(lengths, rooms):
            yield sum(counts), sum(s[1] * n for s, n in zip(stock, counts, strict=True))


@settings(deadline=None)
@given(bars, racks, st.lists(st.integers(0, 3), min_size=2, max_size=2))
def test_the_bound_is_below_the_best_of_all_plans(
    parts: list[tuple[int, int]], stock: list[tuple[int, int, int]], left_out: list[int]
) -> None:
    """Number and cost (to 1e-9), for all pieces and for any part of them."""
    missing = [min(m, n) for m, (_, n) in zip(left_out, parts, strict=False)]
    shapes, containers = [bar(*p) for p in parts], [rack(*s) for s in stock]
    for left in ([0] * len(parts), missing):
        lengths = [w for (w, n), m in zip(parts, left, strict=True) for _ in range(n - m)]
        bound = lower_bound(shapes, containers, left)
        for count, cost in plans(lengths, stock):
            assert bound.sheets <= count
            assert bound.cost <= cost + 1e-9


@settings(deadline=None)
@given(bars, racks)
def test_a_plan_that_lacks_pieces_is_above_the_bound_for_the_others(
    parts: list[tuple[int, int]], stock: list[tuple[int, int, int]]
) -> None:
    """As the packer leaves it when the stock is too small (to 1e-9)."""
    shapes, containers = [bar(*p) for p in parts], [rack(*s) for s in stock]
    packing = pack(shapes, containers, stop=Iterations(0))
    missing = [0] * len(parts)
    for index, count, _ in packing.unplaced:
        missing[index] += count
    bound = lower_bound(shapes, containers, missing)
    assert bound.sheets <= sum(s.runs for s in packing.sheets)
    cost = sum((containers[s.container].cost or 0) * s.runs for s in packing.sheets)
    assert bound.cost <= cost + 1e-9


def test_a_missing_piece_does_not_count() -> None:
    """Two bars of 5 on the only rack of 6: one is placed, and one rack is what it takes."""
    assert lower_bound([bar(5, 2)], [rack(6, 3, 1)], [1]).sheets == 1
    assert lower_bound([bar(5, 2)], [rack(6, 3, 1)], [2]).sheets == 0


def test_many_turns_and_many_pieces_still_have_a_bound() -> None:
    """Plates of which two never fit side by side, at 180 turns; and 100 000 small tiles."""
    tray = Container("tray", MultiPolygon([box(0, 0, 100, 100)]), 10_000.0, cost=5.0)
    turns = tuple(float(k) for k in range(180))
    plates = [
        Shape(f"plate {k}", box(0, 0, 80 + k, 70), 70.0 * (80 + k), 2, turns) for k in range(6)
    ]
    assert 7 <= lower_bound(plates, [tray]).sheets <= 12
    trays = [replace(tray, cost=cost) for cost in (5.0, 4.0, 3.5)]
    tiles = Shape("tile", box(0, 0, 10, 10), 100.0, 100_000)
    bound = lower_bound([tiles], trays)
    assert bound.sheets == 1000
    assert bound.cost == pytest.approx(3500.0)
