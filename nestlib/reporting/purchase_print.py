"""The page of a purchase as a PDF: to print, to sign and to send."""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial
from typing import Any

from reportlab.lib.styles import ParagraphStyle
from reportlab.lib.units import mm
from reportlab.pdfbase.pdfmetrics import stringWidth
from reportlab.platypus import KeepTogether, Paragraph, Spacer, Table

from nestlib.model import MetalPurchase, Purchase
from nestlib.pdf_drawing import BOLD, FONT, register_fonts
from nestlib.reporting import purchase_words as words
from nestlib.reporting.cost_picture import cost_height, draw_costs
from nestlib.reporting.paper import (
    HEAD,
    RULED,
    SMALL,
    SMALL_HEAD,
    SMALL_RIGHT,
    TITLE,
    Sketch,
    cell,
    pages,
    safe,
    text_width,
)
from nestlib.reporting.purchase_page import Chapter, chapters, terms
from nestlib.reporting.purchase_tables import Grid

#: Room between what follows each other.
_GAP = 1.5 * mm

_CHAPTER = ParagraphStyle("chapter", HEAD, keepWithNext=1)

#: Of the letters in tables, with what a cell leaves free beside them, in points.
_LETTERS, _BESIDE = 6.5, 6.0


def purchase_pdf(purchase: Purchase, paper: str = "a4") -> bytes:
    """Return the page of a purchase; the same purchase gives the same file.

    Parameters
    ----------
    purchase : Purchase
        As it was worked out, or as `nestlib.writing.read_purchase` returns it.
    paper : {"a4", "letter"}
        Size of the pages. What finds no room on the first goes on on another.

    Returns
    -------
    bytes
    """
    register_fonts()
    width = text_width(paper)
    story = [Paragraph(cell(words.title(purchase)), TITLE), Paragraph(cell(terms(purchase)), SMALL)]
    story += list(_points("Read this first", tuple(words.notices(purchase))))
    for metal, chapter in zip(purchase.metals, chapters(purchase), strict=True):
        story += _chapter(metal, chapter, purchase.currency, width)
    story += _points("Before you order", words.CAUTIONS)
    return pages(story, words.title(purchase), paper)


def _chapter(metal: MetalPurchase, chapter: Chapter, currency: str, width: float) -> Iterator[Any]:
    yield Spacer(0, 2 * _GAP)
    yield Paragraph(f"{cell(chapter.title)} · {cell(chapter.jobs)}", _CHAPTER)
    yield _figures(chapter, width)
    yield from _grid(chapter.order, width)
    yield from _points("Why", chapter.reasons)
    if chapter.picture:
        paint = partial(draw_costs, metal=metal, currency=currency, width=width)
        head = Paragraph("Cost against the number of formats", SMALL_HEAD)
        yield KeepTogether([Spacer(0, _GAP), head, Sketch(width, cost_height(metal), paint)])
    for table in chapter.tables:
        yield from _grid(table, width)


def _figures(chapter: Chapter, width: float) -> Any:
    """Names above values, side by side."""
    columns = [
        [Paragraph(safe(name), SMALL), Paragraph(safe(value), HEAD), Paragraph(safe(beside), SMALL)]
        for name, value, beside in chapter.figures
    ]
    return Table([columns], [width / len(columns)] * len(columns), style=RULED)


def _grid(grid: Grid, width: float) -> Iterator[Any]:
    yield Spacer(0, _GAP)
    yield Paragraph(safe(grid.title), SMALL_HEAD)
    styles = [SMALL_RIGHT if name.startswith(">") else SMALL for name in grid.columns]
    head = [
        Paragraph(safe(name.removeprefix(">")), style)
        for name, style in zip(grid.columns, styles, strict=True)
    ]
    rows = [
        [Paragraph(cell(text), style) for text, style in zip(row, styles, strict=True)]
        for row in grid.rows
    ]
    if grid.summed:
        strong = [ParagraphStyle("sum", style, fontName=BOLD) for style in styles]
        pairs = zip(grid.rows[-1], strong, strict=True)
        rows[-1] = [Paragraph(cell(text), style) for text, style in pairs]
    style = [*RULED, ("LINEBELOW", (0, 0), (-1, 0), 0.8, "#23292e")]
    yield Table([head, *rows], _widths(grid, width), repeatRows=1, style=style, hAlign="LEFT")
    for note in grid.notes:
        yield Paragraph(safe(note), SMALL)


def _widths(grid: Grid, width: float) -> list[float]:
    """Numbers get what they need, and names share the rest by their longest."""
    font = BOLD if grid.summed else FONT
    needed = [
        max(stringWidth(text, font, _LETTERS) for text in column) + _BESIDE
        for column in zip(tuple(n.removeprefix(">") for n in grid.columns), *grid.rows, strict=True)
    ]
    right = [name.startswith(">") for name in grid.columns]
    fixed = sum(n for n, r in zip(needed, right, strict=True) if r)
    free, texts = max(width - fixed, 0.3 * width), sum(needed) - fixed
    share = (free / texts) if texts else 1.0
    room = min(1.0, (width - free) / fixed) if fixed else 1.0
    return [n * room if r else n * share for n, r in zip(needed, right, strict=True)]


def _points(title: str, points: tuple[str, ...]) -> Iterator[Any]:
    if points:
        yield Spacer(0, _GAP)
        yield Paragraph(safe(title), SMALL_HEAD)
        for point in points:
            yield Paragraph(f"• {safe(point)}", SMALL)
