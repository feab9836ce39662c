"""Sheets of any outline: chosen sets go back in, and as much value as fits."""

import time
from collections.abc import Callable
from dataclasses import replace
from threading import Barrier, Event

import numpy as np
import pytest
from shapely import MultiPolygon, Polygon, affinity, box, intersection, unary_union
from shapely.strtree import STRtree

from nestlib.engine import Item, ItemPlacement, SheetPacking, pack_sheet, sheet_search
from nestlib.engine.layouts import Board
from nestlib.engine.sheet_search import Laid, SheetSearch
from nestlib.engine.stock import Stock
from nestlib.errors import InputError
from nestlib.model import Progress

QUARTERS = (0.0, 90.0, 180.0, 270.0)
ELL = Polygon([(0, 0), (3, 0), (3, 1), (1, 1), (1, 3), (0, 3)])
FRAME = Polygon(box(0, 0, 10, 10).exterior.coords, [box(3, 3, 7, 7).exterior.coords])


def laid(items: list[Item], packing: SheetPacking) -> list[Polygon]:
    """The pieces where they lie."""
    found = []
    for p in packing.placements:
        g = items[p.item].polygon
        g = affinity.scale(g, -1, 1, origin=(0, 0)) if p.flip else g
        g = affinity.rotate(g, p.rotation, origin=(0, 0))
        found.append(affinity.translate(g, p.x, p.y))
    return found


def assert_sound(items: list[Item], room: Polygon | MultiPolygon, packing: SheetPacking) -> None:
    """No overlap and nothing outside to 1e-7 of a piece; allowed turns; right counts."""
    pieces = laid(items, packing)
    for p, g in zip(packing.placements, pieces, strict=True):
        item = items[p.item]
        assert item.rotations is None or p.rotation in item.rotations
        assert item.flip or not p.flip
        assert g.difference(room).area <= 1e-7 * g.area
    for i, j in zip(*STRtree(pieces).query(pieces), strict=True):
        if i < j:
            common = intersection(pieces[i], pieces[j], grid_size=1e-9)
            assert common.area <= 1e-7 * pieces[i].area
    for k, item in enumerate(items):
        lying = sum(p.item == k for p in packing.placements)
        assert lying + packing.missing[k] == item.quantity


def packed(
    items: list[Item], room: Polygon | MultiPolygon, tries: int, **options: object
) -> SheetPacking:
    """Pack and check."""
    packing = pack_sheet(items, room, tries=tries, **options)  # type: ignore[arg-type]
    assert_sound(items, room, packing)
    return packing


def test_a_jigsaw_goes_back_into_an_l_shaped_room() -> None:
    """Three squares and a bar fill a room of their area."""
    items = [
        Item("square", box(0, 0, 1, 1), 3),
        Item("bar", box(0, 0, 2, 1), 1, (0.0, 90.0)),
    ]
    assert packed(items, ELL, 60).missing == (0, 0)


def test_a_jigsaw_goes_back_into_a_room_with_a_hole() -> None:
    """Four mitred sides fill a frame of their area."""
    side = Polygon([(0, 0), (10, 0), (7, 3), (3, 3)])
    assert packed([Item("side", side, 4, QUARTERS)], FRAME, 200).missing == (0,)


def test_a_jigsaw_goes_back_into_slanted_walls() -> None:
    """Two triangles and a parallelogram fill a trapezium of their area."""
    room = Polygon([(0, 0), (4, 0), (3, 1), (1, 1)])
    items = [
        Item("triangle", Polygon([(0, 0), (1, 0), (1, 1)]), 1),
        Item("slope", Polygon([(0, 0), (1, 0), (0, 1)]), 1),
        Item("middle", box(0, 0, 2, 1), 1),
    ]
    assert packed(items, room, 100).missing == (0, 0, 0)


def test_rooms_apart_are_both_used_and_nothing_lies_between() -> None:
    """Eight squares fill two rooms of four each; the ninth finds no place."""
    room = unary_union([box(0, 0, 2, 2), box(3, 0, 5, 2)])
    assert packed([Item("square", box(0, 0, 1, 1), 9)], room, 60).missing == (1,)


