"""Labels of parts as others read them: PDFium for text, ZXing for the code."""

from __future__ import annotations

from dataclasses import replace
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


def _written(label, form):
    """What PDFium reads on a label, white space left out."""
    text = pypdfium2.PdfDocument(part_labels_pdf([label], form))[0].get_textpage()
    return "".join(text.get_text_range().split())


@pytest.mark.parametrize("form", FORMS)
def test_names_that_differ_at_their_end_are_told_apart(form):
    """Long ones stand on two rows, whole."""
    order = "ORDER-2031-0000000000000"
    for end in "12":
        name, number = f"Träger groß ø8, links, verzinkt-{end}", f"{order}/{end}"
        told = _written(replace(LABEL, part=name, order=number), form)
        assert "".join(name.split()) in told
        assert number in told


@pytest.mark.parametrize("form", FORMS)
def test_of_names_that_are_too_long_the_middle_is_left_out(form):
    """Of a name of 200 letters both ends stay, and no letter runs into the code or off the
    label (by PDFium's boxes)."""
    name = f"begin{'x' * 190}-e17"
    told = _written(replace(LABEL, part=name, order=name), form)
    assert told.count("begin") == 2 == told.count("-e17")
    page = pypdfium2.PdfDocument(part_labels_pdf([replace(LABEL, part=name)], form))[0]
    text = page.get_textpage()
    right = max(text.get_charbox(i)[2] for i in range(text.count_chars()))
    assert right < FORMS[form].corner[0] + 0.75 * FORMS[form].label[0]


def _dark(form, labels, scale):
    """Where PDFium draws a page dark."""
    page = pypdfium2.PdfDocument(part_labels_pdf(labels, form))[0]
    return np.array(page.render(scale=scale).to_pil().convert("L")) < 128


def test_nothing_is_printed_at_the_edge_of_the_page():
    """On sheets 5 mm stay white, where few printers print (common practice, no source)."""
    for form in ("a4-24", "letter-30"):
        dark = _dark(form, [LABEL] * 30, 4)
        edge = int(5 / 25.4 * 72 * 4)
        assert dark.any()
        inside = dark[edge:-edge, edge:-edge]
        assert inside.any()
        assert inside.sum() == dark.sum()


@pytest.mark.parametrize("form", FORMS)
@pytest.mark.parametrize("order", ["1", "ORDER-2031-0000000000000/1 of the year"])
def test_the_code_has_its_quiet_zone(form, order):
    """4 modules on each side within its label: ISO/IEC 18004; the number of modules is that of
    the finder pattern, 7 wide, as drawn."""
    label, scale = replace(LABEL, order=order), 8
    (x, y), (wide, high) = next(FORMS[form].corners()), FORMS[form].label
    top = int((FORMS[form].page[1] - y - high) * scale)
    dark = _dark(form, [label], scale)
    dark = dark[top : top + int(high * scale), int(x * scale) : int((x + wide) * scale)]
    (found,) = zxingcpp.read_barcodes(np.where(dark, 0, 255).astype(np.uint8))
    at = found.position
    left, upper, right, lower = at.top_left.x, at.top_left.y, at.top_right.x, at.bottom_left.y
    edge = np.flatnonzero(~dark[upper + 2, left + 2 :])[0] + 2
    quiet = int(4 * edge / 7) - 2
    assert min(upper, left, dark.shape[0] - lower, dark.shape[1] - right) >= quiet
    around = dark[upper - quiet : lower + quiet, left - quiet : right + quiet].copy()
    around[quiet - 2 : -quiet + 2, quiet - 2 : -quiet + 2] = False
    assert not around.any()


def test_more_labels_take_more_pages():
    """25 labels on sheets of 24 take two."""
    assert len(pypdfium2.PdfDocument(part_labels_pdf([LABEL] * 25, "a4-24"))) == 2


def test_the_command_offers_every_form():
    """It lists them itself, so that its help answers at once."""
    (option,) = [o for o in report.params if o.name == "labels"]
    assert list(option.type.choices) == list(FORMS)
