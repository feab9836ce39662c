"""Labels as others read them: PDFium for text and picture, ZXing for the QR code."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pypdfium2
import zxingcpp

from nestlib.model import Contour
from nestlib.stock.label import label_pdf


def test_a_label_can_be_scanned_read_and_seen(rack, sheet):
    """The code holds the number, the text can be selected, holes are white in the outline."""
    hole = Contour.circle((500, 250), 200)
    place = "Regal Süd 3, ganz unten hinter der Tafelschere, zweites Fach"
    rack.receive(sheet, 1)
    rack.receive(replace(sheet, holes=(hole,), remnant=True, place=place), 1)
    outlines = rack.outlines([1, 2])
    pdf = label_pdf([(rack.item(n), outlines[n]) for n in (1, 2)])
    pages = list(pypdfium2.PdfDocument(pdf))
    assert len(pages) == 2
    for page, code in zip(pages, ("S1", "R2"), strict=True):
        picture = np.array(page.render(scale=3).to_pil().convert("L"))
        assert [found.text for found in zxingcpp.read_barcodes(picture)] == [code]
        told = page.get_textpage().get_text_range()
        for words in (code, "mild-steel 2 mm", "1000 x 500 mm", "H4711", "EN 10204 3.1", "L7"):
            assert words in told
    assert place in told.replace("\r\n", " ")
    grey = [int((np.array(p.render(scale=3).to_pil().convert("L")) == 230).sum()) for p in pages]
    # The same outline at the same size, but for the disc: 1 - π 200² / (1000 · 500).
    assert abs(grey[1] / grey[0] - (1 - np.pi * 200**2 / 5e5)) < 0.02


def test_fonts_are_embedded(rack, sheet):
    """No reader has to have them."""
    rack.receive(sheet, 1)
    pdf = label_pdf([(rack.item(1), rack.outlines([1])[1])])
    fonts = {
        item.get_font().get_base_name(): item.get_font().is_embedded
        for item in pypdfium2.PdfDocument(pdf)[0].get_objects()
        if isinstance(item, pypdfium2.PdfTextObj)
    }
    assert len(fonts) == 2
    assert all(fonts.values())
