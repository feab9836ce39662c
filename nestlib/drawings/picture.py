"""A drawing with its findings marked, as one self-contained SVG.

Every level has a shape of its own - square, triangle, circle - and every finding a
number that the legend explains, so that the picture can be read without colours.
"""

from __future__ import annotations

import math
import re
import textwrap
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import PurePath
from xml.sax.saxutils import escape

from nestlib.drawings.codes import CODES
from nestlib.geometry.arcs import arc_radius
from nestlib.geometry.transform import moved
from nestlib.model import Contour, Drawing, Finding, Part

#: Size of the area in which the drawing is shown, in pixels.
_WIDTH, _HEIGHT, _BORDER = 1200.0, 760.0, 36.0

#: Places of one finding that are marked; the legend says how many there are.
_MARKED = 100

#: Width of the legend in characters, and height of its lines in pixels.
_COLUMNS, _LINE = 150, 19.0

#: What XML 1.0 does not allow even when escaped.
_ILLEGAL = re.compile("[^\t\n\r -\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")

_STYLE = """
text { font: 13px sans-serif; fill: #1b1f24; }
.head { font-weight: bold; font-size: 16px; }
.metal { fill: #e3e6e1; fill-rule: evenodd; stroke: #1b1f24; stroke-width: 1.4; }
.mark { fill: none; stroke: #4a5a6a; stroke-width: 1; stroke-dasharray: 2 3; }
.loose { fill: none; stroke: #1b1f24; stroke-width: 2.2; stroke-dasharray: 9 4; }
.name { fill: #4a5a6a; text-anchor: middle; }
.sign { stroke: #1b1f24; stroke-width: 1.4; fill-opacity: 0.9; }
.error .sign { fill: #7a1f3d; } .error .number { fill: #ffffff; }
.warning .sign { fill: #e8b33c; }
.note .sign { fill: #ffffff; }
.number { font-size: 11px; font-weight: bold; text-anchor: middle; }
"""


@dataclass(frozen=True)
class _View:
    """From drawing coordinates, y up, to pixels, y down."""

    left: float
    top: float
    scale: float

    def __call__(self, x: float, y: float) -> tuple[float, float]:
        return _BORDER + (x - self.left) * self.scale, _BORDER + (self.top - y) * self.scale


def picture(drawing: Drawing, findings: Iterable[Finding]) -> str:
    """Draw a drawing and number its findings.

    Parameters
    ----------
    drawing : Drawing
        As it was read.
    findings : iterable of Finding
        As `nestlib.drawings.check_drawing` returns them, places in mm.

    Returns
    -------
    str
        An SVG document that needs nothing else; arcs are drawn as arcs.
    """
    numbered = list(enumerate(findings, start=1))
    view, height = _view(drawing, [p for _, f in numbered for p in _places(f)])
    legend, bottom = _legend(drawing, numbered, height + 2 * _BORDER)
    body = [
        *(line for part in drawing.parts for line in _part(part, view)),
        *(f'<path class="loose" d="{_path(c, view)}"/>' for c in drawing.loose),
        *(line for number, found in reversed(numbered) for line in _markers(number, found, view)),
        *legend,
    ]
    title = _text(f"Drawing {PurePath(drawing.file).name} with its findings")
    return "\n".join(
        [
            f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {_WIDTH:g} {bottom:g}" '
            f'width="{_WIDTH:g}" height="{bottom:g}" role="img">',
            f"<title>{title}</title>",
            f"<style>{_STYLE}</style>",
            f'<rect width="{_WIDTH:g}" height="{bottom:g}" fill="#ffffff"/>',
            *body,
            "</svg>\n",
        ]
    )


def _view(drawing: Drawing, places: Sequence[tuple[float, float]]) -> tuple[_View, float]:
    """The view in which everything fits, and the height of the drawn area in pixels."""
    contours = [_on_drawing(part.outer, part) for part in drawing.parts] + list(drawing.loose)
    boxes = [c.bounds for c in contours] or [(x, y, x, y) for x, y in places] or [(0, 0, 1, 1)]
    x0, y0 = min(b[0] for b in boxes), min(b[1] for b in boxes)
    x1, y1 = max(b[2] for b in boxes), max(b[3] for b in boxes)
    wide, high = _WIDTH - 2 * _BORDER, _HEIGHT - 2 * _BORDER
    scale = min(wide / max(x1 - x0, 1e-6), high / max(y1 - y0, 1e-6))
    if not 0 < scale < 1e6:
        scale = 1.0
    return _View(x0, y1, scale), (y1 - y0) * scale


