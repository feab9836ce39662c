"""Rooms whose pieces may turn by any angle: known optima, and never worse than listed angles."""

from __future__ import annotations

import signal
from dataclasses import replace

import numpy as np
import pytest
from shapely import MultiPolygon, Point, Polygon, affinity, box, intersection, unary_union

from nestlib.engine import Item, ItemPlacement, SheetPacking, pack_sheet
from nestlib.engine.aligning import aligned_turns
from nestlib.engine.compaction import Bounds
from nestlib.engine.freeing import freed
from nestlib.engine.layouts import Snapshot
from nestlib.engine.sheet_search import SheetSearch
from nestlib.engine.sheet_turns import turns_in
from nestlib.engine.stock import Stock
from nestlib.engine.turning import FreeLayout, Outlines, free_layout
from nestlib.errors import InputError
from nestlib.model import Progress
from tests.engine.test_pack_sheet import assert_sound, laid, packed

HOOK = Polygon([(0, 0), (3, 0), (3, 1), (1, 1), (1, 3), (0, 3)])
WEDGE = Polygon([(0, 0), (4, 0), (1, 2)])


def at_listed_angles(items: list[Item], room: Polygon | MultiPolygon) -> list[Item]:
    """The same items with the list of angles that stood for any angle, and so no others."""
    angles = [tuple(dict.fromkeys(a for a, _ in turns_in(i, room))) for i in items]
    return [
        replace(i, rotations=a) if i.rotations is None else i
        for i, a in zip(items, angles, strict=True)
    ]


def reach(items: list[Item], packing: SheetPacking) -> float:
    """How far the pieces reach along x."""
    return max((g.bounds[2] for g in laid(items, packing)), default=0.0)


def corner_to_corner(shrunk: float = 1.0) -> tuple[list[Item], Polygon]:
    """A bar of 10 x 1 at 31 degrees that touches all sides of a room, and what it leaves free.

    The triangles in the corners are shrunk by a factor, and drawn at odd angles like the bar.
    """
    c, s = np.cos(np.radians(31.0)), np.sin(np.radians(31.0))
    wide, high = 10 * c + s, 10 * s + c
    corners = [
        Polygon([(s, 0), (wide, 0), (wide, 10 * s)]),
        Polygon([(0, c), (10 * c, high), (0, high)]),
        Polygon([(0, 0), (s, 0), (0, c)]),
        Polygon([(wide, 10 * s), (wide, high), (10 * c, high)]),
    ]
    assert sum(p.area for p in corners) + 10 == pytest.approx(wide * high, abs=1e-9)
    pieces = [affinity.scale(p, shrunk, shrunk) for p in corners]
    drawn = [affinity.rotate(p, angle) for p, angle in zip(pieces, (17, 71, 203, 338), strict=True)]
    items = [Item(f"corner {k}", p, 1, None) for k, p in enumerate(drawn)]
    return [Item("bar", box(0, 0, 10, 1), 1, None), *items], box(0, 0, wide, high)


@pytest.mark.parametrize(("shrunk", "angle"), [(1.0, 0.0), (0.98, 9.1), (1.0, 50.2)])
def test_a_bar_from_corner_to_corner_leaves_room_for_the_rest(shrunk: float, angle: float) -> None:
    """All five pieces lie, in a turned room too; at listed angles some find no place."""
    items, upright = corner_to_corner(shrunk)
    room = affinity.rotate(upright, angle)
    assert sum(packed(at_listed_angles(items, room), room, 40).missing) > 0
    assert packed(items, room, 40).missing == (0, 0, 0, 0, 0)


@pytest.mark.parametrize("angle", [7.3, 41.9])
def test_a_turned_room_is_filled_at_its_own_angle(angle: float) -> None:
    """Twelve tiles of 2 x 1 fill a rectangle of 6 x 4 turned by an angle of no list."""
    room = affinity.rotate(box(0, 0, 6, 4), angle)
    items = [Item("tile", box(0, 0, 2, 1), 12, None)]
    assert packed(at_listed_angles(items, room), room, 40).missing[0] > 0
    packing = packed(items, room, 40)
    assert packing.missing == (0,)
    assert {round((p.rotation - angle) % 90.0, 5) % 90.0 for p in packing.placements} == {0.0}


def test_a_bar_in_a_rhombus_lies_at_the_angle_of_its_axis() -> None:
    """As long as fits along the axis but for 1e-3: no listed angle takes it in."""
    rhombus = affinity.rotate(Polygon([(0, 0), (10, -3), (20, 0), (10, 3)]), 11.0)
    # Between the sides a bar 1 high is at most 20 - 2 * (1/2) * 10/3 long, along the axis.
    bars = [Item("bar", box(0, 0, 20 - 10 / 3 - 1e-3, 1), 1, None)]
    assert pack_sheet(at_listed_angles(bars, rhombus), rhombus, tries=20).missing == (1,)
    packing = packed(bars, rhombus, 20)
    assert packing.missing == (0,)
    assert packing.placements[0].rotation % 180.0 == pytest.approx(11.0, abs=0.1)


