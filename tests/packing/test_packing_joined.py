"""Several sheets as one room: pieces move between them and come back to the right sheet."""

import numpy as np
import pytest
from shapely import MultiPolygon, Polygon, affinity, box

from nestlib.engine.joined import Joined
from nestlib.engine.sheet_search import SheetSearch
from nestlib.engine.stock import Stock
from nestlib.packing import Container, PackedPlacement, PackedSheet, Shape
from nestlib.packing.dense import dense
from nestlib.packing.problem import prepare
from nestlib.packing.score import missing
from nestlib.packing.squeezing import squeeze

TURNS = [(0.0, False), (90.0, False), (180.0, False), (270.0, False)]
BEND = Polygon([(0, 0), (3, 0), (3, 1), (1, 1), (1, 3), (0, 3)])
BAR = box(10, 20, 12, 21)
ROOMS = [
    box(0, 0, 12, 9),
    Polygon([(5, 5), (14, 5), (14, 9), (9, 9), (9, 11), (5, 11)]),
    box(-3, -2, 4, 10).difference(box(0, 3, 2, 5)),
]


def test_placements_come_back_to_their_own_rooms() -> None:
    """What is laid in three unlike rooms is the same after joining and parting, to 1e-9."""
    stock = Stock.of([BEND, BAR], [TURNS, TURNS], ROOMS, joinable=True)
    joined = Joined.of(stock, [*stock.rooms, stock.rooms[0]])
    spots = [[(1, 1), (5, 4)], [(5.5, 5.5)], [(-2, -1), (0, 6)], [(8, 0)]]
    layouts = [
        stock.laid(room, [0] * len(at), [TURNS[0]] * len(at), np.array(at, float))
        for room, at in zip(joined.rooms, spots, strict=True)
    ]
    found = joined.placements(joined.laid(layouts))
    for at, placements in zip(spots, found, strict=True):
        assert [(p.x, p.y) for p in placements] == [pytest.approx(a, abs=1e-9) for a in at]


def test_nothing_lies_on_a_fence_or_leaves_its_room() -> None:
    """What is thrown into three joined rooms lies within one of them, and some in each."""
    stock = Stock.of([BEND, BAR], [TURNS, TURNS], ROOMS, joinable=True)
    joined = Joined.of(stock, stock.rooms)
    most, value = np.array([20, 20]), np.array([5.0, 2.0])
    best = SheetSearch(stock, joined.room, most, value, (1,), lambda: False, shorten=False).run(
        60, 60
    )
    found = joined.placements(best.snap)
    assert sum(map(len, found)) == len(best.kind) > 20
    for room, placements in zip(ROOMS, found, strict=True):
        assert placements
        for p in placements:
            turned = affinity.rotate([BEND, BAR][p.item], p.rotation, origin=(0, 0))
            outside = affinity.translate(turned, p.x, p.y).difference(room)
            assert outside.area < 1e-6


def test_pieces_move_between_sheets_so_that_one_gets_empty() -> None:
    """Four plates of 6 x 4 and four of 4 x 4 fill two sheets of 10 x 8, not three."""
    shapes = [Shape("large", box(0, 0, 6, 4), 24.0, 4), Shape("small", box(0, 0, 4, 4), 16.0, 4)]
    tray = Container("tray", MultiPolygon([box(0, 0, 10, 8)]), 80.0)
    problem = prepare(shapes, [tray])

    def at(shape: int, x: float, y: float) -> PackedPlacement:
        return PackedPlacement(shape, 0.0, False, x, y)

    sheets = (
        PackedSheet(0, (at(0, 0, 0), at(0, 0, 4), at(1, 6, 0))),
        PackedSheet(0, (at(1, 0, 0), at(1, 4, 0), at(1, 0, 4))),
        PackedSheet(0, (at(0, 0, 0), at(0, 0, 4))),
    )
    for k in range(20):
        sheets, _ = squeeze(problem, sheets, (k,), lambda: False)
        assert not any(missing(problem, sheets))
    assert sum(s.runs for s in sheets) == 2


def test_sheets_with_other_turns_are_not_joined() -> None:
    """Sheets whose grain runs otherwise allow other turns, so pieces cannot move freely."""
    plate = Shape("plate", box(0, 0, 6, 4), 24.0, 4, grain=0.0)
    rooms = MultiPolygon([box(0, 0, 10, 8)])
    trays = [Container(str(g), rooms, 80.0, grain=g) for g in (0.0, 90.0)]
    view = dense(prepare([plate], trays))
    assert view.are_joinable([0, 0])
    assert not view.are_joinable([0, 1])
