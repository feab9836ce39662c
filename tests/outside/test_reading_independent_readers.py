"""Drawings read here and by others: area and cut length within 0.01 %.

ezdxf flattens each entity by itself and shapely puts the pieces together; trimesh has a
path loader of its own.
"""

from __future__ import annotations

import io
import math
from pathlib import Path
from typing import Any

import ezdxf
import numpy as np
import pytest
import shapely
import trimesh
from ezdxf import disassemble
from ezdxf.document import Drawing as Document
from ezdxf.math import global_bspline_interpolation
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from nestlib.drawings import read_drawing
from nestlib.model import Part
from tests.drawn import drawn, saved

SHARE = 1e-4  # 0.01 %


def measured(parts: tuple[Part, ...]) -> tuple[float, float]:
    """Area and cut length of everything that was drawn."""
    return (
        sum(p.area * p.quantity for p in parts),
        sum(p.cut_length * p.quantity for p in parts),
    )


def measured_by_ezdxf(path: Path) -> tuple[float, float]:
    """The same from the flattening of each entity; holes are what lies in an odd number."""
    lines = []
    for entity in disassemble.recursive_decompose(ezdxf.readfile(path).modelspace()):
        pieces = entity.virtual_entities() if "POLYLINE" in entity.dxftype() else [entity]
        for piece in pieces:
            if piece.dxftype() == "LINE":
                vertices = [piece.dxf.start, piece.dxf.end]
            else:
                vertices = list(piece.flattening(1e-4))  # its error stays far below `SHARE`
            lines.append(shapely.LineString([(round(v.x, 6), round(v.y, 6)) for v in vertices]))
    rings = [shapely.Polygon(p.exterior) for p in shapely.polygonize(lines).geoms]
    starts = [shapely.Point(r.exterior.coords[0]) for r in rings]
    depth = [sum(r.contains(start) for r in rings) for start in starts]
    area = sum(r.area * (-1) ** d for r, d in zip(rings, depth, strict=True))
    return area, sum(line.length for line in lines)


def flange(document: Document) -> None:
    """A flange with bolt holes as an array of blocks, a slot, and an oval of ellipse and lines."""
    space = document.modelspace()
    space.add_circle((0, 0), 80)
    block = document.blocks.new("BOLT")
    block.add_circle((30, 0), 4)
    for i in range(8):
        attributes = {"rotation": 45 * i, "xscale": -1, "yscale": 1}
        space.add_blockref("BOLT", (0, 0), dxfattribs=attributes)
    space.add_lwpolyline(
        [(-10, -60, 0), (10, -60, 1), (10, -50, 0), (-10, -50, 1)], format="xyb", close=True
    )
    space.add_ellipse((0, 52), (16, 3), 0.4)


def cam(document: Document) -> None:
    """A cam of one spline, with a keyhole of arcs and lines."""
    space = document.modelspace()
    turn = np.arange(13) * math.tau / 12
    radius = 40 + 12 * np.cos(turn) + 4 * np.sin(3 * turn)
    points = np.column_stack([radius * np.cos(turn), radius * np.sin(turn), 0 * turn])
    points[-1] = points[0]
    curve = global_bspline_interpolation(points.tolist(), degree=3)
    space.add_spline().apply_construction_tool(curve)
    space.add_arc((0, 0), 6, 120, 60)
    x, y = 6 * math.cos(math.radians(60)), 6 * math.sin(math.radians(60))
    space.add_line((x, y), (x, 12))
    space.add_line((x, 12), (-x, 12))
    space.add_line((-x, 12), (-x, y))


def ovals(document: Document) -> None:
    """A bulged plate, scaled unevenly, inside a block inside a block, mirrored."""
    inner = document.blocks.new("IN", base_point=(2, 3))
    inner.add_lwpolyline(
        [(0, 0, 0), (60, 0, 0.4), (60, 30, 0), (0, 30, -0.3)], format="xyb", close=True
    )
    inner.add_circle((30, 15), 8)
    outer = document.blocks.new("OUT")
    outer.add_blockref("IN", (5, 5), dxfattribs={"xscale": 1.5, "yscale": 0.7, "rotation": 20})
    # Uneven outside as well, it would be skewed: ezdxf then keeps its axes at right angles.
    attributes = {"xscale": -2, "yscale": 2, "rotation": 33, "extrusion": (0, 0, -1)}
    document.modelspace().add_blockref("OUT", (0, 0), dxfattribs=attributes)


