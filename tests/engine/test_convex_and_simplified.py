"""Outlines in convex pieces and with fewer vertices, against shapely."""

from __future__ import annotations

from itertools import combinations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import Point, affinity, box
from shapely.geometry import Polygon

from nestlib.engine.convex import convex_pieces
from nestlib.engine.simplify import simplified
from tests.outlines import SORTS, outline, outlines


def is_convex(polygon: Polygon) -> bool:
    """Whether it is its own hull, to 1e-8 of the size."""
    size = np.sqrt(polygon.convex_hull.area)
    return polygon.convex_hull.area - polygon.area < 1e-8 * size**2


@settings(derandomize=True, deadline=None, max_examples=60)
@given(outlines(most=60, scales=1.5))
def test_convex_pieces_are_the_polygon(polygon: Polygon) -> None:
    """Every piece is convex and counter-clockwise, none overlaps another, all are inside.

    Areas to 1e-9 of that of the polygon; together they have its area, so they cover it.
    """
    pieces = [Polygon(p) for p in convex_pieces(polygon)]
    small = 1e-9 * polygon.area
    assert all(p.exterior.is_ccw and is_convex(p) for p in pieces)
    assert sum(p.area for p in pieces) == pytest.approx(polygon.area, abs=small)
    near = polygon.buffer(1e-9 * np.sqrt(polygon.area))
    assert all(near.covers(p) for p in pieces)
    shrunk = [p.buffer(-1e-8 * np.sqrt(polygon.area), join_style="mitre") for p in pieces]
    assert not any(a.intersects(b) for a, b in combinations(shrunk, 2))


@pytest.mark.parametrize(
    ("polygon", "least"),
    [
        (box(0, 0, 3, 2), 1),
        (Polygon([(0, 0), (2, 0), (2, 1), (1, 1), (1, 2), (0, 2)]), 2),
        (box(0, 0, 3, 3).difference(box(1, 1, 2, 2)), 4),
        (Polygon([(0, 0), (3, 0), (3, 3), (2, 3), (2, 1), (1, 1), (1, 3), (0, 3)]), 3),
    ],
)
def test_few_pieces_suffice(polygon: Polygon, least: int) -> None:
    """At most four times the least number, which Hertel and Mehlhorn (1983) prove."""
    assert least <= len(convex_pieces(polygon)) <= 4 * least


def test_convex_pieces_do_not_depend_on_place_size_or_direction() -> None:
    """A turned, enlarged and moved star falls into as many pieces with the same areas."""
    polygon = outline("star", 17, 3)
    moved = affinity.translate(affinity.rotate(affinity.scale(polygon, 8, 8), 90), 32, -16)
    areas = [sorted(Polygon(q).area for q in convex_pieces(p)) for p in (polygon, moved)]
    assert areas[1] == pytest.approx([64 * a for a in areas[0]], rel=1e-9)


@settings(derandomize=True, deadline=None, max_examples=40)
@given(
    outlines(most=200, scales=1.5),
    st.integers(4, 50),
    st.sampled_from([0.0, 0.001, 0.05]),
)
def test_a_simplified_outline_holds_the_outline(polygon: Polygon, few: int, share: float) -> None:
    """It contains the polygon, adds no more than allowed (1e-9) and never gains vertices."""
    rough = simplified(polygon, few, share)
    assert rough.is_valid
    assert rough.buffer(1e-9 * np.sqrt(polygon.area)).covers(polygon)
    assert rough.area <= polygon.area * (1 + share + 1e-9)
    assert corners(rough) <= corners(polygon)


def corners(polygon: Polygon) -> int:
    """Vertices of all rings."""
    return sum(len(r.coords) - 1 for r in [polygon.exterior, *polygon.interiors])


def test_simple_outlines_stay_as_they_are() -> None:
    """With no more vertices than asked for nothing is given away."""
    for sort in SORTS:
        polygon = outline(sort, 12, 1)
        same = simplified(polygon, corners(polygon), 0.5)
        assert same.symmetric_difference(polygon).is_empty
        assert corners(same) == corners(polygon)


def test_a_fine_circle_becomes_coarse() -> None:
    """Of 400 vertices at most 80 are left for 0.1 % of the area, in a hole as well.

    A regular n-gon around a circle is (pi / n)^2 / 3 too large: 0.1 % at 58. One vertex
    after the other, chosen by its own cost, is allowed a third more.
    """
    disc = Point(3, 4).buffer(2, quad_segs=100)
    ring = Polygon(box(0, 0, 8, 8).exterior.coords, [disc.exterior.coords])
    assert corners(simplified(disc, 40, 0.001)) <= 80
    assert corners(simplified(ring, 40, 0.001)) <= 84