def test_a_keep_out_zone_stays_free() -> None:
    """Around a square zone in the middle of a 3 x 3 room eight squares find a place."""
    room = box(0, 0, 3, 3).difference(box(1, 1, 2, 2))
    assert packed([Item("square", box(0, 0, 1, 1), 9)], room, 150).missing == (1,)


def test_holes_of_pieces_are_used() -> None:
    """Four frames fill the room; four squares lie in their holes."""
    items = [Item("frame", FRAME, 4), Item("square", box(0, 0, 4, 4), 4)]
    assert packed(items, box(0, 0, 20, 20), 150).missing == (0, 0)


def test_mirrored_copies_fill_what_turned_ones_cannot() -> None:
    """Two right trapezia fill a rectangle only if one of them is mirrored."""
    part = Polygon([(0, 0), (3, 0), (2, 1), (0, 1)])
    room = unary_union([part, affinity.translate(affinity.scale(part, -1, 1, origin=(0, 0)), 8, 0)])
    assert packed([Item("part", part, 2, (0.0,), flip=True)], room, 60).missing == (0,)
    assert packed([Item("part", part, 2, (0.0,))], room, 60).missing == (1,)


def test_the_better_set_is_chosen() -> None:
    """A 3 x 2 room takes two dominoes and a bar of value 9 rather than more squares."""
    items = [
        Item("square", box(0, 0, 1, 1), 6, value=1.0),
        Item("bar", box(0, 0, 3, 1), 2, (0.0, 90.0), value=4.0),
    ]
    packing = packed(items, box(0, 0, 3, 2), 150)
    assert packing.value == 8.0
    assert packing.missing == (6, 0)


def test_what_lies_is_exchanged_for_something_better() -> None:
    """A layout of small pieces to begin with gives way to a large one that is worth more."""
    items = [
        Item("small", box(0, 0, 1, 1), 3, value=1.0),
        Item("large", box(0, 0, 2, 2), 1, value=5.0),
    ]
    room = box(0, 0, 2, 2)
    first = pack_sheet(items[:1], room, tries=40)
    assert len(first.placements) == 3
    packing = packed(items, room, 200, begin=first.placements)
    assert packing.value == 5.0


def test_what_fits_is_pushed_together() -> None:
    """Nine squares in a room three high and long enough for thirty reach 3, to 1e-6."""
    items = [Item("square", box(0, 0, 1, 1), 9)]
    packing = packed(items, box(0, 0, 10, 3), 150)
    assert max(g.bounds[2] for g in laid(items, packing)) == pytest.approx(3.0, abs=1e-6)


def test_pieces_interlock_better_than_their_boxes() -> None:
    """Of L-shapes more lie in the room than their boxes would allow."""
    items = [Item("L", ELL, 30, QUARTERS)]
    packing = packed(items, box(0, 0, 9, 9), 150)
    assert len(packing.placements) > 9


def test_a_begun_layout_is_never_made_worse() -> None:
    """Without a try the layout to begin with is handed back, moved by at most 1e-9."""
    items = [Item("L", ELL, 2, QUARTERS, flip=True)]
    room = box(1, 2, 9, 9)
    first = packed(items, room, 20)
    again = packed(items, room, 0, begin=first.placements)
    for p, q in zip(first.placements, again.placements, strict=True):
        assert (p.item, p.rotation, p.flip) == (q.item, q.rotation, q.flip)
        assert (p.x, p.y) == pytest.approx((q.x, q.y), abs=1e-9)


@pytest.mark.slow
def test_workers_change_nothing() -> None:
    """The same seed and tries give the same layout with one worker and with two."""
    items = [Item("L", ELL, 12, QUARTERS), Item("bar", box(0, 0, 2, 1), 9, QUARTERS)]
    one, two = (packed(items, box(0, 0, 9, 8), 40, seed=5, workers=n) for n in (1, 2))
    assert one == two