def _part(part: Part, view: _View) -> Iterator[str]:
    cut = " ".join(_path(_on_drawing(c, part), view) for c in (part.outer, *part.inners))
    yield f'<path class="metal" d="{cut}"/>'
    for mark in part.marks:
        yield f'<path class="mark" d="{_path(_on_drawing(mark, part), view)}"/>'
    x0, y0, x1, _ = _on_drawing(part.outer, part).bounds
    x, y = view((x0 + x1) / 2, y0)
    name = part.name if part.quantity == 1 else f"{part.name} ({part.quantity} pieces)"
    yield f'<text class="name" x="{x:.1f}" y="{y + 15:.1f}">{_text(name)}</text>'


def _path(contour: Contour, view: _View) -> str:
    """Path data: a line stays a line, and an arc is drawn as an arc."""
    x, y = view(*contour.points[0])
    steps = [f"M{x:.3f} {y:.3f}"]
    for start, end, bulge in zip(*contour.segments, strict=True):
        x, y = view(*end)
        if not bulge:
            steps.append(f"L{x:.3f} {y:.3f}")
            continue
        radius = arc_radius(start, end, float(bulge)) * view.scale
        # With y down, what runs counter-clockwise has the sweep flag 0.
        large, sweep = int(abs(bulge) > 1), int(bulge < 0)
        steps.append(f"A{radius:.3f} {radius:.3f} 0 {large} {sweep} {x:.3f} {y:.3f}")
    return "".join(steps) + ("Z" if contour.closed else "")


def _markers(number: int, found: Finding, view: _View) -> Iterator[str]:
    for place in _places(found)[:_MARKED]:
        yield _marker(number, found, *view(*place))


def _marker(number: int, found: Finding, x: float, y: float) -> str:
    shapes = {
        "error": '<rect class="sign" x="-10" y="-10" width="20" height="20"/>',
        "warning": '<path class="sign" d="M0 -15L14 9L-14 9Z"/>',
    }
    shape = shapes.get(found.level, '<circle class="sign" r="10"/>')
    return (
        f'<g class="{_text(found.level)}" transform="translate({x:.1f} {y:.1f})">'
        f'{shape}<text class="number" y="4">{number}</text></g>'
    )


def _legend(
    drawing: Drawing, numbered: Sequence[tuple[int, Finding]], top: float
) -> tuple[list[str], float]:
    """The legend, and the height of the picture in pixels."""
    name = PurePath(drawing.file).name
    parts = "1 part" if len(drawing.parts) == 1 else f"{len(drawing.parts)} parts"
    head = f"{name}: {parts}, drawn in {drawing.units}, {len(numbered)} findings"
    lines = [f'<text class="head" x="{_BORDER:g}" y="{top:.1f}">{_text(head)}</text>']
    y = top + 1.6 * _LINE
    for number, found in numbered:
        lines.append(_marker(number, found, _BORDER + 10, y - 4))
        for row in textwrap.wrap(_explained(found), _COLUMNS):
            lines.append(f'<text x="{_BORDER + 34:g}" y="{y:.1f}">{_text(row)}</text>')
            y += _LINE
        y += _LINE / 2
    return lines, math.ceil(y + _LINE / 2)


def _explained(found: Finding) -> str:
    title = CODES[found.code].title if found.code in CODES else found.code
    part = f" [{found.part}]" if found.part else ""
    places = _places(found)
    at = "; ".join(f"{x:.2f}, {y:.2f}" for x, y in places[:3])
    where = f" at {at}{' ...' if len(places) > 3 else ''}" if places else ""
    return f"{found.level.capitalize()}: {title}{part}: {found.message}{where}. {found.remedy}."


def _places(found: Finding) -> list[tuple[float, float]]:
    return [p for p in found.places if math.isfinite(p[0]) and math.isfinite(p[1])]


def _on_drawing(contour: Contour, part: Part) -> Contour:
    return moved(contour, *part.source.origin) if part.source else contour


def _text(words: str) -> str:
    return escape(_ILLEGAL.sub("\N{REPLACEMENT CHARACTER}", words), {'"': "&quot;"})
