"""A layout drawn on a page of a PDF, from its true lines and arcs.

The same colours as in the report; what must not be mixed up differs in dashes too, since a
shop may print without colours.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import Any

from nestlib.geometry import cos_sin, placed
from nestlib.geometry.along import joint_contours
from nestlib.model import Contour, Job, Layout, Part, Sheet
from nestlib.pdf_drawing import FONT, path_of
from nestlib.reporting.names import Name, name_in, name_on_sheet
from nestlib.reporting.palette import INK, fill
from nestlib.reporting.texts import plain

#: Room around the sheet, largest and smallest letters for which a name stands beside the
#: number, and smallest number, in points.
_BORDER, _LARGEST, _READABLE, _SMALLEST = 8.0, 7.0, 4.0, 1.5

_DASHES = {"shared": [6, 1.5], "skeleton": [6, 1.5, 1.5, 1.5], "cut_off": [6, 1.5, 1.5, 1.5]}


@dataclass(frozen=True)
class Fit:
    """Where a sheet comes to lie on a page.

    Parameters
    ----------
    scale : float
        Points for each mm.
    shift : (float, float)
        Where the sheet's (0, 0) lies, in points.
    """

    scale: float
    shift: tuple[float, float]

    @classmethod
    def within(cls, sheet: Sheet, width: float, height: float) -> Fit:
        """Return the largest picture of a sheet in a box, in its middle and with a border."""
        (x0, y0, x1, y1), room = sheet.outline.bounds, 2 * _BORDER
        wide, high = max(x1 - x0, 1e-6), max(y1 - y0, 1e-6)
        scale = min((width - room) / wide, (height - room) / high)
        left, low = (width - wide * scale) / 2, (height - high * scale) / 2
        return cls(scale, (left - x0 * scale, low - y0 * scale))

    def point(self, x: float, y: float) -> tuple[float, float]:
        """From the sheet to the page."""
        return self.shift[0] + x * self.scale, self.shift[1] + y * self.scale


def height_for(sheet: Sheet, width: float, most: float) -> float:
    """Return how high a box a sheet needs that is as wide as there is room, in points."""
    wide, high = sheet.size
    return min(most, (width - 2 * _BORDER) * high / max(wide, 1e-6) + 2 * _BORDER)


def part_numbers(layout: Layout, job: Job) -> dict[str, int]:
    """Return the number of each part of a layout, counted from 1 as the job lists them."""
    return {part.name: i for i, part in enumerate(job.parts, start=1) if part.name in layout.counts}


def draw_layout(page: Any, layout: Layout, job: Job, width: float, height: float) -> None:
    """Draw a layout: sheet, pieces with number and name, cuts in the skeleton, joints.

    Parameters
    ----------
    page : reportlab.pdfgen.canvas.Canvas
        Its origin is the lower left corner of the box.
    layout : Layout
        What is drawn.
    job : Job
        Holds the parts.
    width, height : float
        Of the box, in points.
    """
    fit = Fit.within(layout.sheet, width, height)
    page.saveState()
    page.setStrokeColor(INK)
    _sheet(page, layout, fit)
    _pieces(page, layout, job, fit)
    _cuts(page, layout, fit)
    _names(page, layout, job, fit)
    _grain(page, layout.sheet, fit)
    page.restoreState()


def _sheet(page: Any, layout: Layout, fit: Fit) -> None:
    """The metal, what nothing may touch, and what is kept."""
    sheet = layout.sheet
    page.setFillColor("#f6f6f3")
    page.setLineWidth(0.8)
    _draw(page, (sheet.outline, *sheet.holes), fit, filled=True)
    page.setLineWidth(0.5)
    for zone in sheet.keep_outs:
        page.setFillColor("#e6d9d9")
        _draw(page, (zone,), fit, filled=True)
        x0, y0, x1, y1 = zone.bounds
        _text(page, fit.point((x0 + x1) / 2, (y0 + y1) / 2), "keep out", _READABLE)
    page.setDash(3, 2)
    for remnant in layout.remnants:
        page.setFillColor("#e3eee5")
        _draw(page, (remnant.outline,), fit, filled=True)
        x0, y0, x1, y1 = remnant.outline.bounds
        _text(page, fit.point((x0 + x1) / 2, (y0 + y1) / 2), remnant.name, _LARGEST)
    page.setDash()


def _pieces(page: Any, layout: Layout, job: Job, fit: Fit) -> None:
    parts = {part.name: (part, fill(i)[0]) for i, part in enumerate(job.parts)}
    for placement in layout.placements:
        part, colour = parts[placement.part]
        page.setFillColor(colour)
        page.setLineWidth(0.4)
        _draw(page, (placed(c, placement) for c in (part.outer, *part.inners)), fit, filled=True)
        if part.marks:
            page.setLineWidth(0.25)
            _draw(page, (placed(c, placement) for c in part.marks), fit)


def _cuts(page: Any, layout: Layout, fit: Fit) -> None:
    """What is cut besides the contours of the pieces, and what of these is left uncut."""
    for role, dashes in _DASHES.items():
        page.setLineWidth(1)
        page.setDash(dashes)
        _draw(page, (cut.contour for cut in layout.path.cuts if cut.role == role), fit)
    page.setDash()
    page.setLineWidth(2.5)
    page.setLineCap(1)
    page.setStrokeColor("#b35c00")
    _draw(page, (c for cut in layout.path.cuts for c in joint_contours(cut)), fit)
    page.setStrokeColor(INK)
    page.setLineCap(0)


def _names(page: Any, layout: Layout, job: Job, fit: Fit) -> None:
    """On each piece its part's number, and the name where it can be read."""
    numbers = part_numbers(layout, job)
    found = {name: _label(job.part(name), number, fit) for name, number in numbers.items()}
    for placement in layout.placements:
        text, spot = found[placement.part]
        if spot is not None and spot.height * fit.scale >= _SMALLEST:
            name = name_on_sheet(spot, placement)
            _text(page, fit.point(name.x, name.y), text, name.height * fit.scale, name.angle)


