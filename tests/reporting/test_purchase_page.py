"""The page of a purchase as others read it: PDFium for the PDF, the HTML as text.

Every figure that has to be there is worked out here from the record, not by the page's code.
"""

from __future__ import annotations

import json
import re
from dataclasses import replace
from html import unescape

import pypdfium2
import pytest

from nestlib.model import Asked
from nestlib.reporting import purchase_html, purchase_pdf
from nestlib.writing import buy_record, purchase_from_record
from tests.reporting import bought


@pytest.fixture(scope="module")
def record():
    """As it stands in buy.json."""
    return json.loads(json.dumps(buy_record(bought.purchase())))


def _pages(purchase, paper="a4"):
    return list(pypdfium2.PdfDocument(purchase_pdf(purchase, paper)))


def _plain(text):
    """Without line ends and soft hyphens at them, so that words can be looked for."""
    return " ".join(re.sub(r"[￾\xad]", "", text).split())


def _pdf_text(purchase):
    return _plain(" ".join(page.get_textpage().get_text_range() for page in _pages(purchase)))


def _html_text(purchase):
    body = purchase_html(purchase).split("<main>")[1]
    return _plain(unescape(re.sub(r"<[^>]*>", " ", body)))


def _figures(record):
    """What the record says, as people write it."""
    yield from record["notes"]
    money = f"{{:.2f}} {record['currency']}".format
    for metal in record["metals"]:
        yield money(metal["paid"])
        yield money(metal["cost"])
        yield money(metal["bound"]["cost"])
        yield f"{100 * metal['bound']['gap']:.1f} %"
        yield f"{100 * metal['utilisation']:.1f} %"
        yield f"{metal['weight']:.1f} kg"
        for line in metal["order"]:
            if line["sheets"]:
                yield money(line["amount"])
                yield f"{line['length']:g} × {line['width']:g} mm"
                yield f"{line['weight']:.1f} kg"
                yield line["order_by"]
            if line["pack"] > 1:
                yield f"{line['sheets'] // line['pack']} of {line['pack']}"
        for asked in (*metal["at_most"], *metal["alone"], *metal["without"]):
            if asked["cost"] is None:
                yield "cannot make all pieces"
            else:
                yield money(asked["cost"])
                yield f"+{asked['cost'] - metal['cost']:.2f}" if asked["order"][1:] == [] else ""
        for row in metal["services"]:
            yield f"{100 * row['service']:.1f} %"
            yield f"{100 * row['short']:.1f} % ± {100 * row['standard_error']:.1f} %"
            yield money(row["expected_cost"])
        if metal["schedule"]:
            for key in ("cost", "paid", "deliveries", "storage", "week_by_week"):
                yield money(metal["schedule"][key])
            for week in metal["schedule"]["weeks"]:
                yield week["week"]
                yield f"{week['parts_kept']:.1f} kg"
        for layout in metal["layouts"]:
            yield f"{100 * layout['utilisation']:.1f} %"
            yield f"{sum(layout['pieces'].values())} "
        for missing in metal["unplaced"]:
            yield f"{missing['quantity']} pieces of {missing['part']}: {missing['reason']}."
        yield from metal["notes"]


@pytest.mark.parametrize("text_of", [_pdf_text, _html_text])
def test_the_page_tells_what_the_record_does(record, text_of):
    """Made from the record alone: order, bound, alternatives, chance, weeks, leftovers."""
    text = text_of(purchase_from_record(record))
    for words in _figures(record):
        assert words in text, words
    assert f"{4 * 112.10 + 65.03 + 45:.2f} EUR" in text  # paid: sheets and delivery, by hand
    for words in ("Delivery", "Stopped early", "742.1 × 1250 mm", "none worth keeping",
                  "a cheaper one is not ruled out", "local codes", "2030-W16"):  # fmt: skip
        assert words in text, words


@pytest.mark.parametrize("text_of", [_pdf_text, _html_text])
def test_it_says_what_could_be_saved(text_of):
    """By hand: of 473.41, with no order below 413.77, 59.64 or 12.6 %; of the other nothing."""
    text = text_of(bought.purchase())
    assert f"at most {100 * 59.64 / 473.41:.1f} % of the cost could be saved" in text
    assert text.count("could be saved") == 1
    assert "the order costs no more" in text


