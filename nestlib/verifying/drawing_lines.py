"""The lines of a drawing, read anew by libraries of general purpose.

Curves become many straight pieces, by ezdxf's or svgelements' own mathematics.
"""

from __future__ import annotations

import io
import math
import re
from collections.abc import Iterable, Iterator
from itertools import pairwise
from pathlib import Path
from xml.etree import ElementTree

import ezdxf
import numpy as np
import shapely
import svgelements
from ezdxf import disassemble, recover
from ezdxf.entities.arc import Arc
from ezdxf.entities.circle import Circle
from ezdxf.entities.dxfentity import DXFEntity
from ezdxf.entities.ellipse import Ellipse
from ezdxf.entities.line import Line
from ezdxf.entities.lwpolyline import LWPolyline
from ezdxf.entities.polyline import Polyline
from ezdxf.entities.spline import Spline
from ezdxf.lldxf.const import DXFError

from nestlib.verifying.curves import Numbers

#: Straight pieces stay this close to a curve of a DXF, in mm.
FLATTENING = 1e-4

#: Straight pieces of a curve of an SVG are about this long, in mm, and at most so many.
_STEP, _MOST_STEPS = 0.05, 4000

_MILLIMETRES = {
    "um": 0.001, "mil": 0.0254, "px": 25.4 / 96, "pt": 25.4 / 72, "mm": 1.0, "pc": 25.4 / 6,
    "cm": 10.0, "in": 25.4, "dm": 100.0, "ft": 304.8, "yd": 914.4, "m": 1000.0,
}  # fmt: skip


#: How a binary DXF begins; what mends damaged files cannot read it.
_BINARY = b"AutoCAD Binary DXF"


class CannotReadError(Exception):
    """Why the lines of a drawing cannot be had, in plain words."""


def drawing_lines(path: Path, unit: str) -> list[shapely.STRtree]:
    """Return the lines of a drawing in mm, y upwards.

    Parameters
    ----------
    path : Path
        A DXF or an SVG.
    unit : str
        Unit of the drawing.

    Returns
    -------
    list of shapely.STRtree
        One for each way to understand the drawing's size. An SVG may have two: by the
        size of its page, and by a unit that the user said.

    Raises
    ------
    CannotReadError
        If it cannot be read, or shows no lines.
    """
    svg = path.suffix.lower() == ".svg"
    try:
        chains = [np.array(c)[:, :2] for c in (_svg(path) if svg else _dxf(path, unit)) if len(c)]
    except (DXFError, ValueError, RecursionError, KeyError, AttributeError, TypeError) as error:
        raise CannotReadError(f"it cannot be read ({error})") from error
    scales = _svg_scales(path, unit) if svg else [_scale(unit)]
    lines = [np.stack([c[:-1], c[1:]], axis=1) for c in chains if np.isfinite(c).all()]
    if not lines:
        raise CannotReadError("it shows no lines")
    pieces = np.concatenate(lines)
    return [shapely.STRtree(shapely.linestrings(pieces * scale)) for scale in scales]


def _scale(unit: str) -> float:
    if unit not in _MILLIMETRES:
        raise CannotReadError(f"its unit '{unit}' is not known here")
    return _MILLIMETRES[unit]


def _dxf(path: Path, unit: str) -> Iterator[Numbers]:
    """Chains of points along everything in the model space."""
    with path.open("rb") as file:
        binary = file.read(len(_BINARY)) == _BINARY
    document = ezdxf.readfile(path) if binary else recover.readfile(path)[0]  # type: ignore[attr-defined]
    entities = disassemble.recursive_decompose(document.modelspace())
    for points in _flattened(entities, FLATTENING / _scale(unit)):
        yield np.array(points, dtype=np.float64)


def _flattened(entities: Iterable[DXFEntity], error: float) -> Iterator[list[tuple[float, ...]]]:
    """Points along every line and curve; what is neither is passed over."""
    for entity in entities:
        try:
            if isinstance(entity, Line):
                yield [entity.dxf.start.xyz, entity.dxf.end.xyz]
            elif isinstance(entity, Circle | Arc):
                if entity.dxf.radius > 0:
                    yield [p.xyz for p in entity.flattening(min(error, entity.dxf.radius / 2))]
            elif isinstance(entity, Ellipse | Spline):
                yield [p.xyz for p in entity.flattening(error)]
            elif isinstance(entity, LWPolyline | Polyline):
                yield from _flattened(entity.virtual_entities(), error)
        except (DXFError, ValueError, ArithmeticError, IndexError):
            continue


def _svg(path: Path) -> Iterator[Numbers]:
    """Chains of points along all shapes, in the coordinates of the drawing, y upwards."""
    root = _svg_root(path)
    scale = max(_svg_scales(path, "px"))
    for name in ("width", "height", "viewBox", "preserveAspectRatio", "x", "y"):
        root.attrib.pop(name, None)
    tree = svgelements.SVG.parse(io.BytesIO(ElementTree.tostring(root)), ppi=96.0)
    for shape in tree.elements():
        if isinstance(shape, svgelements.Shape):
            outline = svgelements.Path(shape)
            outline.reify()
            for segment in outline:
                points = _along(segment, scale)
                yield np.array([(p.x, -p.y) for p in points])


def _along(segment: svgelements.PathSegment, scale: float) -> list[svgelements.Point]:
    if isinstance(segment, svgelements.Move):
        return []
    if isinstance(segment, svgelements.Linear):
        return [p for p in (segment.start, segment.end) if p is not None]
    rough = [segment.point(i / 32) for i in range(33)]
    length = sum(math.hypot(b.x - a.x, b.y - a.y) for a, b in pairwise(rough))
    n = int(np.clip(length * scale / _STEP, 32, _MOST_STEPS))
    return [segment.point(i / n) for i in range(n + 1)]


def _svg_scales(path: Path, unit: str) -> list[float]:
    """Millimetres in a unit of the drawing: as its page has it, or as the unit says."""
    found = [_scale(unit)]
    attributes = _svg_root(path).attrib
    width = re.fullmatch(r"\s*([\d.]+)\s*(mm|cm|in|pt|pc)\s*", attributes.get("width", ""))
    box = re.findall(r"[-+.\deE]+", attributes.get("viewBox", ""))
    if width and len(box) == 4 and float(box[2]) > 0:
        found.append(float(width[1]) * _MILLIMETRES[width[2]] / float(box[2]))
    elif width:
        found.append(_MILLIMETRES["px"])
    return found


def _svg_root(path: Path) -> ElementTree.Element:
    data = path.read_bytes()
    if b"<!ENTITY" in data:
        raise CannotReadError("it defines entities, which are not read")
    return ElementTree.fromstring(data)
