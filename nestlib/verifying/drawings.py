"""Do the contours of a part lie on the lines of the drawing that it came from?

The drawing is read anew, by ezdxf's own decomposition and flattening. Only one way
round is asked: that a part shows nothing which its drawing does not. What a drawing
holds besides (other parts, frames, dimensions) is no fault of the plan.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import shapely
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

from nestlib.model import Contour, Source, Violation
from nestlib.tolerances import CURVE, JOIN
from nestlib.verifying.curves import Curve, Numbers
from nestlib.verifying.written import WrittenPart, WrittenPlan

#: Curves of a drawing become lines that stay this close, in mm.
_FLATTENING = 1e-4

#: A part may stray from its drawing by a closed gap, a replaced curve and our flattening.
_ALLOWED = JOIN + CURVE + 2 * _FLATTENING

_MILLIMETRES = {
    "um": 0.001, "mil": 0.0254, "mm": 1.0, "cm": 10.0, "in": 25.4, "dm": 100.0, "ft": 304.8,
    "yd": 914.4, "m": 1000.0,
}  # fmt: skip


@dataclass(frozen=True)
class Compared:
    """What the comparison of a plan's parts with their drawings found.

    Parameters
    ----------
    violations : tuple of Violation
        Parts that are not as drawn.
    notes : tuple of str
        What could not be compared, and why.
    largest : float
        Greatest distance of a part's contour from a line of its drawing, in mm.
    """

    violations: tuple[Violation, ...]
    notes: tuple[str, ...]
    largest: float


class _CannotCompareError(Exception):
    """Why a drawing cannot be looked at."""


def check_drawings(plan: WrittenPlan) -> Compared:
    """Compare every part that was drawn with its drawing.

    Parameters
    ----------
    plan : WrittenPlan
        With the sources of its parts.

    Returns
    -------
    Compared
    """
    violations, notes, largest = [], [], 0.0
    lines: dict[tuple[str, str], shapely.STRtree | str] = {}
    for name, written in plan.parts.items():
        source = written.part.source
        if source is None:
            continue
        key = source.file, source.units
        if key not in lines:
            lines[key] = _lines(plan, source, written.sha256)
            if isinstance(lines[key], str):
                notes.append(f"{source.file}: {lines[key]}")
        tree = lines[key]
        if isinstance(tree, str):
            continue
        strays, place = _strays(written, source, tree)
        largest = max(largest, strays)
        if strays > _ALLOWED:
            text = f"'{name}' strays {strays:.4f} mm from the lines of {source.file}"
            violations.append(Violation("not-as-drawn", "", text, place))
    return Compared(tuple(violations), tuple(notes), largest)


def _lines(plan: WrittenPlan, source: Source, sha256: str) -> shapely.STRtree | str:
    """All lines of a drawing in mm, or why they cannot be had."""
    try:
        path = _find(plan, source.file)
        if sha256 and hashlib.sha256(path.read_bytes()).hexdigest() != sha256:
            raise _CannotCompareError(
                "the drawing was changed after the plan was made; not compared"
            )
        if source.units not in _MILLIMETRES:
            raise _CannotCompareError(f"its unit '{source.units}' is not known here; not compared")
        found = _dxf_lines(path, _MILLIMETRES[source.units])
    except _CannotCompareError as reason:
        return str(reason)
    except OSError as error:
        return f"the drawing cannot be read ({error.strerror}); not compared"
    return shapely.STRtree(found) if found else "the drawing shows no lines; not compared"


def _find(plan: WrittenPlan, file: str) -> Path:
    """Where a drawing lies: as named, or as seen from the job file or the plan's folder."""
    for base in (Path(), Path(plan.job_file).parent, plan.folder, plan.folder.parent):
        if (base / file).is_file():
            return base / file
    raise _CannotCompareError("the drawing is not to be found; not compared")


def _dxf_lines(path: Path, scale: float) -> list[shapely.LineString]:
    """All straight pieces of a drawing in mm, curves being many of them."""
    if path.suffix.lower() == ".svg":
        raise _CannotCompareError("drawings in SVG are not compared")
    try:
        document, _ = recover.readfile(path)
        entities = list(disassemble.recursive_decompose(document.modelspace()))
    except (DXFError, ValueError, RecursionError, KeyError, AttributeError) as error:
        raise _CannotCompareError(f"the drawing cannot be read ({error}); not compared") from error
    lines: list[shapely.LineString] = []
    for points in _flattened(entities, _FLATTENING / scale):
        chain = np.array(points)[:, :2] * scale
        if len(chain) >= 2 and np.isfinite(chain).all():
            lines.extend(shapely.linestrings(np.stack([chain[:-1], chain[1:]], axis=1)))
    return lines


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
        except (DXFError, ValueError, ZeroDivisionError, ArithmeticError, IndexError):
            continue


def _strays(
    written: WrittenPart, source: Source, tree: shapely.STRtree
) -> tuple[float, tuple[float, float]]:
    """How far a part's contours stray from the lines at most, and where in the drawing."""
    part = written.part
    points = np.concatenate([_points(c) for c in (part.outer, *part.inners, *part.marks)])
    points = points + np.array(source.origin)
    (index, _), apart = tree.query_nearest(
        shapely.points(points), return_distance=True, all_matches=False
    )
    worst = int(np.argmax(apart))
    x, y = points[index[worst]]
    return float(apart[worst]), (float(x), float(y))


def _points(contour: Contour) -> Numbers:
    curve = Curve.of(contour)
    found = np.append(curve.flat[0], curve.samples())
    return np.stack([found.real, found.imag], axis=1)
