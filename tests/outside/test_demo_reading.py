"""The reader against other general-purpose readers, on every drawing of the demo.

DXF: ezdxf's own flattening of every entity, put together by shapely. SVG: the pens of
fontTools, which integrate area and length of Bézier curves by themselves.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from pathlib import Path
from xml.etree import ElementTree

import ezdxf
import numpy as np
import pytest
import shapely
from ezdxf import disassemble
from ezdxf.entities.dxfgfx import DXFGraphic
from fontTools.pens.areaPen import AreaPen
from fontTools.pens.perimeterPen import PerimeterPen
from fontTools.pens.recordingPen import RecordingPen
from fontTools.svgLib import SVGPath
from scipy.spatial import cKDTree

from fixtures.demo_drawings import DRAWINGS
from fixtures.generate import DEMO
from nestlib.drawings import read_drawing

SAGITTA = 2e-4  # mm in the flattening of this test; far below the tolerance
JOIN = 0.05  # mm; the hook's gaps are at most 0.03
TOLERANCE = 1e-4  # 0.01 %
MM = {0: 1.0, 1: 25.4, 4: 1.0}  # the demo's $INSUNITS; its one file without them is in mm

DXF_FILES = sorted(name for name in DRAWINGS if name.endswith(".dxf"))
SVG_FILES = sorted(name for name in DRAWINGS if name.endswith(".svg"))


def layer_of(entity: DXFGraphic) -> str:
    """Layer 0 inside a block means the layer of the reference."""
    while entity.dxf.layer == "0" and entity.source_block_reference is not None:
        entity = entity.source_block_reference
    return str(entity.dxf.layer)


def cut_entities(path: Path) -> Iterator[DXFGraphic]:
    """Everything on the layer CUT, polylines taken apart into lines and arcs."""
    space = ezdxf.readfile(path).modelspace()
    for entity in disassemble.recursive_decompose(space):
        if layer_of(entity) == "CUT":
            taken_apart = entity.dxftype() in ("LWPOLYLINE", "POLYLINE")
            yield from entity.virtual_entities() if taken_apart else [entity]


def flattened(entity: DXFGraphic, scale: float) -> np.ndarray:
    """Vertices along one entity, in mm."""
    if entity.dxftype() == "LINE":
        vertices = [entity.dxf.start, entity.dxf.end]
    else:
        vertices = list(entity.flattening(SAGITTA / scale))
    return scale * np.array([(v.x, v.y) for v in vertices])


def rings(lines: list[np.ndarray]) -> list[shapely.Polygon]:
    """Join end points that almost meet, drop what is drawn twice, follow the loops."""
    ends = np.array([end for line in lines for end in (line[0], line[-1])])
    tree = cKDTree(ends)
    for i, line in enumerate(lines):
        for k, end in ((0, 2 * i), (-1, 2 * i + 1)):
            line[k] = ends[min(tree.query_ball_point(ends[end], JOIN))]
    merged = shapely.line_merge(shapely.unary_union([shapely.LineString(x) for x in lines]))
    assert all(part.is_closed for part in shapely.get_parts(merged))
    return [shapely.Polygon(part) for part in shapely.get_parts(merged)]


def parts_of(loops: list[shapely.Polygon]) -> list[tuple[float, float]]:
    """Area and cut length of each part: loops at even depth, less the loops just inside."""
    inside = np.array([[a is not b and b.contains(a) for b in loops] for a in loops])
    depth = inside.sum(axis=1)
    found = []
    for i, loop in enumerate(loops):
        if depth[i] % 2 == 0:
            holes = [h for j, h in enumerate(loops) if inside[j, i] and depth[j] == depth[i] + 1]
            area = loop.area - sum(h.area for h in holes)
            found.append((area, loop.length + sum(h.length for h in holes)))
    return found


def read_by_nestlib(name: str) -> list[tuple[float, float]]:
    """Area and cut length of every piece that is drawn, as the reader under test sees them."""
    drawing = read_drawing(DEMO / "drawings" / name, fallback_units="mm")
    return [(p.area, p.cut_length) for p in drawing.parts for _ in range(p.quantity)]


@pytest.mark.parametrize("name", DXF_FILES)
def test_dxf_gives_the_areas_and_lengths_of_ezdxf_and_shapely(name: str) -> None:
    """Area and cut length of every piece agree within 0.01 %."""
    path = DEMO / "drawings" / name
    scale = MM[ezdxf.readfile(path).header.get("$INSUNITS", 0)]
    loops = rings([flattened(entity, scale) for entity in cut_entities(path)])
    expected = sorted(parts_of(loops))
    np.testing.assert_allclose(sorted(read_by_nestlib(name)), expected, rtol=TOLERANCE)


def contours_of_svg(path: Path) -> list[tuple[float, float]]:
    """Area and length of every contour outside the group of marks."""
    root = ElementTree.parse(path).getroot()
    for group in root.findall("{*}g[@id='MARK']"):
        root.remove(group)
    record = RecordingPen()
    SVGPath.fromstring(ElementTree.tostring(root)).draw(record)
    starts = [i for i, (step, _) in enumerate(record.value) if step == "moveTo"]
    found = []
    for start, end in itertools.pairwise([*starts, None]):
        area, length = AreaPen(), PerimeterPen(tolerance=1e-4)
        for step, points in record.value[start:end]:
            step = "closePath" if step == "endPath" else step  # a circle ends where it began
            getattr(area, step)(*points)
            getattr(length, step)(*points)
        found.append((abs(area.value), length.value))
    return found


@pytest.mark.parametrize("name", SVG_FILES)
def test_svg_gives_the_areas_and_lengths_of_the_font_pens(name: str) -> None:
    """Area and cut length agree within 0.01 %; each drawing holds one part."""
    areas, lengths = np.array(contours_of_svg(DEMO / "drawings" / name)).T
    expected = 2 * areas.max() - areas.sum(), lengths.sum()
    (found,) = read_by_nestlib(name)
    np.testing.assert_allclose(found, expected, rtol=TOLERANCE)
