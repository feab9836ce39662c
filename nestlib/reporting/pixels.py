"""A layout as a picture of pixels, made from the page of a PDF, so with its own letters."""

from __future__ import annotations

from io import BytesIO

import pypdfium2
from reportlab.pdfgen.canvas import Canvas

from nestlib.model import Job, Layout
from nestlib.pdf_drawing import register_fonts
from nestlib.reporting.layout_pdf import draw_layout, height_for

#: Width of the page in points, and how much higher than wide it may be.
_WIDTH, _SLENDER = 800.0, 4.0


def layout_png(layout: Layout, job: Job, width: int = 1600) -> bytes:
    """Draw a layout as a PNG.

    Parameters
    ----------
    layout : Layout
        What is drawn.
    job : Job
        Holds the parts.
    width : int
        In pixels; the height is as the sheet needs it.

    Returns
    -------
    bytes
    """
    register_fonts()
    page, height = BytesIO(), height_for(layout.sheet, _WIDTH, _SLENDER * _WIDTH)
    canvas = Canvas(page, pagesize=(_WIDTH, height), invariant=1)
    draw_layout(canvas, layout, job, _WIDTH, height)
    canvas.save()
    picture = BytesIO()
    with pypdfium2.PdfDocument(page.getvalue()) as document:
        document[0].render(scale=width / _WIDTH).to_pil().save(picture, "PNG")
    return picture.getvalue()
