"""Odd input gives a right answer or one clear refusal."""

from __future__ import annotations

import math

import numpy as np
import pytest
from shapely import LineString, MultiPolygon, Point, affinity, box
from shapely.geometry import Polygon

from nestlib.engine import Item, pack_strip
from nestlib.engine.catalogue import edges, inscribed_circles
from nestlib.errors import InputError
from tests.strips import assert_sound

UNIT = box(0, 0, 1, 1)
NEEDLE = Polygon([(0, 0), (1000, 0), (500, 0.001)])
UPRIGHT = affinity.rotate(NEEDLE, 90, origin=(0, 0))
DOUBLED = Polygon([(0, 0), (0, 0), (1, 0), (1, 0), (1 + 1e-13, 0.5), (1, 1), (0, 1), (0, 1)])
STRAIGHT = Polygon([*((k / 100, 0.0) for k in range(100)), (1, 0), (1, 0.5), (1, 1), (0, 1)])
RAISED = Polygon([(0, 0, 1), (1, 0, 1), (1, 1, 2), (0, 1, 5)])
CLOCKWISE = Polygon([(0, 0), (0, 1), (1, 1), (1, 0)])
SLANTED = affinity.rotate(NEEDLE, 45, origin=(0, 0))
THIN = 1e-9
FRAME = Polygon(
    box(0, 0, 4, 4).exterior.coords, [box(THIN, THIN, 4 - THIN, 4 - THIN).exterior.coords]
)
with np.errstate(invalid="ignore"):
    HOLLOW = Polygon([(0, 0), (1, 0), (math.nan, 1)])
THIRDS = box(0, 0, 0.1 + 0.2, 0.1 + 0.2)


@pytest.mark.parametrize(
    ("items", "width", "length"),
    [
        pytest.param([], 1.0, 0.0, id="nothing"),
        pytest.param([Item("a", UNIT, 0)], 1.0, 0.0, id="none of it"),
        pytest.param(
            [Item("a", box(0, 0, 9, 9), 0), Item("b", UNIT)],
            2.0,
            1.0,
            id="none of what is too wide",
        ),
        pytest.param([Item("a", UNIT)], 5.0, 1.0, id="one"),
        pytest.param([Item("a", UNIT)], 1.0, 1.0, id="one as wide as the strip"),
        pytest.param([Item("a", THIRDS, 2)], 0.3, 2 * (0.1 + 0.2), id="wider by a rounding"),
        pytest.param([Item("a", UNIT, 5)], 1e3, 1.0, id="a wide strip"),
        pytest.param([Item("a", UNIT, 5)], 1e6, 1.0, id="a very wide strip"),
        pytest.param([Item("a", FRAME)], 4.0, 4.0, id="a thin frame"),
        pytest.param([Item("a", box(0, 0, 1e-6, 1e-6), 5)], 1e-6, 5e-6, id="tiny"),
        pytest.param([Item("a", box(0, 0, 1e9, 1e9), 3)], 1e9, 3e9, id="huge"),
        pytest.param([Item("a", NEEDLE, 5)], 1.0, 1000.0, id="needles along"),
        pytest.param([Item("a", UPRIGHT, 3)], 1000.0, 0.003, id="needles across"),
        pytest.param([Item("a", DOUBLED, 4)], 2.0, 2.0, id="doubled vertices"),
        pytest.param([Item("a", STRAIGHT, 4)], 2.0, 2.0, id="vertices on a line"),
        pytest.param([Item("a", RAISED, 4)], 2.0, 2.0, id="heights"),
        pytest.param([Item("a", CLOCKWISE, 4)], 2.0, 2.0, id="clockwise"),
        pytest.param([Item("a", UNIT, 2, (0.0, 0.0, 360.0))], 1.0, 2.0, id="equal angles"),
        pytest.param([Item("a", box(0, 0, 2, 1), 3, (-90.0, 630.0))], 2.0, 3.0, id="far angles"),
        pytest.param([Item("a", affinity.translate(UNIT, 1e8, -1e8), 4)], 2.0, 2.0, id="far off"),
        pytest.param(
            [Item("a", affinity.rotate(box(0, 0, 3, 1), 17), 2, None)], 1.0, 6.0, id="one free turn"
        ),
    ],
)
def test_odd_items_are_packed(items: list[Item], width: float, length: float) -> None:
    """In the least length there is, to 1e-6 of it, after 20 tries; soundly."""
    packing = pack_strip(items, width, tries=20)
    assert_sound(items, width, packing)
    assert packing.length == pytest.approx(length, rel=1e-6)


