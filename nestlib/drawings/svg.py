"""SVG files.

An SVG is drawn in units of its own, with y downwards. How large one of them is follows
from the width and height of the page, if these are given in millimetres or another unit
of length. Pixels have no certain size: for these the unit has to be told.

References
----------
W3C, Scalable Vector Graphics 1.1 (2nd ed.), chapters 7 (coordinate systems and units)
and 8 (paths); W3C, CSS Values and Units Level 3, section 6.2 (absolute lengths).
"""

from __future__ import annotations

import io
import math
import re
from dataclasses import dataclass
from xml.etree import ElementTree
from xml.etree.ElementTree import Element

import numpy as np
import svgelements

from nestlib.drawings import curves
from nestlib.drawings.rules import Rules
from nestlib.drawings.sketch import FARTHEST, Notes, Sketch, Stroke, Style, chain
from nestlib.drawings.svg_document import LAYER, looks_like_svg, parse, strip
from nestlib.drawings.wanted_units import WantedUnits, note_overruled
from nestlib.errors import DrawingError, Problem
from nestlib.model.contour import Contour, FloatArray
from nestlib.tolerances import CURVE, SAME_POINT

__all__ = ["looks_like_svg", "read_svg"]

#: Millimetres in the absolute lengths of CSS, but for the pixel.
_LENGTHS = {"mm": 1.0, "cm": 10.0, "in": 25.4, "pt": 25.4 / 72, "pc": 25.4 / 6, "q": 0.25}
_PIXEL = 25.4 / 96

_LENGTH = re.compile(r"\s*([-+]?[\d.]+(?:e[-+]?\d+)?)\s*([a-z]*)\s*", re.IGNORECASE)


@dataclass(frozen=True)
class _Page:
    """Unit of the file, and millimetres in one of its units along x and y."""

    units: str
    source: str
    x: float
    y: float

    def points(self, points: list[complex]) -> FloatArray:
        """Points with y upwards in mm, shape (n, 2)."""
        values = np.array(points, dtype=np.complex128)
        return np.column_stack([values.real * self.x, -values.imag * self.y])

    def vector(self, value: complex) -> FloatArray:
        return np.asarray(self.points([value])[0])


def read_svg(data: bytes, file: str, wanted: WantedUnits, rules: Rules, notes: Notes) -> Sketch:
    """Read the strokes of an SVG.

    Parameters
    ----------
    data : bytes
        The whole file.
    file : str
        Named in messages.
    wanted : WantedUnits
        What the user and the job say about units. A unit said there is that of the
        drawing's own coordinates; ``"px"`` is 1/96 in of the page.
    rules : Rules
        What is cut, etched or ignored. The layer is the nearest named group.
    notes : Notes
        Takes what is noticed.

    Returns
    -------
    Sketch

    Raises
    ------
    DrawingError
        If it cannot be read, or its size is not certain.
    """
    root = parse(data, file)
    page = _page(root, file, wanted, notes)
    strip(root, notes)
    strokes: list[Stroke] = []
    for order, element in enumerate(_shapes(root, file)):
        strokes.extend(_strokes(element, order, page, rules, notes))
    return Sketch(strokes, page.units, page.source, "SVG")


def _page(root: Element, file: str, wanted: WantedUnits, notes: Notes) -> _Page:
    """Settle how large the drawing is."""
    width, width_unit = _length(root.get("width", ""))
    height, height_unit = _length(root.get("height", ""))
    box = _view_box(root.get("viewBox", ""))
    physical = width_unit if width and width_unit in _LENGTHS else ""
    across = width * _LENGTHS[physical] / box[0] if physical and box else _PIXEL
    settled = wanted.settle("mm" if physical else None, file, notes)
    if settled.source != "file":
        x, y = (settled.scale, settled.scale)
        if settled.name == "px" and box and width and height:
            x, y = _fit(root, settled.scale * width / box[0], settled.scale * height / box[1])
        if physical:
            says = f"{across:.6g} mm for one of its units"
            note_overruled(settled, x, says, across, notes)
        return _Page(settled.name, settled.source, x, y)
    if box is None:
        return _Page(width_unit, "file", _PIXEL, _PIXEL)
    y = height * _LENGTHS[height_unit] / box[1] if height and height_unit in _LENGTHS else across
    return _Page(width_unit, "file", *_fit(root, across, y))


def _fit(root: Element, x: float, y: float) -> tuple[float, float]:
    """A page of other proportions than its box keeps the smaller scale, unless it says no."""
    aspect = root.get("preserveAspectRatio", "")
    if math.isclose(x, y, rel_tol=1e-6) or "none" in aspect:
        return (x, y) if "none" in aspect else (x, x)
    return (max(x, y),) * 2 if "slice" in aspect else (min(x, y),) * 2


def _length(text: str) -> tuple[float, str]:
    """Number and unit of a length; 0 if it is none."""
    match = _LENGTH.fullmatch(text)
    if not match:
        return 0.0, ""
    try:
        return float(match[1]), match[2].lower()
    except ValueError:
        return 0.0, ""


