"""The page of a purchase in a real browser: both themes, paper, names that spoil."""

from __future__ import annotations

import re

import pypdfium2
import pytest

from nestlib.reporting import purchase_html
from tests.reporting import bought
from tests.reporting.browser.tab import opened
from tests.reporting.browser.test_for_everybody import RULES


@pytest.fixture(scope="module")
def address(tmp_path_factory):
    """The page as a file, as people open it."""
    path = tmp_path_factory.mktemp("order") / "purchase.html"
    path.write_text(purchase_html(bought.purchase()), encoding="utf-8")
    return path.as_uri()


@pytest.mark.parametrize("theme", ["light", "dark"])
def test_it_is_accessible_in_both_themes(chromium, address, theme):
    """axe-core finds nothing, contrast included; it asks for nothing and says nothing."""
    axe = pytest.importorskip("axe_core_python.sync_playwright")
    with opened(chromium, address, color_scheme=theme) as page:
        found = axe.Axe().run(page, options={"runOnly": RULES})
        assert [(v["id"], [n["html"] for n in v["nodes"]]) for v in found["violations"]] == []
        assert "color-contrast" in {rule["id"] for rule in found["passes"]}
        paper = page.evaluate("getComputedStyle(document.body).backgroundColor")
        dark = max(int(v) for v in re.findall(r"\d+", paper)) < 100
        assert dark == (theme == "dark")


def test_names_do_nothing(chromium, address):
    """They stand there as text: no element comes from them, and no script is there at all."""
    with opened(chromium, address) as page:
        assert page.locator("script, b, i").count() == 0
        text = page.locator("body").inner_text()
        for name in (bought.LARGE, "wide <b>sign</b>", "coil <i>1500</i>"):
            assert name in text


def test_it_is_whole_without_scripts_and_prints(chromium, address):
    """On A4 (ISO 216), within its width, in light colours, with the order list and the sum."""
    with opened(chromium, address, java_script_enabled=False, color_scheme="dark") as page:
        document = pypdfium2.PdfDocument(page.pdf(format="A4"))
        text = " ".join(sheet.get_textpage().get_text_range() for sheet in document)
        document.close()
    assert "558.43 EUR" in text
    with opened(chromium, address, color_scheme="dark") as page:
        page.emulate_media(media="print")
        page.set_viewport_size({"width": int((210 - 24) / 25.4 * 96), "height": 900})
        assert page.evaluate(
            "document.documentElement.scrollWidth <= document.documentElement.clientWidth"
        )
        white = page.evaluate("getComputedStyle(document.body).backgroundColor")
        assert white == "rgb(255, 255, 255)"
