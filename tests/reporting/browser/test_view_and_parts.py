"""Looking at the drawings in a real browser: view, layers, parts, search, measuring, names."""

from __future__ import annotations

import math
import re

import pytest

from tests.reporting import replayed
from tests.reporting.browser.tab import control, view_box


def test_names_do_nothing(page):
    """They stand there as text: no element comes from them, and nothing runs."""
    assert page.locator("img").count() == 0
    assert page.locator("script").count() == 2
    for name in (replayed.SCRIPT, replayed.IMAGE, replayed.CLOSED):
        assert name in page.locator("body").inner_text()


def test_each_part_has_its_figures(page, plan):
    """The strap by hand: 80 × 20 mm and a circle of radius 10 mm, 2 mm thick, 7.85 g/cm³;
    two on each of two sheets and one on another, where 3 are wanted."""
    cells = page.locator("#parts + .scroll tr[data-name]").nth(1).locator("td").all_inner_texts()
    grams = (80 * 20 + math.pi * 10**2) * 2 * 7.85 / 1000
    assert cells[:2] == ["3", "5"]
    assert cells[3:5] == [f"{grams / 1000:.3f}", f"{5 * grams / 1000:.2f}"]
    assert "1, 2" in cells


def test_the_view_is_enlarged_and_moved(page):
    """By buttons, keys, wheel, double click and dragging; then the whole sheet again."""
    canvas, whole = page.locator("#sheet-1 .canvas"), view_box(page)
    control(page, "larger").click()
    assert view_box(page)[2] == pytest.approx(whole[2] / 1.5)
    control(page, "smaller").click()
    assert view_box(page) == pytest.approx(whole)
    canvas.focus()
    for key, factor in (("+", 1.5), ("-", 1 / 1.5)):
        before = view_box(page)
        page.keyboard.press(key)
        assert view_box(page)[3] == pytest.approx(before[3] / factor)
    canvas.dblclick(position={"x": 300, "y": 200})
    assert view_box(page)[2] == pytest.approx(whole[2] / 2)
    for key, axis, sign in (
        ("ArrowLeft", 0, -1), ("ArrowRight", 0, 1), ("ArrowUp", 1, -1), ("ArrowDown", 1, 1),
    ):  # fmt: skip
        before = view_box(page)[axis]
        page.keyboard.press(key)
        assert (view_box(page)[axis] - before) * sign > 0
    page.mouse.wheel(0, -100)
    assert view_box(page)[2] < whole[2] / 2
    before = view_box(page)
    page.mouse.down()
    page.mouse.move(200, 200, steps=3)
    page.mouse.up()
    assert view_box(page)[:2] != before[:2]
    control(page, "whole").click()
    assert view_box(page) == pytest.approx(whole)


def test_each_layer_can_be_hidden(page):
    """A box that is checked shows its layer, and else it is hidden."""
    shown = {"names": ".names", "leads": ".leads", "rapids": ".rapids", "order": ".numbers",
             "joints": ".joints", "clearance": ".clearance"}  # fmt: skip
    for name, selector in shown.items():
        box = page.locator(f'#sheet-1 [data-layer="{name}"]')
        layer = page.locator(f"#sheet-1 .canvas {selector}")
        for _ in range(2):
            box.click()
            display = layer.evaluate("element => getComputedStyle(element).display")
            assert (display != "none") == box.is_checked()


def test_parts_light_up_when_pointed_at_focused_or_pressed(page):
    """Both straps do for their button, and no plate; a pressed one stays lit."""
    strap = page.locator("#sheet-1 button[data-part]").nth(1)
    lit = page.locator("#sheet-1 .piece.lit")
    strap.hover()
    assert [e.get_attribute("data-part") for e in lit.all()] == ["1", "1"]
    page.mouse.move(0, 0)
    assert lit.count() == 0
    strap.focus()
    assert lit.count() == 2
    page.keyboard.press("Space")
    page.locator("#search").focus()
    assert lit.count() == 2
    assert strap.get_attribute("aria-pressed") == "true"
    strap.press("Space")
    page.locator("#search").focus()
    assert lit.count() == 0


def test_search_finds_parts_in_lists_drawings_and_the_table(page):
    """What does not match is hidden in lists; the numbers are said."""
    page.locator("#search").fill("STRAP")
    assert page.locator("#found").inner_text() == "Parts: 1; pieces: 3; layouts: 2"
    assert page.locator("#sheet-1 button[data-part]:visible").count() == 1
    assert page.locator("#sheet-1 .piece.lit").count() == 2
    assert page.locator("tr.found").count() == 1
    page.locator("#search").fill("")
    assert page.locator("#found").inner_text() == ""
    assert page.locator("#sheet-1 button[data-part]:visible").count() == 2
    assert page.locator(".lit, tr.found").count() == 0


def test_what_lies_under_the_pointer_is_said(page):
    """Which piece it is, and its place on the sheet, to three pixels since the box of an
    outline has its stroke."""
    page.locator("#sheet-1 .canvas").hover(position={"x": 5, "y": 5})
    box = page.locator("#sheet-1 .metal").bounding_box()
    scale = box["width"] / 400
    page.mouse.move(box["x"] + 40 * scale, box["y"] + (200 - 70) * scale)
    text = page.locator("#sheet-1 .readout").inner_text()
    x, y = (float(v) for v in re.findall(r"[xy] ([\d.]+)", text))
    assert (x, y) == pytest.approx((40, 70), abs=3 / scale)
    assert f"{replayed.PLATE.name}, piece 1" in text


def test_distances_are_measured_between_corners(page):
    """The plate of 100 × 60 mm: its diagonal by pointer, its lower side by keyboard."""
    box = page.locator("#sheet-1 .metal").bounding_box()
    scale = box["width"] / 400
    control(page, "measure").click()
    for x, y in ((20, 20), (120, 80)):
        page.mouse.click(box["x"] + x * scale + 2, box["y"] + (200 - y) * scale + 2)
    reading = page.locator("#sheet-1 .reading")
    assert reading.inner_text() == f"{math.hypot(100, 60):.2f} mm (x 100.00, y 60.00)"
    assert page.locator("#sheet-1 .ruler text").inner_html() == f"{math.hypot(100, 60):.2f} mm"
    page.keyboard.press("Enter")
    for _ in range(6):
        page.keyboard.press("Shift+ArrowDown")
    page.keyboard.press("c")
    page.keyboard.press("Enter")
    assert reading.inner_text() == "60.00 mm (x 0.00, y -60.00)"
    page.keyboard.press("Escape")
    assert page.locator("#sheet-1 .ruler *").count() == 0
    assert control(page, "measure").get_attribute("aria-pressed") == "false"
