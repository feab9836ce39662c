"""Parts that may turn by any angle, checked by shapely alone."""

from __future__ import annotations

import signal
from itertools import combinations

import numpy as np
import pytest
from shapely import affinity, intersection
from shapely.geometry import Polygon, box

from nestlib.engine import Item, pack_strip
from nestlib.engine.compaction import Bounds
from nestlib.engine.layouts import Snapshot
from nestlib.engine.problem import StripProblem
from nestlib.engine.search_angles import search_angles
from nestlib.engine.turning import Outlines, free_layout, refined, with_own_angles
from nestlib.errors import InputError
from nestlib.model import Progress
from tests.strips import assert_sound

HOOK = Polygon([(0, 0), (3, 0), (3, 1), (1, 1), (1, 3), (0, 3)])
WEDGE = Polygon([(0, 0), (4, 0), (1, 2)])


def test_a_bar_longer_than_the_strip_is_wide_lies_along_it() -> None:
    """Drawn across the strip it would not fit; turned by a quarter it is as long as drawn."""
    bars = [Item("bar", box(0, 0, 1, 5), 2, None)]
    packing = pack_strip(bars, 2, tries=20)
    assert_sound(bars, 2, packing)
    assert packing.length == pytest.approx(5, abs=1e-6)


def test_a_bar_drawn_slantwise_is_set_upright() -> None:
    """Two bars of 1 x 4 drawn at 20 degrees fill a strip 2 wide and 4 long, to 1e-6."""
    bars = [Item("bar", affinity.rotate(box(0, 0, 4, 1), 20), 2, None)]
    packing = pack_strip(bars, 2, tries=60)
    assert_sound(bars, 2, packing)
    assert packing.length == pytest.approx(4, abs=1e-6)


def test_what_is_too_wide_at_every_angle_is_refused() -> None:
    """A square of side 3 fits into a strip 2.9 wide at no angle."""
    with pytest.raises(InputError, match="square"):
        pack_strip([Item("square", box(0, 0, 3, 3), 1, None)], 2.9, tries=1)


def test_a_triangle_lies_shorter_by_turning_than_at_listed_angles() -> None:
    """One wedge in a wide strip: the least height of a triangle is one of its altitudes."""
    wedge = [Item("wedge", WEDGE, 1, None)]
    packing = pack_strip(wedge, 5, tries=40)
    assert_sound(wedge, 5, packing)
    longest = max(np.hypot(4, 0), np.hypot(3, 2), np.hypot(1, 2))
    assert packing.length == pytest.approx(2 * WEDGE.area / longest, abs=1e-5)


def test_five_squares_need_an_angle() -> None:
    """Five unit squares in a strip as wide as their best square, 2 + 1/sqrt 2, are no longer
    than it; at right angles they would be 3 long. Gobel 1979, as listed by Friedman,
    Electron. J. Combin. DS7: s(5) = 2.7072."""
    side = 2 + np.sqrt(0.5)
    squares = [Item("square", box(0, 0, 1, 1), 5, None)]
    packing = pack_strip(squares, side, tries=250, seed=1)
    assert_sound(squares, side, packing)
    assert packing.length <= side + 1e-5


def test_pieces_with_listed_angles_keep_them() -> None:
    """Hooks at two listed angles beside wedges that turn freely and may be mirrored."""
    items = [
        Item("hook", HOOK, 3, (0.0, 180.0)),
        Item("wedge", WEDGE, 4, None, flip=True),
    ]
    packing = pack_strip(items, 6, tries=40, seed=2)
    assert_sound(items, 6, packing)
    assert packing.length < 9


def scattered_jigsaw() -> list[Item]:
    """A rectangle of 6 x 4 cut into four, each piece then drawn at an angle of its own."""
    a, b, c, d, e, f = (0, 0), (6, 0), (6, 4), (0, 4), (2, 0), (4, 4)
    p, q = (2, 2), (4, 2)
    pieces = [
        Polygon([a, e, p, (0, 2)]),
        Polygon([e, b, (6, 2), q, p]),
        Polygon([(0, 2), p, q, f, d]),
        Polygon([q, (6, 2), c, f]),
    ]
    return [
        Item(f"piece {i}", affinity.rotate(piece, angle), 1, None)
        for i, (piece, angle) in enumerate(zip(pieces, (17.0, 111.0, 203.0, 339.0), strict=True))
    ]


def test_a_jigsaw_drawn_at_odd_angles_is_put_together() -> None:
    """Its area fills the strip of the rectangle's width to 1e-5 of its length."""
    items = scattered_jigsaw()
    assert sum(i.polygon.area for i in items) == pytest.approx(24, abs=1e-9)
    packing = pack_strip(items, 4, tries=200, seed=1)
    assert_sound(items, 4, packing)
    assert packing.length == pytest.approx(6, abs=1e-4)


