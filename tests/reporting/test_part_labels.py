"""Labels of parts as others read them: PDFium for text, ZXing for the code."""

from __future__ import annotations

from datetime import date

import numpy as np
import pypdfium2
import pytest
import zxingcpp
from nestlib_cli.report import report

from nestlib.reporting.part_labels import FORMS, PartLabel, part_labels_pdf

LABEL = PartLabel("clamp arm", 4, "4711/10", date(2030, 5, 1), "Mild steel 2 mm", (1, 3))


@pytest.mark.parametrize("form", FORMS)
def test_a_label_says_what_for_whom_and_how_many(form):
    """On every form, with a code that holds the same."""
    page = pypdfium2.PdfDocument(part_labels_pdf([LABEL], form))[0]
    text = page.get_textpage().get_text_range()
    for words in (
        "clamp arm",
        "4 pieces",
        "Order 4711/10",
        "Mild steel 2 mm",
        "1, 3",
        "Due 2030-05-01",
    ):
        assert words in text
    picture = np.array(page.render(scale=4).to_pil().convert("L"))
    assert [found.text for found in zxingcpp.read_barcodes(picture)] == ["4711/10|clamp arm|4"]


@pytest.mark.parametrize("form", FORMS)
def test_labels_lie_side_by_side_on_the_page(form):
    """All on the page, and none on another."""
    on = FORMS[form]
    corners = list(on.corners())
    assert len(corners) == on.columns * on.rows
    for x, y in corners:
        assert 0 <= x <= x + on.label[0] <= on.page[0] + 0.01
        assert -0.01 <= y <= y + on.label[1] <= on.page[1] + 0.01
    apart = [
        abs(a[0] - b[0]) >= on.label[0] - 0.01 or abs(a[1] - b[1]) >= on.label[1] - 0.01
        for i, a in enumerate(corners)
        for b in corners[:i]
    ]
    assert all(apart)


def test_more_labels_take_more_pages():
    """25 labels on sheets of 24 take two."""
    assert len(pypdfium2.PdfDocument(part_labels_pdf([LABEL] * 25, "a4-24"))) == 2


def test_the_command_offers_every_form():
    """It lists them itself, so that its help answers at once."""
    (option,) = [o for o in report.params if o.name == "labels"]
    assert list(option.type.choices) == list(FORMS)
