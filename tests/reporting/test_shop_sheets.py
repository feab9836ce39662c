"""Shop sheets as others read them: PDFium for text, lines and picture, ZXing for the code."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pypdfium2
import pytest
import zxingcpp

from nestlib.model import Contour, OrderLine, Part
from nestlib.reporting import shop_sheets_pdf

CODE = "5f0c1d2e3a4b5c6d"


def _pages(plan, paper: str = "a4") -> list[pypdfium2.PdfPage]:
    files = [f"sheet-{n:03d}.dxf" for n in range(1, len(plan.layouts) + 1)]
    return list(pypdfium2.PdfDocument(shop_sheets_pdf(plan, files, CODE, paper)))


def _text(page: pypdfium2.PdfPage) -> str:
    return " ".join(page.get_textpage().get_text_range().split())


@pytest.mark.parametrize(
    ("paper", "width", "height"),
    # ISO 216 and ANSI/ASME Y14.1 sizes.
    [("a4", 210 / 25.4 * 72, 297 / 25.4 * 72), ("letter", 8.5 * 72, 11 * 72)],
)
def test_there_is_a_page_for_each_layout(plan, paper, width, height):
    """Of the size that was asked for, with a code that says plan and layout."""
    plan = replace(plan, layouts=plan.layouts * 3)
    pages = _pages(plan, paper)
    assert len(pages) == 3
    for number, page in enumerate(pages, start=1):
        assert page.get_size() == pytest.approx((width, height), abs=0.01)
        picture = np.array(page.render(scale=3).to_pil().convert("L"))
        assert [found.text for found in zxingcpp.read_barcodes(picture)] == [f"{CODE}/{number}"]
        assert f"Page {number} of 3" in _text(page)


def test_the_page_says_what_to_load_and_what_comes_off(plan):
    """As text that can be selected; names are text whatever they hold."""
    parts = tuple(
        replace(p, orders=(OrderLine("4711/10", 2),)) if p.name == "clamp arm" else p
        for p in plan.job.parts
    )
    sheet = replace(plan.layouts[0].sheet, item="R12", grain=90.0)
    layout = replace(plan.layouts[0], sheet=sheet)
    plan = replace(
        plan, job=replace(plan.job, parts=parts), layouts=(layout,), hold="stands-bb6da66e"
    )
    text = _text(_pages(plan)[0])
    for words in (
        "Layout 1 of 1: sheet-001.dxf",
        "Cut 2 sheets this way. Verified",
        "400 × 200 mm",
        "R12, held for stands-bb6da66e",
        "H-17",
        "Mild steel",
        "oxygen",
        "90°, counter-clockwise from the x axis",
        "Micro-joints on a sheet",
        "1 clamp arm 2 4 4711/10 (2)",
        "remnant-001",
        "no room for a lead on",
        "Edges are sharp",
        '<script>alert("x")</script>&[red]',
        "Signature",
    ):
        assert words in text, words


def test_a_plan_that_breaks_a_rule_says_so_first(plan, broken):
    """And one that nobody has checked does too."""
    assert "NOT TO BE CUT: 60 rules broken" in _text(_pages(broken)[0])
    assert "Not verified." in _text(_pages(replace(plan, verification=None))[0])


def test_fonts_are_embedded(plan):
    """No reader has to have them."""
    fonts = [
        item.get_font()
        for item in _pages(plan)[0].get_objects(max_depth=5)
        if isinstance(item, pypdfium2.PdfTextObj)
    ]
    assert len({font.get_base_name() for font in fonts}) == 2
    assert all(font.is_embedded for font in fonts)


def test_what_finds_no_room_goes_on_on_another_page(plan):
    """Not one of 150 parts is left out, and the room to sign comes once."""
    extra = [Part(f"plate {i:03d}", Contour.rectangle(1, 1)) for i in range(150)]
    spots = [replace(plan.layouts[0].placements[0], part=part.name) for part in extra]
    layout = replace(plan.layouts[0], placements=tuple(spots))
    plan = replace(plan, job=replace(plan.job, parts=tuple(extra)), layouts=(layout,))
    pages = _pages(plan)
    text = " ".join(_text(page) for page in pages)
    assert len(pages) > 1
    assert all(part.name in text for part in extra)
    assert text.count("Signature") == 1
    assert f"Page {len(pages)} of {len(pages)}" in text


def test_endless_names_are_cut_off(plan):
    """A page is written whatever things are called."""
    name = "very " * 2000
    parts = tuple(replace(part, orders=(OrderLine(name, 1),)) for part in plan.job.parts)
    layout = replace(plan.layouts[0], sheet=replace(plan.layouts[0].sheet, name=name, heat=name))
    plan = replace(plan, job=replace(plan.job, title=name, parts=parts), layouts=(layout,))
    assert "very very …" in " ".join(_text(page) for page in _pages(plan)).replace(
        "very…", "very …"
    )


def test_the_table_shows_the_colour_of_the_pieces(plan):
    """Pieces too small for a number can still be told by it."""
    arms = replace(plan.layouts[0], placements=plan.layouts[0].placements[:2])
    (page,) = _pages(replace(plan, layouts=(arms,)))
    picture = np.array(page.render(scale=2).to_pil().convert("RGB"))
    below = picture[len(picture) // 2 :]
    assert (below == (0x77, 0xAA, 0xDD)).all(axis=2).sum() > 500
