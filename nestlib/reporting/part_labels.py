"""Labels for the parts of a plan: what it is, for which order, how many.

Forms are common sizes of label sheets, and rolls with a label a page; their measures are
common practice, no source: print a test page before the first labels.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from io import BytesIO
from typing import Any

from reportlab.lib.pagesizes import A4, LETTER
from reportlab.lib.units import inch, mm
from reportlab.pdfgen.canvas import Canvas

from nestlib.pdf_drawing import BOLD, FONT, draw_qr, qr_modules, register_fonts
from nestlib.reporting.fitted import letters_for, rows_in
from nestlib.reporting.texts import count, plain

#: The largest letters, in points.
_LARGEST = 14.0

#: White around a QR code, in its modules: ISO/IEC 18004.
_QUIET = 4

#: Share of the height that each row of a text on two rows has.
_TWO_ROWS = 0.9


@dataclass(frozen=True)
class PartLabel:
    """What a label says.

    Parameters
    ----------
    part : str
        Name of the part.
    pieces : int
        How many go with the label.
    order : str
        The order line; empty if nobody ordered them.
    due : datetime.date, or None
        When they have to be ready.
    metal : str
        Material and thickness.
    layouts : tuple of int
        Numbers of the layouts that they are cut with.
    """

    part: str
    pieces: int
    order: str
    due: date | None
    metal: str
    layouts: tuple[int, ...]


@dataclass(frozen=True)
class Form:
    """How labels lie on a page; all lengths in points.

    Parameters
    ----------
    page : (float, float)
        Width and height of the page.
    label : (float, float)
        Of a label.
    columns, rows : int
        How many labels there are.
    corner : (float, float)
        From the page's upper left corner to that of the first label.
    step : (float, float)
        From a label to the next, across and down.
    edge : float
        Room at the edge of a label.
    """

    page: tuple[float, float]
    label: tuple[float, float]
    columns: int = 1
    rows: int = 1
    corner: tuple[float, float] = (0.0, 0.0)
    step: tuple[float, float] = (0.0, 0.0)
    edge: float = 2.5 * mm

    def corners(self) -> Iterator[tuple[float, float]]:
        """Yield the lower left corner of each label, row by row from the top."""
        for row in range(self.rows):
            for column in range(self.columns):
                x = self.corner[0] + column * self.step[0]
                top = self.page[1] - self.corner[1] - row * self.step[1]
                yield x, top - self.label[1]


def _roll(width: float, height: float) -> Form:
    return Form((width * mm, height * mm), (width * mm, height * mm))


#: Forms by name.
FORMS = {
    # 3 x 8 of 70 x 37 mm. They reach to the edge of the page, where few printers print.
    "a4-24": Form(A4, (70 * mm, 37 * mm), 3, 8, (0, 0.5 * mm), (70 * mm, 37 * mm), 5 * mm),
    # 3 x 10 of 2 5/8 x 1 in.
    "letter-30": Form(
        LETTER, (2.625 * inch, inch), 3, 10, (0.1875 * inch, 0.5 * inch), (2.75 * inch, inch)
    ),
    "100x50": _roll(100, 50),
    "62x29": _roll(62, 29),
}


def part_labels_pdf(labels: Sequence[PartLabel], form: str) -> bytes:
    """Return labels as a PDF; the same labels give the same file.

    Parameters
    ----------
    labels : sequence of PartLabel
        In the order in which they are printed.
    form : str
        One of `FORMS`.

    Returns
    -------
    bytes
    """
    register_fonts()
    file, on = BytesIO(), FORMS[form]
    page = Canvas(file, pagesize=on.page, invariant=1)
    page.setTitle("Labels of the parts")
    corners = list(on.corners())
    for number, label in enumerate(labels):
        if number and number % len(corners) == 0:
            page.showPage()
        page.saveState()
        page.translate(*corners[number % len(corners)])
        _draw(page, label, on)
        page.restoreState()
    page.save()
    return file.getvalue()


def _draw(page: Any, label: PartLabel, on: Form) -> None:
    """One label: its rows, and a QR code of order, part and number."""
    (width, height), edge = on.label, on.edge
    code = f"{plain(label.order)}|{plain(label.part)}|{label.pieces}"
    quiet = _QUIET / qr_modules(code)
    side = min(height - 2 * edge, height / (1 + 2 * quiet), 0.3 * width)
    quiet *= side
    left = width - max(edge, quiet) - side
    draw_qr(page, code, (left, (height - side) / 2), side)
    _write(page, label, on, left - quiet - edge)


def _write(page: Any, label: PartLabel, on: Form, room: float) -> None:
    """The rows of a label, which may be so wide."""
    lines = [
        (rows, font, share if len(rows) == 1 else _TWO_ROWS)
        for text, font, share in _lines(label)
        for rows in ([rows_in(plain(text), font, room)] if text else [])
    ]
    at = on.label[1] - on.edge
    line = (at - on.edge) / sum(share * len(rows) for rows, _, share in lines)
    for rows, font, share in lines:
        page.setFont(font, letters_for(rows, font, min(_LARGEST, 0.8 * share * line), room))
        for row in rows:
            at -= share * line
            page.drawString(on.edge, at + 0.2 * line, row)


def _lines(label: PartLabel) -> Iterator[tuple[str, str, float]]:
    """Each text with its font and the share of the height that a row of it has."""
    yield label.part, BOLD, 1.3
    yield count(label.pieces, "piece"), BOLD, 1.1
    yield f"Order {label.order}" if label.order else "No order", FONT, 1.0
    yield f"Due {label.due.isoformat()}" if label.due else "", FONT, 0.9
    yield label.metal, FONT, 0.9
    yield "Layout " + ", ".join(map(str, label.layouts)), FONT, 0.9