@pytest.mark.parametrize("outline", [SLANTED, FRAME], ids=["slanted needles", "thin frames"])
def test_outlines_of_little_area_in_large_boxes_are_packed(outline: Polygon) -> None:
    """No longer than one behind the other, and soundly: the box rules no time and no memory."""
    items = [Item("a", outline, 3)]
    packing = pack_strip(items, 1000, tries=2)
    assert_sound(items, 1000, packing)
    assert packing.length <= 3 * (outline.bounds[2] - outline.bounds[0]) + 1e-6


@pytest.mark.parametrize("end", [(1e9, 1e9), (1e9, 0.0), (0.0, 1e9)])
def test_the_grid_of_inscribed_circles_is_bounded(end: tuple[float, float]) -> None:
    """A needle of any length and direction needs no more memory than a square."""
    needle = LineString([(0, 0), end]).buffer(1e-9, cap_style="square", quad_segs=1)
    circles = inscribed_circles(edges(needle), needle.area, 4, 0.9)
    assert circles.shape[0] <= 4
    assert np.isfinite(circles).all()


@pytest.mark.parametrize(
    ("polygon", "message"),
    [
        (Polygon([(0, 0), (1, 1), (1, 0), (0, 1)]), "crosses or touches itself"),
        (Polygon([(0, 0), (1, 0), (2, 0), (1, 0), (1, 1), (0, 1)]), "crosses or touches itself"),
        (Polygon(), "is empty"),
        (Polygon([(0, 0), (1, 0), (math.inf, 1)]), "not finite"),
        (HOLLOW, "not finite"),
        (MultiPolygon([UNIT, box(2, 0, 3, 1)]), "not a polygon"),
        (Point(0, 0), "not a polygon"),
        (None, "not a polygon"),
    ],
)
def test_an_outline_that_is_none_is_refused(polygon: object, message: str) -> None:
    """The message names the item and says what is wrong with its outline."""
    with pytest.raises(InputError, match=rf"plate: .*{message}.*\. Give a valid polygon"):
        pack_strip([Item("plate", polygon)], 2, tries=1)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("item", "message"),
    [
        (Item("plate", UNIT, -1), "plate: -1 is no quantity"),
        (Item("plate", UNIT, 1.5), "plate: 1.5 is no quantity"),  # type: ignore[arg-type]
        (Item("plate", UNIT, math.nan), "plate: nan is no quantity"),  # type: ignore[arg-type]
        (Item("plate", UNIT, None), "plate: None is no quantity"),  # type: ignore[arg-type]
        (Item("plate", UNIT, 1, ()), "plate: no turn is allowed"),
        (Item("plate", UNIT, 1, "any"), "plate: 'any' are no angles"),
        (Item("plate", UNIT, 1, (0.0, math.nan)), "plate: not all of its angles are finite"),
        (Item("plate", box(0, 0, 3, 2), 1, None), "plate: 2 wide .* strip is 1 wide.*strip to 2"),
    ],
)
def test_an_item_that_makes_no_sense_is_refused(item: Item, message: str) -> None:
    """The message names the item and says what is wrong."""
    with pytest.raises(InputError, match=message):
        pack_strip([item], 1, tries=1)


@pytest.mark.parametrize("width", [0.0, -1.0, math.nan, math.inf])
def test_a_width_that_is_none_is_refused(width: float) -> None:
    """With parts and without."""
    for items in ([], [Item("plate", UNIT)]):
        with pytest.raises(InputError, match="no width of a strip"):
            pack_strip(items, width, tries=1)


def test_all_that_is_wrong_is_told_at_once() -> None:
    """Three senseless items make three problems in one error."""
    items = [Item("a", UNIT, -1), Item("b", Polygon()), Item("c", UNIT, 1, ()), Item("d", UNIT)]
    with pytest.raises(InputError) as caught:
        pack_strip(items, 2, tries=1)
    assert [p.file for p in caught.value.problems] == ["a", "b", "c"]


def test_no_tries_still_give_a_layout() -> None:
    """Without any search every piece has a sound place."""
    items = [Item("a", UNIT, 3), Item("b", box(0, 0, 2, 1), 2, (0.0, 90.0))]
    packing = pack_strip(items, 2, tries=0)
    assert_sound(items, 2, packing)
    assert packing.tries == 0