def test_a_triangle_lies_shorter_than_at_listed_angles() -> None:
    """One wedge alone: no layout is shorter than its least altitude, which is reached."""
    items = [Item("wedge", WEDGE, 1, None)]
    longest = max(np.hypot(4, 0), np.hypot(3, 2), np.hypot(1, 2))
    packing = packed(items, Polygon([(0, 0), (9, 0), (8, 6), (0, 6)]), 10)
    assert reach(items, packing) == pytest.approx(2 * WEDGE.area / longest, abs=1e-5)


ROOMS = {
    "rectangle": box(0, 0, 8, 6),
    "slanted": Polygon([(0, 0), (9, 1), (8, 7), (2, 6)]),
    "with a hole": box(0, 0, 8, 7).difference(box(3, 2, 5, 4)),
    "apart": unary_union([box(0, 0, 4, 6), affinity.rotate(box(5, 0, 9, 6), 12)]),
    "round": Point(20, -3).buffer(4.5, quad_segs=6),
}


@pytest.mark.parametrize("seed", [0, 1])
@pytest.mark.parametrize("name", ROOMS)
def test_never_worse_than_listed_angles(name: str, seed: int) -> None:
    """For the same seed and tries: worth as much, and if it is no more, no longer.

    Nothing overlaps or leaves the room, and the hooks keep to the angles they are given.
    """
    random, room = np.random.default_rng(seed), ROOMS[name]
    hulls = [Polygon(random.uniform(0, 2.5, (6, 2))).convex_hull for _ in range(3)]
    items = [Item(f"hull {k}", p, 4, None, flip=k == 1) for k, p in enumerate(hulls)]
    items += [Item("wedge", WEDGE, 3, None), Item("hook", HOOK, 2, (0.0, 90.0))]
    listed = packed(at_listed_angles(items, room), room, 8, seed=seed)
    free = packed(items, room, 8, seed=seed)
    assert free.value >= listed.value
    if free.value == listed.value:
        assert reach(items, free) <= reach(items, listed) + 1e-9
    assert free.tries <= 8


def test_overlaps_are_contacts_to_the_promised_depth() -> None:
    """Pieces that are smaller by 1e-8 of a mean side all around lie apart, and within."""
    items = [Item("wedge", WEDGE, 4, None), Item("hook", HOOK, 2, None)]
    room = Polygon([(0, 0), (9, 1), (8, 7), (2, 6)])
    packing = packed(items, room, 20)
    deep = 1.01e-8 * np.sqrt((4 * WEDGE.area + 2 * HOOK.area) / 6)
    pieces = [g.buffer(-deep, join_style="mitre") for g in laid(items, packing)]
    assert len(pieces) > 3
    assert all(room.covers(g) for g in pieces)
    assert not any(a.intersects(b) for k, a in enumerate(pieces) for b in pieces[:k])


def test_workers_change_nothing() -> None:
    """Two threads find the very layout that one finds."""
    items = [Item("hook", HOOK, 4, None), Item("wedge", WEDGE, 6, None)]
    one, two = (packed(items, ROOMS["slanted"], 10, seed=3, workers=n) for n in (1, 2))
    assert one == two
    assert packed(items, ROOMS["slanted"], 10, seed=4) != one


def test_a_pause_changes_nothing() -> None:
    """A search in pieces of three tries is the search at once."""
    stock = Stock.of([HOOK], [[(0.0, False), (90.0, False)]], [box(0, 0, 9, 7)])

    def search() -> SheetSearch:
        return SheetSearch(stock, stock.rooms[0], np.array([9]), np.ones(1), (0,), lambda: False)

    at_once, paused = search(), search()
    at_once.run(19, 19)
    stops = []
    while paused.tries < 19:
        paused.run(19, 19, pause=paused.tries + 3)
        stops.append(paused.tries)
    assert len(stops) > 4
    assert paused.placements() == at_once.placements()
    assert [f.snap.loss for f in paused.failed] == [f.snap.loss for f in at_once.failed]


def test_a_layout_at_refined_angles_can_be_begun_with() -> None:
    """Without a try it comes back; with tries it gets no worse."""
    items, room = [Item("tile", box(0, 0, 2, 1), 12, None)], affinity.rotate(box(0, 0, 6, 4), 7.3)
    first = packed(items, room, 40)
    again = packed(items, room, 0, begin=first.placements)
    for p, q in zip(first.placements, again.placements, strict=True):
        assert (p.item, p.rotation, p.flip) == (q.item, q.rotation, q.flip)
        assert (p.x, p.y) == pytest.approx((q.x, q.y), abs=1e-9)
    assert packed(items, room, 4, begin=first.placements[:9]).value >= 18.0