def _label(part: Part, number: int, fit: Fit) -> tuple[str, Name | None]:
    largest = _LARGEST / fit.scale
    whole = f"{number} {plain(part.name)}"
    spot = name_in(replace(part, name=whole), largest)
    if spot is not None and spot.height * fit.scale >= _READABLE:
        return whole, spot
    return str(number), name_in(replace(part, name=str(number)), largest)


def _grain(page: Any, sheet: Sheet, fit: Fit) -> None:
    """A line along the grain at the far corner, and the point that coordinates count from."""
    _text(page, fit.point(0, 0), "+", _LARGEST)
    cos, sin = cos_sin(sheet.grain)
    x, y = fit.point(*sheet.outline.bounds[2:])
    x, y, reach = x + _BORDER / 2, y + _BORDER / 2, 0.45 * _BORDER
    _text(page, (x - 2 * _BORDER, y), "grain", _READABLE)
    page.setLineWidth(0.8)
    page.line(x - reach * cos, y - reach * sin, x + reach * cos, y + reach * sin)


def _text(page: Any, at: tuple[float, float], text: str, size: float, angle: float = 0.0) -> None:
    page.saveState()
    page.translate(*at)
    page.rotate(angle)
    page.setFillColor(INK)
    page.setFont(FONT, size)
    page.drawCentredString(0, -0.35 * size, plain(text))
    page.restoreState()


def _draw(page: Any, contours: Iterable[Contour], fit: Fit, filled: bool = False) -> None:
    """Contours as one path; what is filled keeps its holes open (even-odd)."""
    path = path_of(page, contours, fit.scale, fit.shift)
    page.drawPath(path, stroke=1, fill=int(filled), fillMode=0)
