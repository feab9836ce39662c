"""Bulges and units as the DXF Reference defines them."""

from __future__ import annotations

import math
from pathlib import Path

import pytest
from ezdxf.document import Drawing as Document
from numpy.testing import assert_allclose

from tests.drawn import drawn

#: $INSUNITS (DXF Reference, HEADER; seen there up to 20, 21-24 in newer editions), and mm by
#: the definitions: inch 25.4 mm, US survey foot 1200/3937 m, astronomical unit and light
#: year as the IAU has them, parsec 648000/π au.
UNITS = {
    1: 25.4,
    2: 304.8,
    4: 1,
    5: 10,
    6: 1000,
    8: 25.4e-6,
    9: 0.0254,
    10: 914.4,
    13: 1e-3,
    14: 100,
    15: 1e4,
    21: 1200 / 3937 * 1e3,
    22: 100 / 3937 * 1e3,
    23: 3600 / 3937 * 1e3,
}


@pytest.mark.parametrize("code", UNITS)
def test_insunits(tmp_path: Path, code: int) -> None:
    """A circle of 30 mm, drawn in each unit, comes out with 30 mm within 1e-9."""
    radius = 15 / UNITS[code]
    drawing = drawn(tmp_path, lambda d: d.modelspace().add_circle((0, 0), radius), insunits=code)
    assert_allclose(drawing.parts[0].size, 30, rtol=1e-9)


@pytest.mark.parametrize("degrees", [30, 60, 90, 120, 180, 270])
def test_bulge_is_the_tangent_of_a_quarter_of_the_angle(tmp_path: Path, degrees: float) -> None:
    """DXF Reference, LWPOLYLINE, group 42: against an ARC with the same ends and angle.

    30°: 0.131652498, 60°: 0.267949192, 90°: 0.414213562, 120°: 0.577350269, 180°: 1,
    270°: 2.414213562.
    """
    angle = math.radians(degrees)
    radius = 5 / math.sin(angle / 2)
    centre = (5, 5 / math.tan(angle / 2))
    first = math.degrees(math.atan2(-centre[1], -5))

    def with_bulge(document: Document) -> None:
        rows = [(0, 0, math.tan(angle / 4)), (10, 0, 0)]
        document.modelspace().add_lwpolyline(rows, format="xyb", close=True)

    def with_arc(document: Document) -> None:
        document.modelspace().add_arc(centre, radius, first, first + degrees)
        document.modelspace().add_line((10, 0), (0, 0))

    bulged, arced = (drawn(tmp_path, draw).parts[0] for draw in (with_bulge, with_arc))
    assert_allclose(bulged.area, radius**2 * (angle - math.sin(angle)) / 2, rtol=1e-12)
    assert_allclose(bulged.cut_length, radius * angle + 10, rtol=1e-12)
    assert_allclose([arced.area, arced.cut_length], [bulged.area, bulged.cut_length], rtol=1e-9)
    assert_allclose(arced.size, bulged.size, rtol=1e-9)


def test_a_positive_bulge_runs_counter_clockwise(tmp_path: Path) -> None:
    """Worked by hand: chord (0, 0) to (10, 0) with bulge 1 passes (5, -5); a full circle of two."""

    def draw(document: Document) -> None:
        space = document.modelspace()
        space.add_lwpolyline([(0, 0, 1), (10, 0, 0)], format="xyb", close=True)
        space.add_lwpolyline([(20, 0, 1), (30, 0, 1)], format="xyb", close=True)

    half, full = drawn(tmp_path, draw).parts
    assert half.source is not None
    assert_allclose(half.source.origin, (0, -5), atol=1e-12)
    assert_allclose([full.area, full.cut_length], [78.53981634, 31.41592654], rtol=1e-9)
    assert full.outer.is_circle
