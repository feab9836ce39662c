"""Shop sheets: a PDF with a page for each layout, for the person at the machine.

What to load, what to cut, what comes off the table and what to watch for, with room to sign.
The QR code says plan and layout, such as ``5f0c1d2e3a4b5c6d/2``. What finds no room on the
page of its layout goes on on another.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from html import escape
from io import BytesIO
from typing import Any

from reportlab.lib.pagesizes import A4, LETTER
from reportlab.lib.styles import ParagraphStyle
from reportlab.lib.units import mm
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import (
    Flowable,
    KeepTogether,
    PageBreak,
    Paragraph,
    SimpleDocTemplate,
    Spacer,
    Table,
)

from nestlib.model import Layout, Plan
from nestlib.pdf_drawing import BOLD, FONT, draw_qr, register_fonts, short
from nestlib.reporting.layout_pdf import draw_layout, height_for, part_numbers
from nestlib.reporting.palette import fill
from nestlib.reporting.texts import count, duration, plain, size

#: Sizes of the pages by name.
PAPERS = {"a4": A4, "letter": LETTER}

#: What reportlab leaves free on each side of the text, in points.
_PADDING = 6.0

#: Characters of a name that are shown.
_LONGEST = 300

#: Where a plan was made in code and brings no cautions; those of `nest` end like this.
_DEFER = (
    "The instructions of the machine's maker, local codes and the practice of licensed people"
    " come first."
)

_EDGE, _QR, _HIGHEST = 12 * mm, 26 * mm, 105 * mm
_TEXT = ParagraphStyle("text", fontName=FONT, fontSize=8, leading=10, splitLongWords=1)
_SMALL = ParagraphStyle("small", _TEXT, fontSize=6.5, leading=8)
_HEAD = ParagraphStyle("head", _TEXT, fontName=BOLD)
_TITLE = ParagraphStyle("title", _HEAD, fontSize=14, leading=18)
_PLAIN = [
    ("VALIGN", (0, 0), (-1, -1), "TOP"),
    ("LEFTPADDING", (0, 0), (-1, -1), 2),
    ("RIGHTPADDING", (0, 0), (-1, -1), 2),
    ("TOPPADDING", (0, 0), (-1, -1), 1),
    ("BOTTOMPADDING", (0, 0), (-1, -1), 1),
]
_RULED = [*_PLAIN, ("LINEBELOW", (0, 0), (-1, -1), 0.3, "#999999")]


def shop_sheets_pdf(plan: Plan, files: Sequence[str], name: str, paper: str = "a4") -> bytes:
    """Return the shop sheets of a plan; the same plan gives the same file.

    Parameters
    ----------
    plan : Plan
        With or without times and verification, which are then said to be missing.
    files : sequence of str
        Name of the DXF file of each layout.
    name : str
        By which the QR codes call the plan.
    paper : {"a4", "letter"}
        Size of the pages.

    Returns
    -------
    bytes

    Raises
    ------
    ValueError
        If there is not one file name for each layout.
    """
    register_fonts()
    file, page = BytesIO(), PAPERS[paper]
    title = f"Shop sheets · {plain(plan.job.title) or 'Nest'}"
    room = {f"{side}Margin": _EDGE for side in ("left", "right", "top", "bottom")}
    document = SimpleDocTemplate(file, pagesize=page, invariant=1, title=title, **room)
    story: list[Any] = []
    for number, (_, own) in enumerate(zip(plan.layouts, files, strict=True)):
        story += [PageBreak()] if story else []
        story += _sheet(plan, number, own, name, document.width - 2 * _PADDING)
    if not story:
        story = [Paragraph(_cell(title), _TITLE), Paragraph("No piece was placed.", _TEXT)]
    document.build(story, canvasmaker=_numbered(title))
    return file.getvalue()


class _Sketch(Flowable):  # type: ignore[misc]
    """Something drawn, of a known size in points."""

    def __init__(self, width: float, height: float, paint: Callable[[Any], None]) -> None:
        super().__init__()
        self.width, self.height, self.paint = width, height, paint

    def draw(self) -> None:
        """Draw it where it has come to lie."""
        self.paint(self.canv)


def _numbered(title: str) -> type[Any]:
    """A canvas that ends each page with its number of all, known only once all are there."""

    class Numbered(Canvas):  # type: ignore[misc]
        def __init__(self, *args: Any, **options: Any) -> None:
            super().__init__(*args, **options)
            self.pages: list[dict[str, Any]] = []

        def showPage(self) -> None:  # noqa: N802
            self.pages.append(dict(self.__dict__))
            self._startPage()

        def save(self) -> None:
            pages = self.pages
            for number, page in enumerate(pages, start=1):
                self.__dict__.update(page)
                wide = self._pagesize[0] - 2 * _EDGE
                self.setFont(FONT, 6.5)
                self.drawString(_EDGE, 6 * mm, short(title, FONT, 6.5, 0.8 * wide))
                self.drawRightString(_EDGE + wide, 6 * mm, f"Page {number} of {len(pages)}")
                super().showPage()
            super().save()

    return Numbered


def _sheet(plan: Plan, number: int, file: str, name: str, width: float) -> Iterator[Any]:
    """All that the page of a layout shows, from top to bottom."""
    layout, job = plan.layouts[number], plan.job
    yield _head(plan, number, file, f"{name}/{number + 1}", width)
    high = height_for(layout.sheet, width, _HIGHEST)
    yield _Sketch(width, high, lambda page: draw_layout(page, layout, job, width, high))
    yield _grid(list(facts(plan, number)), width)
    yield Spacer(0, 2 * mm)
    yield _parts(plan, layout, width)
    yield Spacer(0, 2 * mm)
    yield from _warned(plan, layout)
    yield Spacer(0, 2 * mm)
    yield KeepTogether(_sign_off(layout, width))


def _head(plan: Plan, number: int, file: str, code: str, width: float) -> Any:
    of = f"Layout {number + 1} of {len(plan.layouts)}: {file}"
    runs = count(plan.layouts[number].runs, "sheet")
    words = [
        Paragraph(_cell(plan.job.title or "Nest"), _TITLE),
        Paragraph(_cell(of), _HEAD),
        Paragraph(f"Cut {runs} this way. {_verified(plan)}", _TEXT),
        Paragraph(f"Plan {_cell(code)}", _TEXT),
    ]
    qr = _Sketch(_QR, _QR, lambda page: draw_qr(page, code, (0, 0), _QR))
    return Table([[words, qr]], [width - _QR - 6 * mm, _QR + 6 * mm], style=_PLAIN)


def _verified(plan: Plan) -> str:
    check = plan.verification
    if check is None:
        return "Not verified."
    if check.passed:
        return "Verified from the written files."
    return f"NOT TO BE CUT: {count(len(check.violations), 'rule')} broken, see the report."


def facts(plan: Plan, number: int) -> Iterator[tuple[str, str]]:
    """Yield name and value of what has to be known before a layout is cut.

    Parameters
    ----------
    plan : Plan
        The plan.
    number : int
        Of the layout, counted from 0.
    """
    layout, job, metal = plan.layouts[number], plan.job, plan.job.metal
    sheet, setting = layout.sheet, job.machine.setting(metal.material.family, metal.thickness)
    gauge = f" ({metal.gauge})" if metal.gauge else ""
    yield "Load", f"{sheet.name}{', remnant' if sheet.remnant else ''}"
    yield "Size", size(*sheet.size)
    yield "Rack label", _with_hold(sheet.item, plan.hold)
    yield "Heat number", sheet.heat or "not stated"
    yield "Metal", metal.material.title
    yield "Thickness", f"{metal.thickness:g} mm{gauge}"
    yield "Sheet weighs", f"{metal.weight(sheet.area):.1f} kg"
    yield "Grain", f"{sheet.grain:g}°, counter-clockwise from the x axis"
    yield "Machine", job.machine.title
    yield "Gas", setting.gas if setting else "not stated"
    yield "Kerf", f"{job.spacing.kerf:g} mm"
    yield "Runs", str(layout.runs)
    yield from _times(plan, number)
    yield "Micro-joints on a sheet", str(layout.path.joints)
    yield "Pierces on a sheet", str(layout.path.pierces)
    yield "Keep", ", ".join(remnant.name for remnant in layout.remnants) or "no remnant"


def _with_hold(item: str, hold: str) -> str:
    if not item:
        return "not from the rack"
    return f"{item}, held for {hold}" if hold else item


def _times(plan: Plan, number: int) -> Iterator[tuple[str, str]]:
    seconds = plan.work.layouts[number].seconds if plan.work else None
    runs = plan.layouts[number].runs
    yield "Time for a sheet, estimate", duration(seconds)
    yield "Time for all, estimate", duration(None if seconds is None else seconds * runs)


def _grid(pairs: list[tuple[str, str]], width: float) -> Any:
    """Names and values in two columns, read down."""
    half, styles = (len(pairs) + 1) // 2, (_HEAD, _TEXT) * 2
    left, right = pairs[:half], [*pairs[half:], ("", "")][:half]
    rows = [
        [Paragraph(_cell(cell), style) for cell, style in zip((*a, *b), styles, strict=True)]
        for a, b in zip(left, right, strict=True)
    ]
    return Table(rows, [0.17 * width, 0.33 * width, 0.25 * width, 0.25 * width], style=_RULED)


def _parts(plan: Plan, layout: Layout, width: float) -> Any:
    """Each part with its number, on the colour that its pieces have in the drawing."""
    head = [Paragraph(t, _HEAD) for t in ("No.", "Part", "On a sheet", "In all", "Orders")]
    rows = [head]
    for name, number in part_numbers(layout, plan.job).items():
        here = layout.counts[name]
        orders = ", ".join(f"{o.line} ({o.quantity})" for o in plan.job.part(name).orders)
        cells = (number, name, here, here * layout.runs, orders)
        rows.append([Paragraph(_cell(cell), _TEXT) for cell in cells])
    widths = [share * width for share in (0.07, 0.4, 0.13, 0.1, 0.3)]
    numbers = part_numbers(layout, plan.job).values()
    fills = [("BACKGROUND", (0, i), (0, i), fill(n - 1)[0]) for i, n in enumerate(numbers, start=1)]
    return Table(rows, widths, repeatRows=1, style=[*_RULED, *fills])


def _warned(plan: Plan, layout: Layout) -> Iterator[Any]:
    """What to watch for on this layout first, then what holds for the metal and the gas."""
    yield Paragraph("Watch for", _HEAD)
    for warning in layout.path.warnings:
        yield Paragraph(_safe(warning), _TEXT)
    for caution in plan.cautions or (_DEFER,):
        yield Paragraph(_safe(caution), _SMALL)


def _sign_off(layout: Layout, width: float) -> Any:
    """Room for what really happened."""
    names = ("Sheet and heat number loaded", f"Sheets cut (of {layout.runs})", "Pieces scrapped")
    signed = ("Operator", "Date and time", "Signature")
    rows = [[Paragraph(text, _SMALL) for text in row] for row in (names, signed)]
    style = [*_PLAIN, ("GRID", (0, 0), (-1, -1), 0.6, "#23292e")]
    return Table(rows, [width / 3] * 3, rowHeights=[11 * mm] * 2, style=style)


def _cell(text: object) -> str:
    """A text for a row, which cannot be higher than a page."""
    told = plain(text)
    return escape(told if len(told) <= _LONGEST else f"{told[:_LONGEST]}…")


def _safe(text: object) -> str:
    """A text that a paragraph takes as it is."""
    return escape(plain(text))