def test_a_piece_too_large_is_refused() -> None:
    """The message names the item."""
    with pytest.raises(InputError, match="beam"):
        pack_sheet([Item("beam", box(0, 0, 9, 1))], box(0, 0, 4, 4), tries=1)


def test_an_end_is_demanded() -> None:
    """Neither seconds nor tries is an error."""
    with pytest.raises(ValueError, match="seconds or tries"):
        pack_sheet([Item("square", box(0, 0, 1, 1))], box(0, 0, 4, 4))


def test_free_angles_are_used() -> None:
    """A bar longer than the sides of the room lies along its diagonal."""
    packing = packed([Item("bar", box(0, 0, 11, 0.5), 1, None)], box(0, 0, 10, 10), 20)
    assert packing.missing == (0,)


def test_parts_that_are_thrown_in_stay_no_higher_than_the_room() -> None:
    """A bar longer than the room is high keeps its slant, thrown in 20 times at four turns."""
    turns = [(angle, False) for angle in (0.0, 45.0, 60.0, 90.0)]
    stock = Stock.of([box(0, 0, 11, 0.5)], [turns], [box(0, 0, 12, 8.5)])
    board = Board(stock.problem(np.zeros(1, np.int64), stock.rooms[0]))
    board.length = stock.rooms[0].length
    seen = set()
    for seed in range(20):
        board.throw(np.array([0]), np.random.default_rng(seed))
        seen.add(float(stock.shapes.cat.angle[board.layout.turn[0]]))
    assert seen == {0.0, 45.0}


def test_placements_and_layouts_are_the_same_thing() -> None:
    """A layout made of placements gives back the placements, to 1e-9."""
    random = np.random.default_rng(1)
    part = affinity.translate(ELL, 5.0, -3.0)
    turns = [(a, f) for f in (False, True) for a in (0.0, 37.0, 90.0)]
    stock = Stock.of([part], [turns], [box(2, 1, 30, 20)])
    places = random.uniform(0.0, 20.0, (6, 2))
    snap = stock.laid(stock.rooms[0], [0] * 6, turns, places)
    found = stock.placements(stock.rooms[0], snap)
    assert [(p.rotation, p.flip) for p in found] == turns
    assert np.allclose([(p.x, p.y) for p in found], places, atol=1e-9)


def searching(over: Callable[[], bool] = lambda: False) -> SheetSearch:
    """The search for the places of nine squares in a room for sixteen."""
    stock = Stock.of([box(0, 0, 1, 1)], [[(0.0, False)]], [box(0, 0, 4, 4)])
    return SheetSearch(stock, stock.rooms[0], np.array([9]), np.ones(1), (0,), over)


def test_linear_programs_learn_that_the_time_is_over(monkeypatch: pytest.MonkeyPatch) -> None:
    """The time is over while they are solved; they are told so when they ask."""
    begun, told = Event(), list[bool]()

    def compact(*_: object, over: Callable[[], bool], **__: object) -> None:
        begun.set()
        told.append(over())

    monkeypatch.setattr(sheet_search, "compact", compact)
    searching(begun.is_set).run(1, 1)
    assert told
    assert all(told)


def test_tries_after_a_success_are_withdrawn(monkeypatch: pytest.MonkeyPatch) -> None:
    """The first try of a round succeeds; the second, which began with it, is told to end."""
    search, told, began = searching(), Event(), list[int]()
    better = replace(search.best, value=1.0)
    together = Barrier(2)

    def carried_out(_: object, number: int, over: Callable[[], bool]) -> tuple[Laid, bool]:
        began.append(number)
        if len(began) > 2:
            return better, False
        together.wait(10)
        while number == 1 and not over():
            time.sleep(0.001)
        if number == 1:
            told.set()
        return better, number == 0

    monkeypatch.setattr(search, "_carry_out", carried_out)
    assert search.run(2, 1, 2) is better
    assert told.wait(10)
    assert sorted(began) == [0, 1, 1]


