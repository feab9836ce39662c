"""Overlap tests against shapely, and the exact end."""

from __future__ import annotations

import numpy as np
import pytest
from shapely import affinity, union_all
from shapely.geometry import Polygon, box

from nestlib.engine import Item, pack_sheet
from nestlib.engine.catalogue import Kind, catalogue, turned
from nestlib.engine.collision import overlap
from nestlib.engine.compaction import Bounds, compact, pieces
from nestlib.engine.convex import convex_pieces
from nestlib.engine.fields import fields, overlap_value

L_SHAPE = Polygon([(-1, -1), (1, -1), (1, 0), (0, 0), (0, 1), (-1, 1)])
FRAME = Polygon(box(-2, -2, 2, 2).exterior.coords, [box(-1, -1, 1, 1).exterior.coords])
DART = Polygon([(0, -1), (1, 1), (0, 0.4), (-1, 1)])
KINDS = [
    Kind(L_SHAPE, (0.0, 90.0, 180.0, 270.0)),
    Kind(FRAME, (0.0, 45.0)),
    Kind(DART, (0.0, 30.0)),
]


@pytest.mark.parametrize("polygon", [L_SHAPE, FRAME, DART])
def test_convex_pieces_have_the_area_of_the_polygon(polygon: Polygon) -> None:
    """The pieces are convex and fill the polygon, to 1e-12."""
    parts = [Polygon(p) for p in convex_pieces(polygon)]
    assert sum(p.area for p in parts) == pytest.approx(polygon.area, rel=1e-12)
    assert all(p.convex_hull.area == pytest.approx(p.area, rel=1e-12) for p in parts)


def test_both_overlap_tests_agree_with_shapely() -> None:
    """At 2000 random places fields, edges and shapely (area above 1e-12) agree."""
    cat = catalogue(KINDS)
    fld = fields(cat, KINDS, 0.0)
    owner = np.repeat(np.arange(len(KINDS)), np.diff(cat.first))
    random, near = np.random.default_rng(0), np.empty((4, 64))
    for _ in range(2000):
        a, b = random.integers(len(owner), size=2)
        d = random.uniform(-4.0, 4.0, 2)
        p = turned(KINDS[owner[a]].polygon, float(cat.angle[a]))
        q = affinity.translate(turned(KINDS[owner[b]].polygon, float(cat.angle[b])), *d)
        truth = p.intersection(q).area > 1e-12
        assert (overlap_value(fld, cat, a, b, *d) > 0.0) == truth
        boxes_meet = box(*p.bounds).intersects(box(*q.bounds))
        assert (boxes_meet and overlap(cat, a, b, *d, near)) == truth


def test_a_part_fits_exactly_into_a_hole_of_its_size() -> None:
    """A unit of 2 x 2 within a hole of 2 x 2 touches it and does not overlap."""
    kinds = [Kind(FRAME, (0.0,)), Kind(box(-1, -1, 1, 1), (0.0,))]
    cat = catalogue(kinds)
    fld = fields(cat, kinds, 1e-9)
    assert overlap_value(fld, cat, 0, 1, 0.0, 0.0) == 0.0
    assert overlap_value(fld, cat, 0, 1, 1e-6, 0.0) > 0.0


def test_compaction_brings_squares_into_contact() -> None:
    """Three unit squares in a strip of width 1 end up 3 long, within 1e-9."""
    kinds = [Kind(box(-0.5, -0.5, 0.5, 0.5), (0.0,))]
    cat = catalogue(kinds)
    turn, y = np.zeros(3, np.int64), np.full(3, 0.5)
    found = compact(
        cat, pieces(cat, kinds), turn, np.array([0.5, 1.49, 2.7]), y, Bounds(1.0, np.inf, 3)
    )
    assert found is not None
    assert found[0] == pytest.approx(3.0, abs=1e-9)


def test_a_jigsaw_fits_into_its_room() -> None:
    """Three squares and a bar cover all of an L-shaped room and nothing else, to 1e-7."""
    room = Polygon([(0, 0), (3, 0), (3, 1), (1, 1), (1, 3), (0, 3)])
    parts = [
        Item("square", box(0, 0, 1, 1), 3),
        Item("bar", box(0, 0, 2, 1), 1, (0.0, 90.0)),
    ]
    found = pack_sheet(parts, room, tries=100)
    assert found.missing == (0, 0)
    laid = [
        affinity.translate(
            affinity.rotate(parts[p.item].polygon, p.rotation, origin=(0, 0)), p.x, p.y
        )
        for p in found.placements
    ]
    assert len(laid) == 4
    assert sum(part.area for part in laid) == pytest.approx(room.area, abs=1e-9)
    assert union_all(laid, grid_size=1e-10).symmetric_difference(room).area < 1e-7
