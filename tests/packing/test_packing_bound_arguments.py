"""Each argument of the bound against what is true of small cases."""

from collections.abc import Sequence
from itertools import product

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from ortools.sat.python import cp_model
from shapely import MultiPolygon, Point, Polygon, affinity, box

from nestlib.packing import Container, Iterations, Shape, lower_bound, pack
from nestlib.packing.bounds import PatternRules, apart, by_size, case, weights, whole_prices
from nestlib.packing.bounds.bodies import convex_body, core_of
from nestlib.packing.bounds.dual_feasible import transformed
from nestlib.packing.bounds.fitting import Fitting
from nestlib.packing.bounds.weighting import WHOLE

FIXED, QUARTERS = (0.0,), (0.0, 90.0, 180.0, 270.0)


def shape(
    polygon: Polygon,
    quantity: int = 1,
    rotations: tuple[float, ...] | None = QUARTERS,
    **more: bool,
) -> Shape:
    """A shape that keeps no distance."""
    return Shape("part", polygon, polygon.area, quantity, rotations, **more)


def sheet(
    width: float, height: float, cost: float | None = None, quantity: int | None = None
) -> Container:
    """A rectangular sheet."""
    room = MultiPolygon([box(0, 0, width, height)])
    return Container("sheet", room, room.area, quantity, cost=cost)


# --- against exact optima


Size = tuple[int, int]


def packs(rectangles: Sequence[Size], bins: Sequence[Size], turnable: bool) -> bool:
    """Whether rectangles fit into bins, by an exact solver."""
    model = cp_model.CpModel()
    boxes: list[tuple[list[cp_model.IntervalVar], list[cp_model.IntervalVar]]]
    boxes = [([], []) for _ in bins]
    for w, h in rectangles:
        ways = []
        for (xs, ys), (width, height) in zip(boxes, bins, strict=True):
            for a, b in {(w, h), (h, w)} if turnable else {(w, h)}:
                if a <= width and b <= height:
                    used = model.new_bool_var("")
                    x, y = model.new_int_var(0, width - a, ""), model.new_int_var(0, height - b, "")
                    xs.append(model.new_optional_fixed_size_interval_var(x, a, used, ""))
                    ys.append(model.new_optional_fixed_size_interval_var(y, b, used, ""))
                    ways.append(used)
        model.add_exactly_one(ways)
    for xs, ys in boxes:
        model.add_no_overlap_2d(xs, ys)
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    # Its own handler would stay behind and end the whole process at the next Ctrl-C.
    solver.parameters.catch_sigint_signal = False
    return solver.solve(model) == cp_model.OPTIMAL


rectangles = st.lists(st.tuples(st.integers(1, 7), st.integers(1, 7)), min_size=1, max_size=6)


@settings(deadline=None, max_examples=40)
@given(rectangles, st.booleans())
def test_the_bound_on_bins_is_never_above_the_optimum(sizes: list[Size], turnable: bool) -> None:
    """As many bins of 8 by 7 as the bound says, less one, never suffice, if it is the optimum."""
    turns = QUARTERS if turnable else FIXED
    shapes = [shape(box(0, 0, w, h), rotations=turns) for w, h in sizes]
    bound = lower_bound(shapes, [sheet(8, 7)]).sheets
    assert bound >= sum(w * h for w, h in sizes) / 56 - 1e-9
    assert not (bound > 1 and packs(sizes, [(8, 7)] * (bound - 1), turnable))


@settings(deadline=None, max_examples=40)
@given(rectangles, st.integers(1, 9), st.integers(0, 1))
def test_the_bound_on_cost_is_never_above_the_optimum(
    sizes: list[Size], price: int, stock: int
) -> None:
    """Every cheaper choice from bins of 8 by 7 for 5.5 and of 5 by 9 fails."""
    kinds = [(8, 7, 5.5, 6), (5, 9, price / 2, stock)]
    shapes = [shape(box(0, 0, w, h), rotations=FIXED) for w, h in sizes]
    bound = lower_bound(shapes, [sheet(*k) for k in kinds])
    fitting = [s for s in sizes if s[0] <= 8 or (stock and s[0] <= 5)]
    for many in range(7):
        for few in range(stock + 1):
            bins = [(8, 7)] * many + [(5, 9)] * few
            cost = 5.5 * many + price / 2 * few
            if (many + few < bound.sheets or cost < bound.cost - 1e-9) and bins:
                assert not packs(fitting, bins, turnable=False)


# --- published and known examples


def test_what_is_longer_than_half_a_room_cannot_share_it() -> None:
    """Ten squares of 6 in bins of 10: area says four, each takes one."""
    squares = [shape(box(0, 0, 6, 6), 10)]
    assert lower_bound(squares, [sheet(10, 10, 1.5)]).sheets == 10
    assert lower_bound(squares, [sheet(10, 10, 1.5)]).cost == 15.0


