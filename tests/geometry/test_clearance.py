"""Offsets against closed formulas of convex geometry."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely import Polygon

from nestlib.geometry import grow, part_clearance, region, sheet_room, shrink
from nestlib.model import Contour, Part, Sheet, Spacing


def ring_shaped(outer: float, inner: float) -> Part:
    """A flat ring, centred on the origin."""
    hole = Contour.circle((0, 0), inner).reversed()
    return Part("ring", Contour.circle((0, 0), outer), (hole,))


def test_grown_rectangle_follows_steiner():
    """Area A + P r + pi r² and never less (Steiner's formula for convex bodies, textbook)."""
    grown = grow(Polygon([(0, 0), (100, 0), (100, 50), (0, 50)]), 5, chord=0.001)
    exact = 5000 + 300 * 5 + math.pi * 25
    assert exact - 1e-4 <= grown.area <= exact + 0.001 * 2 * math.pi * 5


@given(
    st.floats(10, 1000), st.floats(10, 1000), st.floats(0.01, 50), st.sampled_from([0.02, 0.001])
)
def test_growing_gives_away_no_more_than_the_chord(width, height, distance, chord):
    """The grown rectangle lies between Steiner's areas for r and r + 2 chord."""
    grown = grow(Polygon([(0, 0), (width, 0), (width, height), (0, height)]), distance, chord)

    def steiner(r: float) -> float:
        return width * height + 2 * (width + height) * r + math.pi * r * r

    rounding = 1e-6 * (width + height)
    assert steiner(distance) - rounding <= grown.area
    corners = math.pi * ((distance + chord) ** 2 - distance**2)
    assert grown.area <= steiner(distance) + corners + rounding


def test_inset_of_a_rectangle():
    """100 x 50 mm shrunk by 5 mm is 90 x 40 mm, less the rounding (closed form)."""
    inset = shrink(Polygon([(0, 0), (100, 0), (100, 50), (0, 50)]), 5)
    assert inset.area == pytest.approx(3600, abs=1e-5)


def test_straight_edges_move_by_exactly_the_distance():
    """So that ten pieces which fit exactly still do: 40 + 2 * 1.7 mm wide."""
    plate = Part("plate", Contour.rectangle(40, 10))
    assert part_clearance(plate, Spacing(0.2, 3)).bounds == pytest.approx(
        (-1.7, -1.7, 41.7, 11.7), abs=1e-9
    )


def test_grown_ring_shrinks_its_hole():
    """Ring 50/20 grown by 2: pi (52² - 18²) = 7477.0 (closed form)."""
    clearance = part_clearance(ring_shaped(50, 20), Spacing(kerf=0.5, spacing=3), chord=0.001)
    exact = math.pi * (52**2 - 18**2)
    assert exact <= clearance.area == pytest.approx(exact, rel=2e-4)


def test_clearance_covers_the_true_offset():
    """Every point of the true contour, grown by half the spacing, lies in the polygon."""
    slot = Contour([(0, 0), (40, 0), (40, 10), (0, 10)], [0, 1, 0, 1])
    clearance = part_clearance(Part("slot", slot), Spacing(kerf=0.2, spacing=3))
    true_offset = region(slot, chord=1e-5).buffer(1.7, quad_segs=256)
    assert true_offset.difference(clearance).area < 1e-6 * true_offset.length


def test_hole_too_small_for_the_spacing_vanishes():
    """A hole narrower than the spacing leaves no room inside."""
    clearance = part_clearance(ring_shaped(50, 1.5), Spacing(kerf=0.2, spacing=3))
    assert not clearance.interiors


@pytest.mark.parametrize(
    ("margin", "width"), [(5.0, 990.0 + 3.0), (1.5, 1000.0), (0.0, 1000.0 + 3.0)]
)
def test_room_moves_the_edge_by_margin_less_half_the_spacing(margin, width):
    """The clearance polygon already reaches half the spacing beyond the slot."""
    sheet = Sheet("s", Contour.rectangle(1000, 500))
    x0, _, x1, _ = sheet_room(sheet, Spacing(0.2, 3.0, margin)).bounds
    assert x1 - x0 == pytest.approx(width, abs=1e-5)


def test_room_leaves_out_holes_and_keep_outs():
    """Each of them is grown like the edge is shrunk, on the safe side."""
    sheet = Sheet(
        "remnant",
        Contour.rectangle(1000, 500),
        holes=(Contour.circle((200, 200), 50),),
        keep_outs=(Contour([(900, 0), (1000, 0), (1000, 100), (900, 100)]),),
    )
    room = sheet_room(sheet, Spacing(kerf=0.2, spacing=3, margin=10))
    hole = math.pi * 58.5**2
    keep_out = 100 * 100 - (1 - math.pi / 4) * 8.5**2  # one rounded corner lies in the room
    exact = 983 * 483 - hole - keep_out
    assert exact - 20 < room.area <= exact


def test_a_keep_out_does_not_cost_the_room_beyond_the_edge():
    """Without margin the clearance polygons may reach half the spacing over a convex edge."""
    zone = Contour([(0, 0), (60, 0), (60, 40), (0, 40)])
    sheet = Sheet("clamped", Contour.rectangle(200, 100), keep_outs=(zone,))
    room = sheet_room(sheet, Spacing(0.2, 3.0, 0.0))
    assert room.bounds == pytest.approx((-1.5, -1.5, 201.5, 101.5), abs=1e-6)
    assert room.area == pytest.approx(203 * 103 - 60 * 40, abs=1e-3)


def test_margin_that_leaves_nothing_gives_an_empty_room():
    """A margin wider than the sheet is no error here; the packer says what does not fit."""
    sheet = Sheet("strip", Contour.rectangle(1000, 15))
    assert sheet_room(sheet, Spacing(0.2, 3, 10)).is_empty
