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

#: Looks as attributes and not as a style sheet, which some viewers leave aside.
_TEXT = 'font-family="sans-serif" font-size="13" fill="#1b1f24"'
_METAL = 'fill="#e3e6e1" fill-rule="evenodd" stroke="#1b1f24" stroke-width="1.4"'
_MARK = 'fill="none" stroke="#4a5a6a" stroke-dasharray="2 3"'
_LOOSE = 'fill="none" stroke="#1b1f24" stroke-width="2.2" stroke-dasharray="9 4"'

#: Shape, fill and colour of the number of each level.
_SIGNS = {
    "error": ('<rect x="-10" y="-10" width="20" height="20"', "#7a1f3d", "#ffffff"),
    "warning": ('<path d="M0 -16L14 9L-14 9Z"', "#e8b33c", "#1b1f24"),
    "note": ('<circle r="10"', "#ffffff", "#1b1f24"),
}

#: From the place of a finding to its sign, in pixels, so that the sign does not hide it;
#: upwards to the right, or further round and out where another sign stands already.
_ASIDE = [
    (25.5 * ring * math.cos(angle), 25.5 * ring * math.sin(angle))
    for ring in (1, 2, 3, 4)
    for angle in (math.pi * (k / (3 * ring) - 1 / 4) for k in range(6 * ring))
]

#: Signs closer than this, in pixels, would cover each other.
_SIGN = 24.0


@dataclass(frozen=True)
class _View:
    """From drawing coordinates, y up, to pixels, y down."""

    left: float
    top: float
    scale: float

    def __call__(self, x: float, y: float) -> tuple[float, float]:
        return _BORDER + (x - self.left) * self.scale, _BORDER + (self.top - y) * self.scale


class _Signs:
    """Where signs stand, so that none covers another as long as there is room."""

    def __init__(self, width: float, height: float) -> None:
        self._size = width, height
        self._taken: dict[tuple[int, int], list[tuple[float, float]]] = {}

    def stand(self, x: float, y: float) -> tuple[float, float]:
        """Return where the sign of a place stands from now on."""
        around = [(x + dx, y + dy) for dx, dy in _ASIDE]
        best = next((p for p in around if self._is_free(*p)), around[0])
        if self._is_inside(*best):
            self._taken.setdefault(self._cell(*best), []).append(best)
        return best

    def _is_inside(self, x: float, y: float) -> bool:
        return 0 <= x <= self._size[0] and 0 <= y <= self._size[1]

    def _is_free(self, x: float, y: float) -> bool:
        if not self._is_inside(x, y):
            return False
        i, j = self._cell(x, y)
        cells = ((i + di, j + dj) for di in (-1, 0, 1) for dj in (-1, 0, 1))
        near = (p for cell in cells for p in self._taken.get(cell, ()))
        return all(math.dist((x, y), p) >= _SIGN for p in near)

    @staticmethod
    def _cell(x: float, y: float) -> tuple[int, int]:
        return int(x // _SIGN), int(y // _SIGN)


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
    signs = _Signs(_WIDTH, height + 2 * _BORDER)
    markers = [_markers(number, found, view, signs) for number, found in numbered]
    body = [
        *(line for part in drawing.parts for line in _part(part, view)),
        *(f'<path d="{_path(c, view)}" {_LOOSE}/>' for c in drawing.loose),
        *(line for lines in reversed(markers) for line in lines),
        *legend,
    ]
    title = _text(f"Drawing {PurePath(drawing.file).name} with its findings")
    return "\n".join(
        [
            f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {_WIDTH:g} {bottom:g}" '
            f'width="{_WIDTH:g}" height="{bottom:g}" role="img">',
            f"<title>{title}</title>",
            f'<rect width="{_WIDTH:g}" height="{bottom:g}" fill="#ffffff"/>',
            f"<g {_TEXT}>",
            *body,
            "</g>",
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
    yield f'<path d="{cut}" {_METAL}/>'
    for mark in part.marks:
        yield f'<path d="{_path(_on_drawing(mark, part), view)}" {_MARK}/>'
    x0, y0, x1, _ = _on_drawing(part.outer, part).bounds
    x, y = view((x0 + x1) / 2, y0)
    name = part.name if part.quantity == 1 else f"{part.name} ({part.quantity} pieces)"
    yield f'<text x="{x:.1f}" y="{y + 16:.1f}" text-anchor="middle">{_text(name)}</text>'


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


def _markers(number: int, found: Finding, view: _View, signs: _Signs) -> list[str]:
    lines = []
    for place in _places(found)[:_MARKED]:
        x, y = view(*place)
        there = signs.stand(x, y)
        lines += [
            f'<path d="M{x:.1f} {y:.1f}L{there[0]:.1f} {there[1]:.1f}" stroke="#1b1f24"/>'
            f'<circle cx="{x:.1f}" cy="{y:.1f}" r="2.5"/>',
            _sign(number, found, *there),
        ]
    return lines


def _sign(number: int, found: Finding, x: float, y: float) -> str:
    shape, fill, ink = _SIGNS.get(found.level, _SIGNS["note"])
    return (
        f'<g transform="translate({x:.1f} {y:.1f})">{shape} fill="{fill}" stroke="#1b1f24"/>'
        f'<text y="4" text-anchor="middle" font-size="11" fill="{ink}">{number}</text></g>'
    )


def _legend(
    drawing: Drawing, numbered: Sequence[tuple[int, Finding]], top: float
) -> tuple[list[str], float]:
    """The legend, and the height of the picture in pixels."""
    name = PurePath(drawing.file).name
    parts = "1 part" if len(drawing.parts) == 1 else f"{len(drawing.parts)} parts"
    findings = "1 finding" if len(numbered) == 1 else f"{len(numbered)} findings"
    head = f"{name}: {parts}, drawn in {drawing.units}, {findings}"
    lines = [f'<text x="{_BORDER:g}" y="{top:.1f}" font-size="17">{_text(head)}</text>']
    y = top + 1.6 * _LINE
    for number, found in numbered:
        lines.append(_sign(number, found, _BORDER + 10, y - 4))
        for row in textwrap.wrap(_explained(found), _COLUMNS):
            lines.append(f'<text x="{_BORDER + 34:g}" y="{y:.1f}">{_text(row)}</text>')
            y += _LINE
        y += _LINE / 2
    return lines, math.ceil(y + _LINE / 2)


def _explained(found: Finding) -> str:
    title = CODES[found.code].title if found.code in CODES else found.code
    part = f", {found.part}" if found.part else ""
    where = f" (at {_listed(_places(found))})" if _places(found) else ""
    return f"{found.level.capitalize()}: {title}{part}: {found.message}{where}. {found.remedy}."


def _listed(places: Sequence[tuple[float, float]]) -> str:
    first = "; ".join(f"{x:.2f}, {y:.2f}" for x, y in places[:3])
    return first if len(places) <= 3 else f"{first} and {len(places) - 3} more"


def _places(found: Finding) -> list[tuple[float, float]]:
    return [p for p in found.places if math.isfinite(p[0]) and math.isfinite(p[1])]


def _on_drawing(contour: Contour, part: Part) -> Contour:
    return moved(contour, *part.source.origin) if part.source else contour


def _text(words: str) -> str:
    return escape(_ILLEGAL.sub("\N{REPLACEMENT CHARACTER}", words), {'"': "&quot;"})