@pytest.mark.parametrize("angle", [90.0, 180.0, 270.0, 360.0, -90.0])
def test_a_turn_that_gives_the_same_outline_stands_for_the_listed_one(angle: float) -> None:
    """The piece keeps its place, to 1e-9, and stays what it is; the turn becomes 0."""
    items = [
        Item("square", affinity.translate(box(0, 0, 1, 1), 7, 5), 1, QUARTERS),
        Item("bar", box(0, 0, 2, 1), 1, QUARTERS),
    ]
    at = affinity.rotate(items[0].polygon, angle, origin=(0, 0)).bounds
    begin = [ItemPlacement(0, angle, False, 1.5 - at[0], 2.0 - at[1])]
    packing = packed(items, box(0, 0, 4, 4), 0, begin=begin)
    assert [(p.item, p.rotation) for p in packing.placements] == [(0, 0.0)]
    assert laid(items, packing)[0].bounds == pytest.approx((1.5, 2.0, 2.5, 3.0), abs=1e-9)


def test_a_mirrored_piece_stands_for_a_turned_one() -> None:
    """A mirrored L is the L turned by 90 degrees; it keeps its place, to 1e-9."""
    begin = [ItemPlacement(0, 0.0, True, 3.0, 0.0)]
    packing = packed([Item("L", ELL, 1, QUARTERS, flip=True)], box(0, 0, 4, 4), 0, begin=begin)
    (p,) = packing.placements
    assert (p.rotation, p.flip) == (90.0, False)
    assert (p.x, p.y) == pytest.approx((3.0, 0.0), abs=1e-9)


@pytest.mark.parametrize(
    ("begin", "message"),
    [
        ([(1, 45.0, 0, 0)], r"bar: begin\[0\]: its turn by 45 degrees is none of those"),
        ([(2, 0.0, 0, 0)], r"begin\[0\]: there is no item 2"),
        ([(-1, 0.0, 0, 0)], r"there is no item -1"),
        ([(0, 0.0, float("nan"), 0)], r"moved by \(nan, 0\)"),
        ([(1, 0.0, 0, 0), (1, 0.0, 0, 2)], "bar: begin: 2 pieces to begin with, and there are 1"),
        ([(0, 0.0, 0, 0), (0, 0.0, 3.5, 0)], r"square: begin\[1\]: not within the room"),
        ([(0, 0.0, 0, 0), (1, 0.0, 0.999, 0)], r"square: begin\[0\]: overlaps bar, begin\[1\]"),
        ([(0, 0.0, 0, 0), (0, 0.0, 0, 0)], r"square: begin\[0\]: overlaps square, begin\[1\]"),
    ],
)
def test_a_beginning_that_is_not_sound_is_refused(begin: list, message: str) -> None:
    """The message names the item and the piece."""
    items = [Item("square", box(0, 0, 1, 1), 2), Item("bar", box(0, 0, 2, 1), 1, (0.0, 90.0))]
    placements = [ItemPlacement(k, angle, False, x, y) for k, angle, x, y in begin]
    with pytest.raises(InputError, match=message):
        pack_sheet(items, box(0, 0, 4, 4), tries=1, begin=placements)


def test_all_that_is_wrong_with_a_beginning_is_said_at_once() -> None:
    """Too many pieces, one of them outside and two of them overlapping: three problems."""
    items = [Item("square", box(0, 0, 1, 1), 2)]
    begin = [ItemPlacement(0, 0.0, False, x, 0.0) for x in (0.0, 0.5, 9.0)]
    with pytest.raises(InputError) as refused:
        pack_sheet(items, box(0, 0, 4, 4), tries=1, begin=begin)
    assert len(refused.value.problems) == 3


