"""Strokes joined to contours: gaps, copies, overlaps, branches."""

from __future__ import annotations

import math
import random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from nestlib.drawings.chains import join
from nestlib.drawings.circles import as_circle
from nestlib.drawings.copies import copies, merge_overlaps
from nestlib.drawings.sketch import Stroke, chain, middle
from nestlib.model import Contour

TOLERANCE = 0.05


def line(*points: tuple[float, float]) -> Stroke:
    """Return an open polyline."""
    return Stroke(Contour(points, closed=False))


def lines(corners: list[tuple[float, float]]) -> list[Stroke]:
    """Return the sides of a polygon, one by one."""
    return [line(a, b) for a, b in zip(corners, corners[1:] + corners[:1], strict=True)]


SQUARE = [(0.0, 0.0), (10.0, 0.0), (10.0, 10.0), (0.0, 10.0)]


@settings(max_examples=50)
@given(st.integers(3, 30), st.randoms(use_true_random=False))
def test_sides_in_any_order_and_direction_make_the_polygon(n: int, rng: random.Random) -> None:
    """The contour has the polygon's exact area and length."""
    turn = [2 * math.pi * i / n for i in range(n)]
    corners = [(50 * math.cos(a), 30 * math.sin(a)) for a in turn]
    sides = [s if rng.random() < 0.5 else Stroke(s.contour.reversed()) for s in lines(corners)]
    rng.shuffle(sides)
    joined = join(sides, TOLERANCE)
    assert not joined.open
    assert not joined.gaps
    (run,) = joined.closed
    exact = Contour(corners)
    assert_allclose([run.contour.area, run.contour.length], [exact.area, exact.length], rtol=1e-12)


@pytest.mark.parametrize(("gap", "closed", "told"), [(5e-4, 1, 0), (0.03, 1, 1), (0.06, 0, 0)])
def test_gaps_are_closed_up_to_the_tolerance(gap: float, closed: int, told: int) -> None:
    """Rounding is closed in silence, gaps are told with their size, wider ones stay open."""
    joined = join([line((0, 0), (10, 0)), line((10, gap), (10, 10), (0, 0))], TOLERANCE)
    assert (len(joined.closed), len(joined.gaps)) == (closed, told)
    assert len(joined.open) == 1 - closed
    assert all(g.size == pytest.approx(gap) for g in joined.gaps)


def test_short_edges_are_no_gaps() -> None:
    """A notch of 0.02 mm survives a joining distance of 0.05 mm."""
    corners = [(0.0, 0.0), (10.0, 0.0), (10.0, 5.0), (9.98, 5.0), (9.98, 10.0), (0.0, 10.0)]
    (run,) = join(lines(corners), TOLERANCE).closed
    assert len(run.contour) == 6
    assert_allclose(run.contour.area, Contour(corners).area, rtol=1e-12)


def test_the_nearest_ends_are_joined() -> None:
    """Of two free ends within reach the nearer one is taken."""
    joined = join(
        [line((0, 0), (10, 0)), line((10.01, 0), (20, 0)), line((10.04, 0.02), (5, 9))], 0.05
    )
    assert sorted(len(run.contour) for run in joined.open) == [2, 3]
    assert joined.gaps[0].size == pytest.approx(0.01)


def test_open_polylines_whose_ends_meet_are_closed() -> None:
    """With one vertex less than was drawn."""
    (run,) = join([line(*SQUARE, (0.0, 1e-7))], TOLERANCE).closed
    assert len(run.contour) == 4


def test_a_spur_does_not_spoil_the_contour_it_hangs_on() -> None:
    """The square is found, the spur is told."""
    joined = join([*lines(SQUARE), line((10, 10), (15, 15))], TOLERANCE)
    assert [run.contour.area for run in joined.closed] == [100]
    assert [places for places, _ in joined.branches] == [[(10, 10)]]
    assert len(joined.branching) == 1


def test_what_branches_is_told_and_not_guessed() -> None:
    """A square with a diagonal: two corners where three lines meet, no contour."""
    joined = join([*lines(SQUARE), line(SQUARE[0], SQUARE[2])], TOLERANCE)
    assert not joined.closed
    assert [sorted(places) for places, _ in joined.branches] == [[(0, 0), (10, 10)]]
    assert len(joined.branching) == 3


def test_a_grid_is_told_without_searching_for_all_its_loops() -> None:
    """30 x 30 cells, which have more loops than anybody could list."""
    grid = [line((i, j), (i + 1, j)) for i in range(30) for j in range(31)]
    grid += [line((j, i), (j, i + 1)) for i in range(30) for j in range(31)]
    joined = join(grid, TOLERANCE)
    assert not joined.closed
    assert len(joined.branches) == 1


