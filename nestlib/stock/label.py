"""Labels for the rack: a PDF, one page of A6 for each item, with a QR code and the outline.

The QR code (ISO/IEC 18004) holds what the label says in large letters, such as ``S12``. Texts
are set in an embedded font, so they can be selected and searched.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from io import BytesIO
from typing import Any

from reportlab.lib.pagesizes import A6, landscape
from reportlab.lib.units import mm
from reportlab.pdfbase.pdfmetrics import stringWidth
from reportlab.pdfgen.canvas import Canvas

from nestlib.model import Contour
from nestlib.pdf_drawing import BOLD, FONT, draw_qr, path_of, register_fonts, short
from nestlib.stock.item import Stocked

_EDGE = 8 * mm
_QR = 38 * mm
_LINE = 5 * mm

#: Size of letters below the number, and the smallest that can be read by hand, in points.
_USUAL, _SMALLEST = 11.0, 5.0


def label_pdf(labels: Iterable[tuple[Stocked, Sequence[Contour]]]) -> bytes:
    """Return labels as a PDF; the same labels give the same file.

    Parameters
    ----------
    labels : iterable of (Stocked, sequence of Contour)
        Each item with its outline, followed by its holes.

    Returns
    -------
    bytes
    """
    register_fonts()
    file = BytesIO()
    page = Canvas(file, pagesize=landscape(A6), invariant=1)
    page.setTitle("Labels of the rack")
    for item, contours in labels:
        _draw(page, item, contours)
        page.showPage()
    page.save()
    return file.getvalue()


def lines(item: Stocked) -> list[str]:
    """Return what a label says below its number."""
    told = [
        f"{item.metal} {item.thickness:g} mm",
        f"{item.width:g} x {item.height:g} mm, {item.area * 1e-6:.3f} m²",
        f"Grain at {item.grain:g}°, counter-clockwise from level" if item.grain else "",
        f"Heat {item.heat}" if item.heat else "",
        f"EN 10204 {item.document}" if item.document else "",
        f"Lot {item.lot}" if item.lot else "",
        f"Place {item.place}" if item.place else "",
        f"Since {item.since}",
    ]
    return [line for line in told if line]


def _draw(page: Any, item: Stocked, contours: Sequence[Contour]) -> None:
    width, height = landscape(A6)
    page.setFont(BOLD, 40)
    page.drawString(_EDGE, height - _EDGE - 12 * mm, item.code)
    at = height - _EDGE - 21 * mm
    for line in lines(item):
        _write(page, line, at, width - 3 * _EDGE - _QR)
        at -= _LINE
    draw_qr(page, item.code, (width - _EDGE - _QR, height - _EDGE - _QR), _QR)
    _outline(page, contours, (width - 2 * _EDGE, max(at - _EDGE, 15 * mm)))


def _write(page: Any, line: str, at: float, room: float) -> None:
    """Write a line, in smaller letters where it is long: half the number of a heat says nothing."""
    wide = stringWidth(line, FONT, _USUAL)
    size = max(_SMALLEST, min(_USUAL, _USUAL * room / wide))
    page.setFont(FONT, size)
    page.drawString(_EDGE, at, short(line, FONT, size, room))


def _outline(page: Any, contours: Sequence[Contour], room: tuple[float, float]) -> None:
    """Draw the outline and the holes at the foot, as large as there is room."""
    x0, y0, x1, y1 = contours[0].bounds
    scale = min(room[0] / (x1 - x0), room[1] / (y1 - y0))
    path = path_of(page, contours, scale, (_EDGE - x0 * scale, _EDGE - y0 * scale))
    page.setFillGray(0.9)
    page.drawPath(path, stroke=1, fill=1, fillMode=0)  # even-odd: holes stay white
    page.setFillGray(0)
