"""Pages to print, put together from tables, paragraphs and drawings: sizes, letters, numbers."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from html import escape
from io import BytesIO
from typing import Any

from reportlab.lib.enums import TA_RIGHT
from reportlab.lib.pagesizes import A4, LETTER
from reportlab.lib.styles import ParagraphStyle
from reportlab.lib.units import mm
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import Flowable, SimpleDocTemplate

from nestlib.pdf_drawing import BOLD, FONT, short
from nestlib.reporting.texts import plain

#: Sizes of the pages by name.
PAPERS = {"a4": A4, "letter": LETTER}

#: Left free at each edge of the page, in points.
_EDGE: float = 12 * mm

#: What reportlab leaves free on each side of the text, in points.
_PADDING = 6.0

#: Characters of a name that are shown.
_LONGEST = 300

TEXT = ParagraphStyle("text", fontName=FONT, fontSize=8, leading=10, splitLongWords=1)
SMALL = ParagraphStyle("small", TEXT, fontSize=6.5, leading=8)
SMALL_RIGHT = ParagraphStyle("small right", SMALL, alignment=TA_RIGHT)
SMALL_HEAD = ParagraphStyle("small head", SMALL, fontName=BOLD, keepWithNext=1)
HEAD = ParagraphStyle("head", TEXT, fontName=BOLD)
TITLE = ParagraphStyle("title", HEAD, fontSize=14, leading=18)

#: Tables without lines, and with a line below each row.
PLAIN = [
    ("VALIGN", (0, 0), (-1, -1), "TOP"),
    ("LEFTPADDING", (0, 0), (-1, -1), 2),
    ("RIGHTPADDING", (0, 0), (-1, -1), 2),
    ("TOPPADDING", (0, 0), (-1, -1), 1),
    ("BOTTOMPADDING", (0, 0), (-1, -1), 1),
]
RULED = [*PLAIN, ("LINEBELOW", (0, 0), (-1, -1), 0.3, "#999999")]


class Sketch(Flowable):  # type: ignore[misc]
    """Something drawn, of a known size in points.

    Parameters
    ----------
    width, height : float
        Its size.
    paint : callable
        Draws it on a canvas whose origin is its lower left corner.
    """

    def __init__(self, width: float, height: float, paint: Callable[[Any], None]) -> None:
        super().__init__()
        self.width, self.height, self.paint = width, height, paint

    def draw(self) -> None:
        """Draw it where it has come to lie."""
        self.paint(self.canv)


def text_width(paper: str) -> float:
    """Return how wide tables and drawings may be, in points.

    Parameters
    ----------
    paper : str
        One of `PAPERS`.
    """
    return float(PAPERS[paper][0]) - 2 * _EDGE - 2 * _PADDING


def pages(story: Sequence[Any], title: str, paper: str) -> bytes:
    """Return a PDF with numbered pages; the same story gives the same file.

    Parameters
    ----------
    story : sequence of reportlab.platypus.Flowable
        What follows each other, made after `nestlib.pdf_drawing.register_fonts`.
    title : str
        Of the document, and at the foot of each page.
    paper : str
        One of `PAPERS`.
    """
    file = BytesIO()
    room = {f"{side}Margin": _EDGE for side in ("left", "right", "top", "bottom")}
    document = SimpleDocTemplate(file, pagesize=PAPERS[paper], invariant=1, title=title, **room)
    document.build(list(story), canvasmaker=_numbered(title))
    return file.getvalue()


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


def cell(text: object) -> str:
    """Return a text for a row, which cannot be higher than a page."""
    told = plain(text)
    return escape(told if len(told) <= _LONGEST else f"{told[:_LONGEST]}…")


def safe(text: object) -> str:
    """Return a text that a paragraph takes as it is."""
    return escape(plain(text))