def test_a_disc_and_its_neighbours_stay_apart() -> None:
    """Discs of radius 30 in a square of 100: centres are at most 56.6 apart, so one each."""
    disc = Point(0, 0).buffer(30, quad_segs=32)
    for turns in (FIXED, None):
        assert lower_bound([shape(disc, 3, turns)], [sheet(100, 100)]).sheets == 3
    small = Point(0, 0).buffer(29, quad_segs=32)
    assert lower_bound([shape(small, 2, FIXED)], [sheet(100, 100)]).sheets == 1


def test_triangles_that_make_a_square_may_share_it() -> None:
    """Two halves of a sheet, one turned by 180 degrees, are no conflict; unturned they are."""
    half = Polygon([(0, 0), (10, 0), (0, 10)])
    assert lower_bound([shape(half, 2)], [sheet(10, 10)]).sheets == 1
    assert lower_bound([shape(half, 2, FIXED)], [sheet(10, 10)]).sheets == 2


def test_a_frame_may_hold_another_part() -> None:
    """A frame of 9 with a hole of 7 in a bin of 10: a plate of 6 lies in it, one of 8 does not."""
    frame = box(0, 0, 9, 9).difference(box(1, 1, 8, 8))
    for side, sheets in ((6, 1), (8, 2)):
        parts = [shape(frame), shape(box(0, 0, side, side))]
        assert lower_bound(parts, [sheet(10, 10)]).sheets == sheets
    assert lower_bound([shape(frame, 5)], [sheet(20, 20)]).sheets == 2


def test_cost_is_what_sheets_can_cost() -> None:
    """An area of 13.1 sheets takes 14 of them, one of 3.2 sheets 4, at decimal prices."""
    bars = [shape(box(0, 0, 10, 1), 131, FIXED)]
    assert lower_bound(bars, [sheet(10, 10, 0.1)]).cost == pytest.approx(1.4, abs=1e-12)
    assert lower_bound([shape(box(0, 0, 10, 1), 32, FIXED)], [sheet(10, 10, 7.25)]).cost == 29.0
    assert whole_prices([12.5, 3.75])[0] == [50, 15]


def test_scarce_remnants_do_not_hold_everything() -> None:
    """Three plates; the only free remnant holds one, so two sheets have to be paid."""
    plates = [shape(box(0, 0, 6, 6), 3)]
    stock = [sheet(7, 7, 0.0, 1), sheet(10, 10, 4.0)]
    bound = lower_bound(plates, stock)
    assert (bound.sheets, bound.cost) == (3, 8.0)


def test_exact_fits_are_no_conflict() -> None:
    """Thirds of a length that is not a round number."""
    third = 1234.5678 / 3
    parts = [shape(box(0, 0, third, 100 / 7), 21, FIXED)]
    assert lower_bound(parts, [sheet(3 * third, 100)]).sheets == 1


def test_what_fits_nowhere_and_fillers_do_not_count() -> None:
    """A plate too long for the sheet, and one that may be left out."""
    parts = [shape(box(0, 0, 11, 1)), shape(box(0, 0, 5, 5), 100, filler=True)]
    assert lower_bound(parts, [sheet(10, 10, 1.0)]).sheets == 0
    assert lower_bound([], []).sheets == 0


# --- the arguments one by one


@given(st.lists(st.integers(0, 60), min_size=1, max_size=8))
def test_lengths_that_fit_still_do_after_every_function(lengths: list[int]) -> None:
    """Dual feasibility by definition: sums up to the room stay up to 1 (to 1e-9)."""
    room = max(sum(lengths), 2 + max(lengths))
    for values in transformed(np.array(lengths), room):
        assert values.sum() <= 1 + 1e-9
        assert ((values >= 0) & (values <= 1)).all()


@settings(deadline=None, max_examples=30)
@given(st.lists(st.tuples(st.integers(1, 9), st.integers(1, 9)), min_size=1, max_size=6))
def test_what_one_bin_holds_weighs_no_more_than_it_may(sizes: list[Size]) -> None:
    """If an exact solver packs rectangles into a bin, no argument and no rule forbids it."""
    given_case = case([shape(box(0, 0, w, h)) for w, h in sizes], [sheet(10, 9)])
    if len(given_case.kinds) < len(sizes) or not packs(sizes, [(10, 9)], turnable=True):
        return
    rows = weights(given_case, 0)
    conflicts = apart(given_case, 0)
    assert (rows.sum(axis=1) <= WHOLE).all()
    assert not conflicts[~np.eye(len(sizes), dtype=bool)].any()
    rules = PatternRules(given_case, 0, conflicts, rows)
    assert rules.best(np.ones(len(sizes), dtype=np.int64), 1.0)[0] >= len(sizes)
    assert all(w.total(given_case) <= w.capacities[0] for w in by_size(given_case, 0, rows))