@pytest.mark.parametrize("draw", [flange, cam, ovals])
@pytest.mark.parametrize("version", ["R2000", "R2018"])
def test_area_and_cut_length_by_flattening(tmp_path: Path, draw: Any, version: str) -> None:
    """Against ezdxf and shapely within 0.01 %."""
    path = saved(tmp_path, draw, version=version)
    assert_allclose(measured(read_drawing(path).parts), measured_by_ezdxf(path), rtol=SHARE)


@settings(
    max_examples=20, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@example(20.0, 20.0, [0.0, -0.5, 0.0, -0.5], 0.0)  # narrow, so that little area is left
@given(
    st.floats(20, 200),
    st.floats(20, 200),
    st.lists(st.floats(-0.9, 0.9).map(lambda b: round(b, 3)), min_size=4, max_size=4),
    st.floats(0, 360),
)
def test_random_plates_by_flattening(
    tmp_path: Path, width: float, height: float, bulges: list[float], turn: float
) -> None:
    """Plates with bulged sides, turned: within 0.01 %, if they do not cross themselves."""

    def draw(document: Document) -> None:
        corners = [(0, 0), (width, 0), (width, height), (0, height)]
        block = document.blocks.new("PLATE")
        rows = [(x, y, b) for (x, y), b in zip(corners, bulges, strict=True)]
        block.add_lwpolyline(rows, format="xyb", close=True)
        document.modelspace().add_blockref("PLATE", (9, 9), dxfattribs={"rotation": turn})

    path = saved(tmp_path, draw)
    drawing = read_drawing(path)
    if not any(f.code == "self-crossing" for f in drawing.findings):
        assert_allclose(measured(drawing.parts), measured_by_ezdxf(path), rtol=SHARE)


def test_area_and_cut_length_by_trimesh(tmp_path: Path) -> None:
    """A plate with holes, as polylines and as lines, against trimesh's path loader: 0.01 %."""

    def draw(document: Document) -> None:
        space = document.modelspace()
        space.add_lwpolyline([(0, 0), (120, 0), (120, 60), (70, 90), (0, 60)], close=True)
        space.add_lwpolyline([(20, 20), (50, 20), (50, 35)], close=True)
        space.add_line((80, 20), (100, 20))
        space.add_line((100, 20), (90, 40))
        space.add_line((90, 40), (80, 20))

    (part,) = drawn(tmp_path, draw, version="R2000").parts
    text = (tmp_path / "plate.dxf").read_text()
    other = trimesh.load_path(io.StringIO(text), file_type="dxf")
    assert_allclose(part.cut_length, other.length, rtol=SHARE)
    areas = sorted(c.area for c in (part.outer, *part.inners))
    assert_allclose(areas, sorted(p.area for p in other.polygons_closed), rtol=SHARE)


VERSIONS = ["R12", "R2000", "R2004", "R2007", "R2010", "R2013", "R2018"]


def bracket(document: Document) -> None:
    """What every version of DXF can say: lines, arcs, bulges, blocks."""
    space = document.modelspace()
    rows = [(0, 0, 0), (70.125, 0, 0.25), (70.125, 40.0625, 0), (0, 40.0625, -0.1)]
    space.add_polyline2d(rows, format="xyb", close=True)
    block = document.blocks.new("HOLES")
    block.add_circle((10, 10), 3.1)
    block.add_arc((20, 10), 4, 90, 270)
    block.add_line((20, 6), (20, 14))
    attributes = {"rotation": 15, "xscale": -1, "yscale": 1}
    space.add_blockref("HOLES", (45, 10), dxfattribs=attributes)
    space.add_line((5, 5), (10, 5), dxfattribs={"layer": "ETCH"})


def contours(parts: tuple[Part, ...]) -> list[list[float]]:
    """All numbers of all contours."""
    every = [c for p in parts for c in (p.outer, *p.inners, *p.marks)]
    return [np.column_stack([c.points, c.bulges]).ravel().tolist() for c in every]


@pytest.mark.parametrize("binary", [False, True])
@pytest.mark.parametrize("version", VERSIONS)
def test_every_version_gives_identical_parts(tmp_path: Path, version: str, binary: bool) -> None:
    """Text and binary: the same contours within 1e-9 mm."""
    reference = contours(drawn(tmp_path, bracket).parts)
    drawing = drawn(tmp_path, bracket, version=version, binary=binary)
    assert drawing.version == version
    assert len(drawing.parts[0].inners) == 2
    assert len(drawing.parts[0].marks) == 1
    for mine, theirs in zip(contours(drawing.parts), reference, strict=True):
        assert_allclose(mine, theirs, atol=1e-9)
