"""The report for everybody: both themes, keyboard, screen readers, paper, no scripts."""

from __future__ import annotations

import re
import unicodedata
from itertools import pairwise

import pypdfium2
import pytest

from tests.reporting.browser.tab import control, opened

#: What WCAG 2 and common practice ask of a page, by the names that axe-core gives them.
RULES = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]

CONTROLS = "button:visible, select:visible, input:visible, a:visible, [tabindex='0']:visible"


def test_without_scripts_it_is_complete_and_shows_no_dead_controls(chromium, address):
    """Drawings, figures and tables are there; what needs a script is hidden."""
    with opened(chromium, address, java_script_enabled=False) as page:
        assert page.locator(".canvas svg").first.is_visible()
        assert "remnant-001" in page.locator("body").inner_text()
        assert page.locator("input:visible, select:visible, [data-control]:visible").count() == 0


@pytest.mark.parametrize("theme", ["light", "dark"])
def test_it_is_accessible_in_both_themes(page, theme):
    """axe-core finds nothing, its rule of contrast (WCAG 2.2, 1.4.3: 4.5 to 1) included."""
    axe = pytest.importorskip("axe_core_python.sync_playwright")
    page.locator("#theme").select_option(theme)
    assert page.evaluate("matchMedia('(prefers-color-scheme: dark)').matches") is False
    page.locator("#sheet-2").scroll_into_view_if_needed()
    control(page, "last").click()
    found = axe.Axe().run(page, options={"runOnly": RULES})
    assert [(v["id"], [n["html"] for n in v["nodes"]]) for v in found["violations"]] == []
    assert "color-contrast" in {rule["id"] for rule in found["passes"]}


def _luminance(colour):
    """Relative luminance of an sRGB colour by WCAG 2.2."""
    parts = [int(v) / 255 for v in re.findall(r"\d+", colour)[:3]]
    linear = [v / 12.92 if v <= 0.04045 else ((v + 0.055) / 1.055) ** 2.4 for v in parts]
    return sum(v * w for v, w in zip(linear, (0.2126, 0.7152, 0.0722), strict=True))


def _contrast(one, other):
    dark, light = sorted((_luminance(one), _luminance(other)))
    return (light + 0.05) / (dark + 0.05)


@pytest.mark.parametrize("theme", ["light", "dark"])
def test_lines_and_letters_of_the_drawing_stand_out(page, theme):
    """Against the sheet by 4.5 to 1, the least of WCAG 2.2 for letters (1.4.3)."""
    page.locator("#theme").select_option(theme)

    def style(selector, name):
        return page.locator(f"#sheet-1 .canvas {selector}").first.evaluate(
            f"element => getComputedStyle(element).{name}"
        )

    sheet = style(".metal", "fill")
    for selector, name in (
        (".cut.outer", "stroke"), (".leads", "stroke"), (".rapids", "stroke"),
        (".cut.cut_off", "stroke"), (".numbers", "fill"),
        (".joints", "stroke"), (".clearance", "stroke"),
    ):  # fmt: skip
        assert _contrast(style(selector, name), sheet) >= 4.5, selector
    for fill in {e.get_attribute("fill") for e in page.locator("defs path[fill^='#']").all()}:
        rgb = ",".join(str(int(fill[i : i + 2], 16)) for i in (1, 3, 5))
        assert _contrast(style(".names", "fill"), rgb) >= 4.5, fill


@pytest.mark.parametrize("preference", ["light", "dark"])
def test_the_systems_theme_is_taken_and_can_be_overruled(chromium, address, preference):
    """The page is dark for who prefers dark, and as the list says once something is chosen."""
    with opened(chromium, address, color_scheme=preference) as page:

        def shown():
            paper = page.evaluate("getComputedStyle(document.body).backgroundColor")
            return "dark" if _luminance(paper) < 0.2 else "light"

        assert shown() == preference
        for choice in ("light", "dark"):
            page.locator("#theme").select_option(choice)
            assert shown() == choice
        page.locator("#theme").select_option("")
        assert shown() == preference


def test_the_keyboard_reaches_every_control_and_shows_where_it_is(page):
    """Tab goes through all of them, in the order in which they stand, each with an outline."""
    all_controls = page.locator(CONTROLS).count()
    page.evaluate("window.scrollTo(0, 0); document.activeElement.blur()")
    places, outlined = [], []
    for _ in range(all_controls):
        page.keyboard.press("Tab")
        place, outline = page.evaluate(
            f"""() => [[...document.querySelectorAll("{CONTROLS.replace(":visible", "")}")]
            .indexOf(document.activeElement), getComputedStyle(document.activeElement).outline]"""
        )
        places.append(place)
        outlined.append("solid" in outline and "3px" in outline)
    assert len(set(places)) == all_controls
    assert all(a < b for a, b in pairwise(places))
    assert all(outlined)


@pytest.mark.parametrize(("paper", "size"), [("A4", (595.3, 841.9)), ("Letter", (612, 792))])
def test_it_prints(page, paper, size):
    """On pages of that size (ISO 216: 210 × 297 mm; ANSI Y14.1: 8.5 × 11 in) with all of
    its text, in light colours, without controls, and before anything is cut."""
    page.locator("#theme").select_option("dark")
    control(page, "larger").click()
    control(page, "last").click()
    document = pypdfium2.PdfDocument(page.pdf(format=paper))
    assert document[0].get_size() == pytest.approx(size, abs=1)
    text = " ".join(sheet.get_textpage().get_text_bounded() for sheet in document)
    document.close()
    text = re.sub(r"\s+", " ", unicodedata.normalize("NFKC", text))  # without ligatures
    for words in ("Read this first", "Layout 2", "strap", "Remnants to keep", "60 × 110 mm"):
        assert words in text
    for words in ("Whole sheet", "Theme", "Speed", "could tip"):
        assert words not in text
    assert page.locator("#sheet-1 .cut.done").count() == 6


def test_the_printed_view_fits_its_width(page):
    """At the width of Letter and A4 less 12 mm at each side (96 px an inch, CSS) nothing
    reaches beyond it, and the paper is white."""
    page.locator("#theme").select_option("dark")
    page.emulate_media(media="print")
    for millimetres in (210 - 24, 215.9 - 24):
        page.set_viewport_size({"width": int(millimetres / 25.4 * 96), "height": 900})
        assert page.evaluate(
            "document.documentElement.scrollWidth <= document.documentElement.clientWidth"
        )
    assert page.evaluate("getComputedStyle(document.body).backgroundColor") == "rgb(255, 255, 255)"
    assert page.locator(".tools:visible, nav:visible").count() == 0
