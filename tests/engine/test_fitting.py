"""Items that fit nowhere or make no sense are refused with numbers that help."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely import MultiPolygon, affinity
from shapely.geometry import Polygon, box

from nestlib.engine import Item, pack_strip
from nestlib.engine.fitting import check_room, check_strip, fits, fitting_turns
from nestlib.errors import InputError

BAR = box(0, 0, 30, 2)
WEDGE = Polygon([(0, 0), (10, 0), (10, 1), (0, 4)])


def told(error: pytest.ExceptionInfo[InputError]) -> list[str]:
    """The problems, one line each."""
    return [str(p) for p in error.value.problems]


def test_all_items_that_never_fit_are_named_at_once() -> None:
    """Each with its size at the best turn and the width that would do."""
    items = [
        Item("bar", BAR, rotations=(90.0,)),
        Item("tile", box(0, 0, 1, 1)),
        Item("wedge", WEDGE, rotations=(0.0, 90.0), flip=True),
    ]
    with pytest.raises(InputError) as error:
        pack_strip(items, 3, tries=1)
    assert told(error) == [
        "bar: 30 wide at its best turn, and the strip is 3 wide. "
        "Widen the strip to 30 or allow more turns.",
        "wedge: 4 wide at its best turn, and the strip is 3 wide. "
        "Widen the strip to 4 or allow more turns.",
    ]


def test_the_width_that_is_told_takes_the_item() -> None:
    """Rounded up: an item 2.00001 wide asks for 2.001, and then it fits."""
    item = Item("tile", box(0, 0, 2.00001, 2.00001))
    with pytest.raises(InputError, match=r"tile: 2\.001 wide .*strip is 2 wide"):
        check_strip([item], 2)
    check_strip([item], 2.001)


def test_a_free_item_is_judged_by_its_narrowest_turn() -> None:
    """A square on its corner is 2 wide; turned it fits a strip of 1.5, not one of 1.4."""
    item = Item("diamond", affinity.rotate(box(0, 0, math.sqrt(2), math.sqrt(2)), 45), 1, None)
    check_strip([item], 1.5)
    turns = fitting_turns(item, 1.5)
    assert turns
    assert all(fits(item.polygon, turn, 1.5) for turn in turns)
    with pytest.raises(InputError, match=r"1\.415 wide .*Widen the strip to 1\.415\."):
        check_strip([item], 1.4)


def test_a_free_bar_lies_across_a_room() -> None:
    """12 x 1 fits into 10 x 10 only aslant: (12 + 1) / sqrt(2) = 9.19 at 45 degrees."""
    bar = Item("bar", box(0, 0, 12, 1), 1, None)
    check_room([bar], box(0, 0, 10, 10))
    check_room([bar], box(0, 0, 9.2, 9.2))
    with pytest.raises(InputError, match="at least; give more room"):
        check_room([bar], box(0, 0, 9.1, 9.1))


def test_a_room_in_parts_takes_what_one_part_takes() -> None:
    """The parts' boxes count one by one, and the refusal tells the smallest rectangle."""
    room = MultiPolygon([box(0, 0, 5, 2), box(10, 0, 12, 5)])
    check_room([Item("a", box(0, 0, 5, 2)), Item("b", box(0, 0, 2, 5))], room)
    with pytest.raises(InputError) as error:
        check_room([Item("c", box(0, 0, 6, 1), rotations=(0.0, 90.0))], room)
    assert told(error) == [
        "c: 6 x 1 at its best turn, and the room is 5 x 2. "
        "It needs a rectangle of 6 x 1 at least; allow more turns or give more room."
    ]


def test_all_that_makes_no_sense_is_told_at_once() -> None:
    """Quantities, outlines, turns, values and the width, one line each."""
    bow = Polygon([(0, 0), (2, 2), (2, 0), (0, 2)])
    items = [
        Item("half", box(0, 0, 1, 1), 1.5),  # type: ignore[arg-type]
        Item("less", box(0, 0, 1, 1), -1),
        Item("bow", bow),
        Item("empty", Polygon()),
        Item("far", Polygon([(0, 0), (np.inf, 0), (0, 1)])),
        Item("stiff", box(0, 0, 1, 1), rotations=()),
        Item("spun", box(0, 0, 1, 1), rotations=(np.nan,)),
        Item("cheap", box(0, 0, 1, 1), value=-2),
    ]
    with pytest.raises(InputError) as error:
        check_strip(items, -1)
    assert [line.split(".")[0] if "1.5" not in line else line[:9] for line in told(error)] == [
        "half: 1.5",
        "less: -1 is no quantity",
        "bow: its outline crosses or touches itself",
        "empty: its outline is empty",
        "far: its outline has coordinates that are not finite",
        "stiff: no turn is allowed",
        "spun: not all of its angles are finite numbers: (nan,)",
        "cheap: -2 is no value",
        "-1 is no width of a strip",
    ]
    with pytest.raises(InputError, match="the room is empty"):
        check_room([], Polygon())


@given(
    st.lists(st.tuples(st.floats(-9, 9), st.floats(-9, 9)), min_size=3, max_size=7),
    st.floats(0, 180),
)
def test_a_free_item_fits_every_box_that_takes_it_at_some_angle(
    points: list[tuple[float, float]], angle: float
) -> None:
    """Whatever its box at any angle, there it fits."""
    hull = Polygon(points).convex_hull
    if not isinstance(hull, Polygon) or hull.area < 0.1:
        return
    x0, y0, x1, y1 = affinity.rotate(hull, angle, origin=(0, 0)).bounds
    item = Item("free", hull, 1, None)
    turns = fitting_turns(item, (y1 - y0) * (1 + 1e-8), (x1 - x0) * (1 + 1e-8))
    assert turns
