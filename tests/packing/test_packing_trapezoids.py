"""Regions cut into trapezoids."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import MultiPolygon, Polygon, affinity, box, union_all

from nestlib.packing import trapezoids
from nestlib.packing.simplify import GIVEN_AWAY, simplified


def star(radii: list[float]) -> Polygon:
    """A polygon around (0, 0), in general not convex."""
    angles = np.linspace(0, 2 * np.pi, len(radii), endpoint=False)
    return Polygon(np.stack([radii * np.cos(angles), radii * np.sin(angles)], axis=1))


stars = st.lists(st.floats(1, 100), min_size=3, max_size=20).map(star)


def as_polygons(rows: np.ndarray) -> list[Polygon]:
    """Trapezoids as shapely polygons."""
    return [
        Polygon([(x0, lo0), (x1, lo1), (x1, hi1), (x0, hi0)]) for x0, x1, lo0, lo1, hi0, hi1 in rows
    ]


@given(stars)
@settings(deadline=None)
def test_trapezoids_have_the_area_of_their_polygon(polygon: Polygon) -> None:
    """Both ways of cutting keep the area, to 1e-9 of it."""
    edges = trapezoids.edges(polygon)
    for rows in (trapezoids.upright(edges), trapezoids.lying(edges)):
        assert trapezoids.areas(rows).sum() == pytest.approx(polygon.area, rel=1e-9)


@given(stars, st.floats(0, 360))
@settings(deadline=None, max_examples=50)
def test_trapezoids_cover_a_polygon_with_a_hole_without_overlap(
    polygon: Polygon, angle: float
) -> None:
    """Their union is the polygon, and their areas add up to that of the union."""
    hole = affinity.scale(polygon, 0.4, 0.4, origin=(0, 0))
    holed = affinity.rotate(polygon.difference(hole), angle, origin=(0, 0))
    pieces = as_polygons(trapezoids.upright(trapezoids.edges(holed)))
    assert union_all(pieces).symmetric_difference(holed).area <= 1e-8 * holed.area
    assert sum(p.area for p in pieces) == pytest.approx(holed.area, rel=1e-8)


def test_equal_neighbours_are_one_trapezoid() -> None:
    """A rectangle with extra vertices on one side is one trapezoid for each lower edge."""
    plate = Polygon([(0, 0), (1, 0), (2, 0), (2, 1), (0, 1)])
    assert len(trapezoids.upright(trapezoids.edges(plate))) == 2
    assert len(trapezoids.lying(trapezoids.edges(plate))) == 1


def test_the_complement_of_a_room_fills_its_box() -> None:
    """Room and complement have the area of the bounding box."""
    room = MultiPolygon([box(0, 0, 10, 10).difference(box(2, 2, 4, 4)), box(12, 0, 20, 5)])
    rest = sum(p.area for p in trapezoids.complement(room))
    assert rest + room.area == pytest.approx(200, rel=1e-12)


@given(st.integers(70, 300), st.floats(0, 0.3), st.integers(2, 9))
@settings(deadline=None, max_examples=40)
def test_a_simplified_outline_covers_the_exact_one(n: int, wave: float, lobes: int) -> None:
    """Nothing is cut off, and no more than the promised share of area is given away."""
    angle = np.linspace(0, 2 * np.pi, n, endpoint=False)
    exact = star(list(50 * (1 + wave * np.cos(lobes * angle))))
    small = simplified(exact)
    assert exact.difference(small).area <= 1e-9 * exact.area
    assert exact.area <= small.area * (1 + 1e-12)
    assert small.area <= exact.area * (1 + GIVEN_AWAY + 1e-9)
    assert len(small.exterior.coords) <= n + 1


def test_simplifying_keeps_holes_open_and_material_whole() -> None:
    """A round hole gets smaller, never larger; holes that nothing fits into are filled."""
    disc = star([50.0] * 200)
    hole, dot = affinity.scale(disc, 0.5, 0.5), affinity.scale(disc, 0.01, 0.01)
    ring = disc.difference(hole)
    small = simplified(ring)
    assert len(small.interiors) == 1
    assert Polygon(small.interiors[0]).area <= hole.area
    assert ring.difference(small).area <= 1e-9 * ring.area
    assert not simplified(disc.difference(dot), smallest=1.0 + dot.area).interiors


def test_outlines_with_few_vertices_stay_exact() -> None:
    """Up to 60 vertices nothing is changed."""
    polygon = star([10.0, 5.0] * 30)
    assert simplified(polygon) is polygon