def test_turning_makes_an_exact_layout_shorter_and_keeps_what_may_not_turn() -> None:
    """Three wedges in a row; shapely finds no overlap deeper than 1e-7 after turning."""
    problem = StripProblem.of([Item("wedge", WEDGE, 3, (0.0, 90.0))], 4.5)
    turn = np.zeros(3, np.int64)
    low, high = problem.cat.box[0, 0], problem.cat.box[0, 2]
    wide = high - low
    snap = Snapshot(3 * wide, turn, wide * np.arange(3) - low, np.full(3, problem.width / 2))
    outlines, bounds = Outlines(problem), Bounds(problem.width, np.inf, 3)
    begin = free_layout(problem, snap)
    found = refined(outlines, begin, bounds, np.array([True, True, False]))
    assert found.length < 0.9 * begin.length
    assert found.angle[2] == 0.0
    assert (found.angle[:2] != 0.0).any()
    pieces = [
        affinity.translate(affinity.rotate(problem.kinds[0].polygon, a, origin=(0, 0)), x, y)
        for a, x, y in zip(found.angle, found.x, found.y, strict=True)
    ]
    assert max(p.bounds[2] for p in pieces) == pytest.approx(found.length, abs=1e-7)
    assert all(intersection(a, b).area < 1e-6 for a, b in combinations(pieces, 2))
    again = refined(outlines, found, bounds, np.ones(3, bool))
    assert again.length <= found.length


def test_turning_in_a_room_leaves_its_walls_where_they_are() -> None:
    """A wedge beside a pillar: shorter than before, and clear of the pillar to 1e-6."""
    pillar = box(0, 0, 1, 2)
    problem = StripProblem.of([Item("wedge", WEDGE, 1, (0.0,))], 4.5, [pillar])
    low, _, high, top = problem.cat.box[0]
    at = np.array([problem.scale - low, problem.walls[0, 0]])
    up = np.array([problem.width - top, problem.walls[0, 1]])
    snap = Snapshot(at[0] + high, np.array([0, 1]), at, up)
    found = refined(
        Outlines(problem),
        free_layout(problem, snap),
        Bounds(problem.width, 9.0, problem.movable),
        np.array([True, False]),
    )
    turned, short = with_own_angles(problem, found, tabulate=False)
    assert short.length < 0.9 * snap.length
    assert (short.x[1], short.y[1]) == (snap.x[1], snap.y[1])
    assert turned.cat.angle[short.turn[1]] == 0.0
    wedge, wall = (
        affinity.translate(affinity.rotate(k.polygon, turned.cat.angle[t], origin=(0, 0)), x, y)
        for k, t, x, y in zip(turned.kinds, short.turn, short.x, short.y, strict=True)
    )
    assert intersection(wedge, wall).area < 1e-6
    assert wedge.within(box(0, 0, short.length, problem.width).buffer(1e-6))


def test_a_layout_at_its_own_angles_is_the_same_layout() -> None:
    """The problem that lists the angles in use gives them back."""
    problem = StripProblem.of([Item("hook", HOOK, 2, (0.0, 90.0), flip=True)], 4)
    snap = Snapshot(9.0, np.array([1, 2]), np.array([1.0, 2.0]), np.array([0.5, 0.7]))
    layout = free_layout(problem, snap)
    layout.angle[0] = 12.5
    extended, same = with_own_angles(problem, layout, tabulate=False)
    assert extended.cat.angle[same.turn].tolist() == [12.5, 90.0]
    assert extended.cat.flip[same.turn].tolist() == layout.flip.tolist()


def test_sides_are_set_upright() -> None:
    """A square drawn at 30 degrees is searched at 60 and at quarter turns beyond."""
    angles = search_angles(affinity.rotate(box(0, 0, 2, 2), 30))
    assert angles.drawn == (0.0,)
    assert angles.upright == pytest.approx((60.0, 150.0, 240.0, 330.0), abs=1e-6)
    assert search_angles(HOOK).upright == angles.quarters


def test_the_layout_does_not_depend_on_the_number_of_workers() -> None:
    """Two threads find the very layout that one finds."""
    items = [Item("hook", HOOK, 2, None), Item("wedge", WEDGE, 3, None)]
    one, two = (pack_strip(items, 5, tries=30, seed=3, workers=w) for w in (1, 2))
    assert one == two


def test_mirrored_pieces_that_are_turned_copies_may_be_flipped() -> None:
    """A hook mirrored is a hook turned by a quarter, but not among the angles as drawn."""
    items = [Item("hook", HOOK, 2, None, flip=True), Item("wedge", WEDGE, 3, None)]
    assert_sound(items, 5, pack_strip(items, 5, tries=40, seed=1))


def test_ctrl_c_returns_the_best_so_far() -> None:
    """The layout of that moment is handed back whole, marked as stopped."""
    items = [Item("hook", HOOK, 2, None), Item("wedge", WEDGE, 3, None)]

    def press(progress: Progress) -> None:
        if progress.phase not in ("preparing", "first layout"):
            signal.raise_signal(signal.SIGINT)

    packing = pack_strip(items, 5, tries=1000, on_progress=press)
    assert packing.stopped
    assert packing.tries < 1000
    assert_sound(items, 5, packing)