@pytest.mark.parametrize("text_of", [_pdf_text, _html_text])
def test_it_says_why(text_of):
    """The best, with fewer formats, without each format, and how much dearer each is: by hand."""
    text = text_of(bought.purchase())
    more = f"{499.99 - 473.41:.2f} EUR more"
    for words in (
        f"4 × {bought.LARGE} + 1 × small, at a cost of 473.41 EUR",
        f"With at most 1 format: 5 × {bought.LARGE}, which costs {more}.",
        f"If small cannot be had: 5 × {bought.LARGE}, which costs {more}.",
        f"If {bought.LARGE} cannot be had, not all pieces can be made.",
        "suffices with a chance of 95.0 %; any of them is short with one of 5.7 % ± 0.1 %",
        f"{499.99:.2f} EUR ?",
    ):
        assert words in text, words


def test_an_order_of_one_metal_is_one_page():
    """A4 (ISO 216) or Letter (ANSI/ASME Y14.1), with all that was asked about it."""
    purchase = bought.purchase()
    single = replace(purchase, metals=purchase.metals[:1])
    for paper, size in (("a4", (210 / 25.4 * 72, 297 / 25.4 * 72)), ("letter", (612, 792))):
        (page,) = _pages(single, paper)
        assert page.get_size() == pytest.approx(size, abs=0.01)
        assert "Page 1 of 1" in page.get_textpage().get_text_range()


def test_fonts_are_embedded():
    """No reader has to have them."""
    fonts = [
        item.get_font()
        for page in _pages(bought.purchase())
        for item in page.get_objects(max_depth=5)
        if isinstance(item, pypdfium2.PdfTextObj)
    ]
    assert len({font.get_base_name() for font in fonts}) == 2
    assert all(font.is_embedded for font in fonts)


def test_the_same_purchase_gives_the_same_files():
    """So that nothing seems to have changed where nothing has."""
    one, other = bought.purchase(), bought.purchase()
    assert purchase_pdf(one) == purchase_pdf(other)
    assert purchase_html(one) == purchase_html(other)


def test_long_lists_and_names_go_on_on_other_pages():
    """No line of 120 is left out, whatever things are called."""
    purchase = bought.purchase()
    steel = purchase.metals[0]
    lines = tuple(replace(steel.lines[0], format=f"format {i:03d} {'x' * 400}") for i in range(120))
    pages = _pages(replace(purchase, metals=(replace(steel, lines=lines),)))
    text = " ".join(page.get_textpage().get_text_range() for page in pages)
    assert len(pages) > 1
    assert all(f"format {i:03d}" in text for i in range(120))


def test_what_is_at_hand_may_suffice():
    """Then there is nothing to order and nothing to choose."""
    purchase = bought.purchase()
    at_hand = (replace(purchase.metals[0].lines[2], at_hand=9, used=9),)
    steel = replace(purchase.metals[0], lines=at_hand, by_number=(Asked("", (), 2000),), alone=(),
                    missing=(), paid=0, cost=2000, bound=2000)  # fmt: skip
    text = _html_text(replace(purchase, metals=(steel,)))
    assert "Nothing has to be ordered: what is at hand suffices." in text
    assert "Alternatives" not in text


def test_nothing_to_order_is_a_page_too():
    """Everything at hand, nothing asked."""
    purchase = bought.purchase()
    steel = replace(purchase.metals[0], lines=(), layouts=(), by_number=(), alone=(), missing=(),
                    services=(), schedule=None, paid=0, cost=0, bound=0)  # fmt: skip
    empty = replace(purchase, metals=(steel,), stopped=False)
    assert "To pay" in _pdf_text(empty)
    assert "No leftover worth keeping" in _html_text(empty)


def test_bars_are_as_long_as_their_costs():
    """And the line stands at the bound: the SVG's own figures, in proportion."""
    html = purchase_html(bought.purchase())
    bars = [float(w) for w in re.findall(r'<rect class="(?:bar|best)"[^>]*width="([\d.]+)"', html)]
    assert bars[1] / bars[0] == pytest.approx(473.41 / 499.99, abs=1e-3)
    left = float(re.search(r'<rect class="best" x="([\d.]+)"', html)[1])
    bound = float(re.search(r'class="bound" d="M([\d.]+)', html)[1])
    assert (bound - left) / bars[0] == pytest.approx(413.77 / 499.99, abs=1e-3)