def test_crumbs_are_left_out_and_their_neighbours_joined() -> None:
    """A line of 0.0005 mm is no edge."""
    strokes = [line((0, 0), (10, 0)), line((10, 0), (10, 5e-4)), line((10, 5e-4), (5, 9), (0, 0))]
    joined = join(strokes, TOLERANCE)
    assert len(joined.crumbs) == 1
    assert len(joined.closed) == 1


@given(st.permutations(range(4)))
def test_the_result_does_not_depend_on_order(order: list[int]) -> None:
    """A slot of two lines and two arcs has one area."""
    arc = [
        Contour([(10, 0), (10, 4)], [1, 0], closed=False),
        Contour([(0, 4), (0, 0)], [1, 0], closed=False),
    ]
    strokes = [Stroke(a) for a in arc] + [line((0, 0), (10, 0)), line((10, 4), (0, 4))]
    (run,) = join([strokes[i] for i in order], TOLERANCE).closed
    assert run.contour.area == pytest.approx(40 + 4 * math.pi)


def test_copies_are_found_in_either_direction() -> None:
    """Lines, arcs and closed contours that start elsewhere."""
    square = Contour(SQUARE)
    arc = Contour([(0, 0), (10, 0)], [0.5, 0], closed=False)
    contours = [square, arc, square.starting_at(2).reversed(), arc.reversed()]
    assert copies(contours, TOLERANCE) == {2: 0, 3: 1}


@pytest.mark.parametrize(
    ("a", "b"),
    [
        (
            Contour([(0, 0), (10, 0)], [0.5, 0], closed=False),
            Contour([(0, 0), (10, 0)], closed=False),
        ),
        (
            Contour([(0, 0), (10, 0)], [0.5, 0], closed=False),
            Contour([(0, 0), (10, 0)], [-0.5, 0], closed=False),
        ),
        (Contour([(0, 0), (10, 10)], closed=False), Contour([(0, 10), (10, 0)], closed=False)),
        (Contour([(0, 0), (0.04, 0)], closed=False), Contour([(0, 0.02), (0.04, 0)], closed=False)),
        (Contour.circle((0, 0), 5), Contour.circle((0, 0), 5.06)),
    ],
)
def test_what_only_looks_alike_is_no_copy(a: Contour, b: Contour) -> None:
    """Arc and chord, mirrored arcs, crossing diagonals, short lines, neighbouring circles."""
    assert copies([a, b], TOLERANCE) == {}


@given(
    st.floats(0, 360), st.floats(-1000, 1000), st.permutations([(0, 6), (4, 10), (9, 20), (2, 3)])
)
def test_overlapping_lines_become_one(
    degrees: float, far: float, spans: list[tuple[float, float]]
) -> None:
    """In any direction, anywhere, in any order; the ends are the outermost ones."""
    cos, sin = math.cos(math.radians(degrees)), math.sin(math.radians(degrees))
    strokes = [line((far + a * cos, a * sin), (far + b * cos, b * sin)) for a, b in spans]
    kept, merged = merge_overlaps(strokes, TOLERANCE)
    assert len(kept) == len(merged) == 1
    assert kept[0].contour.length == pytest.approx(20)


def test_lines_that_only_meet_stay_apart() -> None:
    """End to end, at a corner, crossing, or side by side at 0.1 mm."""
    strokes = [
        line((0, 0), (10, 0)),
        line((10, 0), (20, 0)),
        line((20, 0), (20, 5)),
        line((5, -5), (5, 5)),
        line((0, 0.1), (10, 0.1)),
    ]
    assert merge_overlaps(strokes, TOLERANCE) == (strokes, [])


def test_arcs_of_one_circle_are_the_circle() -> None:
    """Quarters, or two unequal arcs; but not an oval of arcs."""
    quarter = math.tan(math.pi / 8)
    assert as_circle(Contour([(5, 0), (0, 5), (-5, 0), (0, -5)], [quarter] * 4)).is_circle
    third = [math.tan(math.pi / 6), math.tan(math.pi / 3)]
    corner = (5 * math.cos(math.pi / 1.5), 5 * math.sin(math.pi / 1.5))
    assert as_circle(Contour([(5, 0), corner], third)).is_circle
    assert not as_circle(Contour([(5, 0), (-5, 0)], [1, 0.9])).is_circle


def test_chains_keep_every_vertex_and_bulge() -> None:
    """And the middle of a chain is a point on it."""
    whole = chain([line((0, 0), (1, 0)).contour, Contour([(1, 0), (3, 0)], [1, 0], closed=False)])
    assert whole.bulges.tolist() == [0, 1, 0]
    assert_allclose(middle(whole), (2, -1), atol=1e-12)