def test_what_may_not_be_flipped_does_not_begin_mirrored() -> None:
    """A mirrored wedge is no turned one; the remedy is to let it be flipped."""
    begin = [ItemPlacement(0, 10.0, True, 5.0, 1.0)]
    with pytest.raises(InputError, match="Let it be flipped"):
        pack_sheet([Item("wedge", WEDGE, 1, None)], box(0, 0, 9, 9), tries=1, begin=begin)


def test_ctrl_c_returns_the_best_so_far() -> None:
    """The third better layout is handed back whole, marked as stopped."""
    items, heard = [Item("hook", HOOK, 4, None), Item("wedge", WEDGE, 5, None)], list[Progress]()

    def press(progress: Progress) -> None:
        if progress.phase == "filling":
            heard.append(progress)
        if len(heard) == 3:
            signal.raise_signal(signal.SIGINT)

    packing = pack_sheet(items, ROOMS["slanted"], tries=1000, on_progress=press)
    assert packing.stopped
    assert packing.tries < 1000
    assert len(packing.placements) == heard[-1].placed
    assert_sound(items, ROOMS["slanted"], packing)


def test_no_time_is_no_search() -> None:
    """After 0 seconds nothing lies, and nothing is wrong."""
    packing = pack_sheet([Item("hook", HOOK, 4, None)], box(0, 0, 9, 9), seconds=0)
    assert (packing.placements, packing.missing) == ((), (4,))


def corridor() -> tuple[Stock, FreeLayout]:
    """A bar of 6 x 1 that lies straight in a passage 1.01 wide at 8 degrees, and overlaps it."""
    passage = affinity.rotate(box(-4, -0.505, 4, 0.505), 8.0)
    stock = Stock.of([box(0, 0, 6, 1)], [[(0.0, False)]], [passage])
    room = stock.rooms[0]
    middle = np.array([room.length / 2, room.width / 2])
    at = np.vstack([middle, room.walls])
    turn = np.arange(1 + len(room.kind))
    return stock, free_layout(
        stock.problem(np.zeros(1, np.int64), room), Snapshot(room.length, turn, *at.T)
    )


def test_a_bar_turns_into_a_passage() -> None:
    """Freed of the walls by turning, at the angle of the passage; they stay where they are."""
    stock, layout = corridor()
    problem = stock.problem(np.zeros(1, np.int64), stock.rooms[0])
    bounds = Bounds(stock.rooms[0].width, stock.rooms[0].length, 1)
    free = np.arange(len(layout.x)) < 1
    found = freed(Outlines(problem), layout, bounds, free)
    assert found is not None
    assert found.angle[0] == pytest.approx(8.0, abs=0.2)
    assert (found.x[1:] == layout.x[1:]).all()
    kinds = zip(stock.kinds, found.angle, found.x, found.y, strict=True)
    bar, *walls = (
        affinity.translate(affinity.rotate(k.polygon, a, origin=(0, 0)), x, y)
        for k, a, x, y in kinds
    )
    assert all(intersection(bar, wall).area < 1e-7 for wall in walls)
    assert freed(Outlines(problem), layout, bounds, np.zeros(len(free), bool)) is None


def test_sides_are_laid_along_walls() -> None:
    """A bar in a triangle: along each wall; a disc of many sides and a round room: nowhere."""
    triangle = Polygon([(0, 0), (9, 0), (4, 5)])
    angles = [a % 180.0 for a, _ in aligned_turns(box(0, 0, 3, 1), triangle, [False])]
    slopes = [0.0, np.degrees(np.arctan2(5, -5)), np.degrees(np.arctan2(5, 4))]
    assert sorted(angles[:3]) == pytest.approx(sorted(slopes), abs=1e-6)
    assert aligned_turns(box(0, 0, 3, 1), Point(0, 0).buffer(5), [False]) == ()
    assert aligned_turns(Point(0, 0).buffer(1), triangle, [False]) == ()


def test_a_piece_is_mirrored_to_lean_on_a_wall_only_if_it_may() -> None:
    """A lopsided triangle at its turns in a square: as many again if it may be flipped."""
    plain = aligned_turns(WEDGE, box(0, 0, 9, 9), [False], most=99)
    both = aligned_turns(WEDGE, box(0, 0, 9, 9), [False, True], most=99)
    assert len(plain) == 12
    assert len(both) == 24
    assert {f for _, f in both} == {False, True}