def _view_box(text: str) -> tuple[float, float] | None:
    """Width and height of a view box; None if there is none of any size."""
    try:
        numbers = [float(n) for n in text.replace(",", " ").split()]
    except ValueError:
        return None
    if len(numbers) != 4 or not (numbers[2] > 0 and numbers[3] > 0):
        return None
    return numbers[2], numbers[3]


def _shapes(root: Element, file: str) -> list[svgelements.Shape]:
    """All shapes of the tree, in the coordinates of the drawing."""
    for attribute in ("width", "height", "viewBox", "preserveAspectRatio", "x", "y"):
        root.attrib.pop(attribute, None)
    try:
        source = io.BytesIO(ElementTree.tostring(root))
        tree = svgelements.SVG.parse(source, ppi=96.0)
    except Exception as error:
        # What a broken file does to the parser cannot be foreseen.
        problem = f"the SVG is damaged ({error})"
        raise DrawingError(Problem(file, "", problem, "Save the drawing again")) from error
    return [e for e in tree.elements() if isinstance(e, svgelements.Shape)]


def _strokes(
    element: svgelements.Shape, order: int, page: _Page, rules: Rules, notes: Notes
) -> list[Stroke]:
    """What one shape draws, unless it is left out."""
    style = _style(element)
    rule = rules.first(style)
    why = str(rule) if rule is not None and rule.action == "ignore" else _invisible(element)
    if why:
        notes.leave_out(style.kind, style.layer, why)
        return []
    try:
        path = svgelements.Path(element)
        path.reify()
        made = [c for sub in path.as_subpaths() for c in _contour(sub, page)]
    except Exception as error:  # one bad shape never stops the others
        notes.add("unreadable-entity", f"{style.kind}: {error}", (), style)
        return []
    if not made:
        notes.repeat("zero-length", f"{style.kind} without length was left out", None, style)
    if any(isinstance(s, svgelements.CubicBezier | svgelements.QuadraticBezier) for s in path):
        message = f"{style.kind} was replaced by arcs and lines within {CURVE:g} mm"
        notes.repeat("curve-replaced", message, None, style)
    mark = rule is not None and rule.action == "mark"
    return [Stroke(c, style, order, mark) for c in made]


def _style(element: svgelements.Shape) -> Style:
    values = element.values
    dashes = str(values.get("stroke-dasharray", "none") or "none").strip()
    linetype = "CONTINUOUS" if dashes in ("none", "0") else "DASHED"
    own = values.get("attributes", {})
    kind = str(values.get("tag", "path")).upper()
    return Style(kind, str(values.get(LAYER, "")), linetype, str(own.get("id", "")))


def _invisible(element: svgelements.Shape) -> str:
    """Why a shape is not shown; empty if it is."""
    values = element.values
    if values.get("visibility") in ("hidden", "collapse"):
        return "not displayed"
    if values.get("fill") == "none" and values.get("stroke") == "none":
        return "neither line nor filling"
    return ""


def _contour(segments: svgelements.Subpath, page: _Page) -> list[Contour]:
    """One contour of a path; none if it has no length."""
    pieces: list[Contour] = []
    closed = False
    for segment in segments:
        if isinstance(segment, svgelements.Move):
            continue
        closed = closed or isinstance(segment, svgelements.Close)
        piece = _piece(segment, page)
        if np.abs(piece.points).max() > FARTHEST:
            raise ValueError("a coordinate is too large")
        if piece.length >= SAME_POINT:
            pieces.append(piece)
    if not pieces:
        return []
    whole = chain(pieces)
    if closed and len(whole) > 2:
        return [Contour(whole.points[:-1], whole.bulges[:-1])]
    return [whole]


def _piece(segment: svgelements.PathSegment, page: _Page) -> Contour:
    """One segment of a path as lines and arcs."""
    if isinstance(segment, svgelements.CubicBezier):
        points = [segment.start, segment.control1, segment.control2, segment.end]
        return curves.bezier(page.points([complex(*p) for p in points]))
    if isinstance(segment, svgelements.QuadraticBezier):
        points = [segment.start, segment.control, segment.end]
        return curves.bezier(page.points([complex(*p) for p in points]))
    ends = page.points([complex(*segment.start), complex(*segment.end)])
    if isinstance(segment, svgelements.Arc) and min(segment.rx, segment.ry) > 0 and segment.sweep:
        return _arc(segment, ends, page)
    return Contour(ends, closed=False)


def _arc(segment: svgelements.Arc, ends: FloatArray, page: _Page) -> Contour:
    """An elliptic arc between exactly the end points that the path gives."""
    along = complex(math.cos(segment.get_rotation()), math.sin(segment.get_rotation()))
    centre = page.vector(complex(*segment.center))
    u, v = page.vector(segment.rx * along), page.vector(segment.ry * along * 1j)
    span = float(segment.sweep)
    if abs(span) >= 2 * math.pi - 1e-9:
        first, half = float(segment.get_start_t()), span / 2
        made = chain(curves.arc(centre, u, v, first + k * half, half) for k in (0, 1))
    else:
        made = curves.arc(centre, u, v, segment.get_start_t(), span)
    points = made.points.copy()
    points[0], points[-1] = ends
    return Contour(points, made.bulges, closed=False)