@settings(deadline=None, max_examples=40)
@given(
    st.lists(st.tuples(st.integers(2, 9), st.integers(2, 9)), min_size=2, max_size=6),
    st.booleans(),
)
def test_what_is_ruled_out_by_search_does_not_fit(sizes: list[Size], turnable: bool) -> None:
    """Whatever breaks the weights that a misfit gives, an exact solver does not pack either."""
    turns = QUARTERS if turnable else FIXED
    given_case = case([shape(box(0, 0, w, h), rotations=turns) for w, h in sizes], [sheet(10, 9)])
    if len(given_case.kinds) < len(sizes):
        return
    kinds = len(sizes)
    row = Fitting(given_case, 0, [1] * kinds).forbids(np.ones(kinds, dtype=np.int64))
    assert (row is None) == packs(sizes, [(10, 9)], turnable)
    for chosen in product((0, 1), repeat=kinds):
        if row is not None and row @ np.array(chosen) > WHOLE:
            held = [size for size, n in zip(sizes, chosen, strict=True) if n]
            assert not packs(held, [(10, 9)], turnable)


def test_a_pinwheel_leaves_no_strip() -> None:
    """By hand: four bars of 6 by 4 about a middle of 2 by 2 fill a bin of 10, but for it.

    A plate of 2 by 2 fits there, a strip of 1 by 4 of the same area does not.
    """
    bars = [shape(box(0, 0, 6, 4), 2, FIXED), shape(box(0, 0, 4, 6), 2, FIXED)]
    for last, bins in (((2, 2), 1), ((1, 4), 2)):
        assert packs([(6, 4), (6, 4), (4, 6), (4, 6), last], [(10, 10)], False) == (bins == 1)
        parts = [*bars, shape(box(0, 0, *last), 1, FIXED)]
        assert lower_bound(parts, [sheet(10, 10)]).sheets == bins


corners = st.lists(
    st.tuples(st.integers(0, 20), st.integers(0, 20)), min_size=3, max_size=9, unique=True
)


@settings(deadline=None, max_examples=60)
@given(corners, st.integers(0, 89))
def test_bodies_and_cores_lie_within_their_outlines(
    points: list[tuple[int, int]], angle: int
) -> None:
    """Stars about the middle of random points; to 1e-6."""
    middle = np.mean(points, axis=0)
    order = sorted(points, key=lambda p: np.arctan2(p[1] - middle[1], p[0] - middle[0]))
    outline = affinity.rotate(Polygon(order), angle)
    if not outline.is_valid or outline.area < 1:
        return
    body = convex_body(outline)
    assert outline.buffer(1e-6).covers(Polygon(body))
    width, height = core_of(body)
    assert width * height <= Polygon(body).area * (1 + 1e-9)


@pytest.mark.slow
@settings(deadline=None, max_examples=25)
@given(
    st.lists(
        st.tuples(st.integers(5, 70), st.integers(5, 70), st.integers(1, 4), st.integers(0, 3)),
        min_size=1,
        max_size=5,
    ),
    st.booleans(),
)
def test_no_packing_beats_the_bound(parts: list[tuple[int, int, int, int]], free: bool) -> None:
    """Rectangles, triangles, rings and angles, on an irregular remnant and on sheets."""

    def form(w: int, h: int, f: int) -> Polygon:
        return (
            box(0, 0, w, h),
            Polygon([(0, 0), (w, 0), (w / 3, h)]),
            box(0, 0, w, h).difference(box(w / 8, h / 8, 7 * w / 8, 7 * h / 8)),
            Polygon([(0, 0), (w, 0), (w, h / 4), (w / 4, h / 4), (w / 4, h), (0, h)]),
        )[f]

    shapes = [shape(form(w, h, f), n, None if free else QUARTERS) for w, h, n, f in parts]
    remnant = Polygon([(0, 0), (90, 0), (70, 80), (0, 60)]).difference(box(20, 20, 30, 30))
    rest = Container("rest", MultiPolygon([remnant]), remnant.area, 1, cost=0.5, order=0)
    stock = [rest, Container("sheet", sheet(100, 75).room, 7500.0, cost=2.25, order=1)]
    packing = pack(shapes, stock, stop=Iterations(2))
    bound = lower_bound(shapes, stock)
    assert sum(s.runs for s in packing.sheets) >= bound.sheets
    cost = sum((stock[s.container].cost or 0) * s.runs for s in packing.sheets)
    assert bound.cost <= cost + 1e-9
