"""The kernels against shapely."""

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from shapely import MultiPolygon, Polygon, affinity, box

from nestlib.packing import Shape, kernels
from nestlib.packing.board import Board, Room
from nestlib.packing.orientations import Orientation, orientations

corner = st.floats(-50, 50)


def star(radii: list[float]) -> Polygon:
    """A polygon around (0, 0), in general not convex."""
    angles = np.linspace(0, 2 * np.pi, len(radii), endpoint=False)
    return Polygon(np.stack([radii * np.cos(angles), radii * np.sin(angles)], axis=1))


stars = st.lists(st.floats(3, 30), min_size=3, max_size=12).map(star)


def upright(polygon: Polygon) -> Orientation:
    """A polygon as it is."""
    return orientations(Shape("shape", polygon, polygon.area, rotations=(0.0,)))[0]


@given(st.lists(st.floats(0.5, 20), min_size=8, max_size=8), st.floats(-25, 25), corner)
@settings(deadline=None)
def test_a_pair_of_trapezoids_overlaps_inside_its_interval_and_not_outside(
    sizes: list[float], dx: float, dy: float
) -> None:
    """Just inside either end the intersection has area, just outside it has none."""
    w, a, b, c, v, d, e, f = sizes
    fixed = np.array([0.0, w, 0.0, a, a + b, a + c])
    moving = np.array([0.0, v, dy, dy + d, dy + d + e, dy + d + f])
    low, high = kernels.blocked(fixed, moving, dx, 1e-9)
    assume(high - low > 0.1)
    one, other = quad(fixed), affinity.translate(quad(moving), dx, 0)
    for y, hit in (
        (low - 1e-6, False),
        (low + 0.01, True),
        (high - 0.01, True),
        (high + 1e-6, False),
    ):
        area = one.intersection(affinity.translate(other, 0, y)).area
        assert (area > 1e-12) == hit


def quad(row: np.ndarray) -> Polygon:
    """A trapezoid as a shapely polygon."""
    x0, x1, lo0, lo1, hi0, hi1 = row
    return Polygon([(x0, lo0), (x1, lo1), (x1, hi1), (x0, hi0)])


@given(stars, stars, st.floats(-40, 40))
@settings(deadline=None)
def test_the_lowest_free_shift_touches_and_nothing_below_is_free(
    fixed: Polygon, moving: Polygon, dx: float
) -> None:
    """At the shift found shapely sees no overlap; at sampled shifts below it sees one."""
    board = Board(Room.of(MultiPolygon([box(-200, -200, 200, 200)])))
    board.add(upright(fixed), 0.0, 0.0)
    start = -20.0
    y = kernels.lowest(board.columns.field, upright(moving).upright, dx, start, 500.0, board.eps)
    area = fixed.intersection(affinity.translate(moving, dx, y)).area
    assert area <= 1e-6
    for below in np.linspace(start, y, 25)[:-1] if y > start else ():
        assert fixed.intersection(affinity.translate(moving, dx, float(below))).area > 0


@given(stars, stars)
@settings(deadline=None)
def test_sliding_down_stops_at_the_first_contact(fixed: Polygon, moving: Polygon) -> None:
    """From far above, a shape comes to rest on the other without passing into it."""
    board = Board(Room.of(MultiPolygon([box(-200, -200, 200, 200)])))
    board.add(upright(fixed), 0.0, 0.0)
    piece = upright(moving).upright
    y = kernels.rest(board.columns.field, piece, 0.0, 150.0, -150.0, board.eps)
    assert fixed.intersection(affinity.translate(moving, 0, y)).area <= 1e-6
    assert fixed.intersection(affinity.translate(moving, 0, y - 0.5)).area > 0


def test_a_piece_goes_to_the_lower_left_corner() -> None:
    """In an empty room the first place is its corner, exactly."""
    board = Board(Room.of(MultiPolygon([box(5, 7, 105, 57)])))
    x, y, _ = board.find(upright(box(-3, -2, 10, 10)))
    assert (x, y) == (8.0, 9.0)


def test_a_slot_of_exactly_the_right_width_is_found() -> None:
    """A piece fits between two others although nothing is to spare."""
    board = Board(Room.of(MultiPolygon([box(0, 0, 30, 10)])))
    tile = upright(box(0, 0, 10, 10))
    board.add(tile, 0.0, 0.0)
    board.add(tile, 20.0, 0.0)
    assert board.find(tile)[:2] == (10.0, 0.0)
    board.add(tile, 10.0, 0.0)
    assert board.find(tile)[0] == np.inf


@pytest.mark.parametrize("count", [400])
def test_fields_grow(count: int) -> None:
    """Many pieces in few buckets are all kept."""
    board = Board(Room.of(MultiPolygon([box(0, 0, 20, 20)])))
    tile = upright(box(0, 0, 1, 1))
    for _ in range(count):
        x, y, _ = board.find(tile)
        board.add(tile, x, y)
    assert board.columns.used == count
    assert board.find(tile)[0] == np.inf


@pytest.mark.parametrize(
    ("polygon", "rotations", "flip", "ways"),
    [
        (box(0, 0, 20, 10), (0.0, 90.0, 180.0, 270.0), True, 2),
        (box(0, 0, 10, 10), (0.0, 90.0, 180.0, 270.0), True, 1),
        (Polygon([(0, 0), (9, 0), (0, 5)]), (0.0, 90.0, 180.0, 270.0), True, 8),
        (star([10.0] * 64).difference(star([4.0] * 50)), None, True, 1),
        (star([10.0] * 64).difference(star([4.0] * 50)), (30.0, 70.0), False, 1),
    ],
)
def test_turns_that_look_alike_are_listed_once(
    polygon: Polygon, rotations: tuple[float, ...] | None, flip: bool, ways: int
) -> None:
    """A rectangle has 2 ways to lie, a square 1, a right triangle 8, a ring 1."""
    part = Shape("part", polygon, polygon.area, rotations=rotations, flip=flip)
    assert len(orientations(part)) == ways
