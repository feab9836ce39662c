"""Equal parts that lie in a lattice: how dense, and why it can be no denser, is known."""

from __future__ import annotations

import math

import pytest
from shapely.geometry import Polygon

from nestlib.engine import Item, StripPacking, pack_strip
from tests.strips import QUARTERS, assert_sound, density

HALVES = (0.0, 180.0)
TROMINO = Polygon([(0, 0), (2, 0), (2, 1), (1, 1), (1, 2), (0, 2)])
LEANING = Polygon([(0, 0), (2, 0), (3, 1), (1, 1)])

#: Density of the best packing of regular pentagons, two of them turned by 180 degrees in a
#: cell: G. Kuperberg, W. Kuperberg, Discrete Comput. Geom. 5 (1990) 389-397; recalled from
#: memory. That no packing at all is denser: T. Hales, W. Kusner (2016), recalled from memory.
PENTAGONS = (5 - math.sqrt(5)) / 3


def regular(corners: int, first: float = 90.0) -> Polygon:
    """A regular polygon of radius 1 with a corner in a direction."""
    angles = [math.radians(first + 360 * k / corners) for k in range(corners)]
    return Polygon([(math.cos(a), math.sin(a)) for a in angles])


def solved(item: Item, width: float, tries: int) -> StripPacking:
    """A packing that shapely finds no fault with and that is no more than full."""
    packing = pack_strip([item], width, tries=tries)
    assert_sound([item], width, packing)
    assert density([item], width, packing) <= 1 + 1e-7
    return packing


def test_hexagons_lie_as_in_a_honeycomb() -> None:
    """Two rows of six in 6.5 widths, to 1e-6: without a gap but at the ends and borders.

    In a strip of height 3.5 a hexagon of radius 1 stands on a corner in one of two rows.
    """
    hexagons = Item("hexagon", regular(6), 12, HALVES)
    packing = solved(hexagons, 3.5, 60)
    assert packing.length <= 6.5 * math.sqrt(3) + 1e-6


def test_triangles_point_up_and_down_in_turn() -> None:
    """Two rows of six fill the strip but for the ends, to 1e-6: 3.5 sides long."""
    triangles = Item("triangle", regular(3), 12, HALVES)
    packing = solved(triangles, 3.0, 60)
    assert packing.length <= 3.5 * math.sqrt(3) + 1e-6


@pytest.mark.parametrize(("quantity", "seed"), [(6, 0), (6, 1), (10, 0), (10, 1)])
def test_a_single_row_of_triangles_points_up_and_down_in_turn(quantity: int, seed: int) -> None:
    """Half a side longer than half of their sides together, to 1e-6; they are one kind.

    In a strip as high as a triangle each further one adds half a side at least.
    """
    triangles = Item("triangle", regular(3), quantity, HALVES)
    packing = pack_strip([triangles], 1.5, tries=150, seed=seed)
    assert_sound([triangles], 1.5, packing)
    assert packing.length == pytest.approx((quantity + 1) / 2 * math.sqrt(3), abs=1e-6)


@pytest.mark.parametrize(("width", "quantity"), [(2.0, 4), (4.0, 8)])
def test_trominoes_fill_the_strip(width: float, quantity: int) -> None:
    """Two of them make a rectangle of 2 x 3, and those fill the strip: 6 long, to 1e-6."""
    trominoes = Item("tromino", TROMINO, quantity, QUARTERS)
    assert solved(trominoes, width, 60).length == pytest.approx(6, abs=1e-6)


def test_parallelograms_lie_side_by_side() -> None:
    """Six as high as the strip are 13 long, to 1e-6.

    A level line crosses each in 2, so that they take 12; the slant adds 1.
    """
    packing = solved(Item("leaning", LEANING, 6), 1.0, 40)
    assert packing.length == pytest.approx(13, abs=1e-6)


def test_two_rows_of_parallelograms_lean_alike() -> None:
    """Eight in two rows are 9 long, as a lattice is, to 1e-6."""
    assert solved(Item("leaning", LEANING, 8), 2.0, 60).length <= 9 + 1e-6


def test_a_row_of_pentagons_turns_every_other_one() -> None:
    """Ten as high as the strip, to 1e-6 of the best row.

    Their height leaves each one place for its direction. Two of different direction touch
    with parallel sides, whose normal slants by 18 degrees: their middles are two apothems
    apart along it and differ by one radius less one apothem in height. Two alike are as
    far apart as a pentagon is wide, which is more.
    """
    apothem, slant = math.cos(math.pi / 5), math.radians(18)
    step = (2 * apothem + (1 - apothem) * math.sin(slant)) / math.cos(slant)
    wide = 2 * math.cos(slant)
    assert step < wide
    pentagons = Item("pentagon", regular(5), 10, HALVES)
    packing = solved(pentagons, 1 + apothem, 60)
    assert packing.length == pytest.approx(9 * step + wide, abs=1e-6)


def test_pentagons_are_never_denser_than_their_lattice() -> None:
    """Between 70 % and the best density of the plane, 92.13 %, after 30 tries.

    Copies of a strip fill the plane, so no strip can be denser.
    """
    pentagons = Item("pentagon", regular(5), 16, HALVES)
    reached = density([pentagons], 5.0, solved(pentagons, 5.0, 30))
    assert 0.7 <= reached <= PENTAGONS
    assert pytest.approx(0.9213, abs=5e-5) == PENTAGONS