def test_contacts_are_no_overlaps() -> None:
    """Squares side by side, and a piece in the hole of a frame that it fills, are sound."""
    items = [Item("frame", FRAME, 1), Item("square", box(0, 0, 2, 2), 4)]
    begin = [ItemPlacement(0, 0.0, False, 0.0, 0.0)]
    begin += [ItemPlacement(1, 0.0, False, x, y) for x in (3.0, 5.0) for y in (3.0, 5.0)]
    assert packed(items, box(0, 0, 10, 10), 0, begin=begin).missing == (0, 0)


def test_a_layout_knows_only_the_turns_of_its_kinds() -> None:
    """A turn of the second kind is not taken for one of the first."""
    turns = [[(0.0, False)], [(0.0, False), (90.0, False)]]
    stock = Stock.of([box(0, 0, 1, 1), box(0, 0, 2, 1)], turns, [box(0, 0, 4, 4)])
    with pytest.raises(InputError, match=r"kind 0: turn \(90.0, False\) is none"):
        stock.laid(stock.rooms[0], [0], [(90.0, False)], np.zeros((1, 2)))


def test_a_beginning_survives_ctrl_c_before_the_search() -> None:
    """Interrupted while the kernels are prepared, the given layout comes back with its value."""
    tile = Item("tile", box(0, 0, 1, 1), 4, (0.0,), value=2.5)
    begin = [ItemPlacement(0, 0.0, False, 1.0, 1.0)]

    def press(progress: Progress) -> None:
        if progress.phase == "preparing":
            raise KeyboardInterrupt

    packing = pack_sheet([tile], box(0, 0, 3, 3), tries=5, begin=begin, on_progress=press)
    assert packing == SheetPacking(tuple(begin), (3,), 2.5, 0, stopped=True)


@pytest.mark.parametrize(("scale", "dx", "dy"), [(1000.0, 0.0, 0.0), (1.0, -70.0, 40.0)])
def test_units_and_the_place_of_a_room_change_nothing(scale: float, dx: float, dy: float) -> None:
    """The same pieces lie at the same places, in other units or in a room elsewhere."""
    bend = Polygon([(0, 0), (3, 0), (3, 1), (1, 1), (1, 3), (0, 3)])
    room = Polygon([(0, 0), (9, 0), (9, 5), (6, 9), (0, 9)])
    items = [Item("bend", bend, 8, (0.0, 90.0, 180.0, 270.0)), Item("bar", box(0, 0, 4, 1), 6)]
    here = pack_sheet(items, room, tries=30)
    other = affinity.scale(room, scale, scale, origin=(0, 0))
    grown = [
        replace(i, polygon=affinity.scale(i.polygon, scale, scale, origin=(0, 0))) for i in items
    ]
    there = pack_sheet(grown, affinity.translate(other, dx, dy), tries=30)
    assert there.missing == here.missing
    assert_sound(grown, affinity.translate(other, dx, dy), there)


def test_more_tries_never_lay_less() -> None:
    """What lies is worth no less after 2, 10 and 40 tries."""
    items = [Item(f"plate {k}", box(0, 0, 2 + k % 3, 1 + k % 4), 3) for k in range(6)]
    values = [pack_sheet(items, box(0, 0, 10, 9), tries=n, seed=4).value for n in (2, 10, 40)]
    assert values == sorted(values)


def test_many_small_pieces_replace_large_ones_of_the_same_value() -> None:
    """A full room is no end while smaller pieces of the same value are missing."""
    items = [
        Item("big", box(0, 0, 5, 5), 4, value=1),
        Item("small", box(0, 0, 2.5, 2.5), 16, value=1),
    ]
    packing = pack_sheet(items, box(0, 0, 10, 10), tries=200)
    assert_sound(items, box(0, 0, 10, 10), packing)
    assert packing.value == 16


@pytest.mark.parametrize("tries", [1, 2, 3])
def test_no_more_tries_than_were_asked_for(tries: int) -> None:
    """Also where two tries run beside each other."""
    items = [Item("bend", Polygon([(0, 0), (3, 0), (3, 1), (1, 1), (1, 3), (0, 3)]), 9)]
    assert pack_sheet(items, box(0, 0, 8, 8), tries=tries, workers=2).tries <= tries
