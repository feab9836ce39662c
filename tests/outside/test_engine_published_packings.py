"""Equal squares and circles in a square against the published least sides.

A strip as wide as the published side takes the items in that length. One a little narrower
cannot take them in less than the published side: they would fit into a smaller square.
"""

from __future__ import annotations

import math

import pytest
from shapely import box
from shapely.geometry import Polygon

from nestlib.engine import Item, StripPacking, pack_strip
from tests.strips import assert_sound

UNIT = box(-0.5, -0.5, 0.5, 0.5)

# Least side of the square that takes n unit squares: E. Friedman, "Packing unit squares in
# squares", Electron. J. Combin. DS7 (2009), seen there; all of these are proved optimal,
# that of ten by W. Stromquist (2003).
SQUARES = {5: 2 + math.sqrt(1 / 2), 7: 3.0, 10: 3 + math.sqrt(1 / 2)}

# Least side of the square that takes n circles of radius 1: closed forms seen in a secondary
# copy; they agree with the radii in the unit square recomputed independently, 1 / side.
# Proved optimal up to 30 circles (secondary copy).
CIRCLES = {
    3: (2 + math.sqrt(2) / 2 + math.sqrt(6) / 2, 0.2543330950),
    5: (2 + 2 * math.sqrt(2), 0.2071067812),
    6: (2 + 12 / math.sqrt(13), 0.1876806011),
    7: (4 + math.sqrt(3), 0.1744576302),
    8: (2 + math.sqrt(2) + math.sqrt(6), 0.1705406887),
    10: (6.7474415232, 0.1482043226),
}

#: Corners of the polygon around a circle, and how far they stand out.
CORNERS = 40
CORNER = 1 / math.cos(math.pi / CORNERS)


def solved(item: Item, width: float, tries: int) -> StripPacking:
    """A packing that shapely finds no fault with."""
    packing = pack_strip([item], width, tries=tries)
    assert_sound([item], width, packing)
    return packing


def squares(n: int) -> Item:
    """Unit squares, straight or turned by 45 degrees."""
    return Item("square", UNIT, n, (0.0, 45.0))


def circles(n: int) -> Item:
    """Polygons around circles of radius 1: where they fit the circles fit."""
    angles = [2 * math.pi * k / CORNERS for k in range(CORNERS)]
    return Item(
        "circle", Polygon([(CORNER * math.cos(a), CORNER * math.sin(a)) for a in angles]), n
    )


@pytest.mark.parametrize("n", CIRCLES)
def test_the_two_published_forms_agree(n: int) -> None:
    """The side for unit circles is one over the radius in the unit square, to 1e-9."""
    side, radius = CIRCLES[n]
    assert 1 / side == pytest.approx(radius, abs=1e-9)


@pytest.mark.parametrize("n", [5, 10])
def test_squares_reach_the_published_side(n: int) -> None:
    """One of them stands on its corner between the others, to 1e-6.

    What the strip is wider than the published side, 0.002 of it, is taken off the length:
    the edges of the slanted square keep x + y.
    """
    side = SQUARES[n]
    assert solved(squares(n), 1.002 * side, 60).length <= 0.998 * side + 1e-6


def test_straight_squares_do_not_reach_it() -> None:
    """Five squares that may not be turned need 3, to 1e-9."""
    straight = Item("square", UNIT, 5, (0.0, 90.0))
    packing = solved(straight, 1.002 * SQUARES[5], 20)
    assert packing.length == pytest.approx(3, abs=1e-9)


@pytest.mark.parametrize("n", SQUARES)
def test_no_square_is_smaller_than_the_proved_one_for_squares(n: int) -> None:
    """In a strip 0.002 narrower than the proved side the length is at least that side."""
    side = SQUARES[n]
    assert solved(squares(n), 0.998 * side, 30).length >= side


@pytest.mark.parametrize("n", [5, 6, 7, 8, 10])
def test_circles_reach_the_published_side(n: int) -> None:
    """They fit into a square 0.5 % larger than the published, after 40 tries."""
    side = 1.005 * CORNER * CIRCLES[n][0]
    assert solved(circles(n), side, 40).length <= side


@pytest.mark.parametrize("n", [3, 5, 6, 8])
def test_no_square_is_smaller_than_the_proved_one_for_circles(n: int) -> None:
    """In a strip 0.1 % narrower than the proved side the length is at least that side."""
    side = CIRCLES[n][0]
    assert solved(circles(n), 0.999 * side, 30).length >= side


def test_two_staggered_rows_of_circles() -> None:
    """A strip that two rows of a hexagonal lattice just fill: ten circles in length 11.

    The length of the lattice, 2 a circle and 1 for the stagger, is reached to 0.2 % over the
    size of the corners. Copies of the strip fill the plane, so the density stays below
    pi / sqrt(12), which no packing of the plane exceeds (Thue 1892; Fejes Toth 1943).
    """
    width = CORNER * (2 + math.sqrt(3))
    length = solved(circles(10), width, 60).length
    assert 10 <= length <= 1.002 * CORNER * 11
    assert 10 * math.pi / (width * length) < math.pi / math.sqrt(12)
