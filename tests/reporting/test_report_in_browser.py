"""The report in a real browser: every control, both themes, on paper, and never the network."""

from __future__ import annotations

import math
import re
import unicodedata
from contextlib import contextmanager
from dataclasses import replace
from itertools import pairwise

import pypdfium2
import pytest
import shapely

from benchmarks.chromium import browser, missing
from nestlib.geometry import flatten
from nestlib.model import CutPath
from nestlib.reporting import report_html
from tests.reporting import replayed

FILES = ["sheet-001.dxf", "sheet-002.dxf"]

#: What WCAG 2 and common practice ask of a page, by the names that axe-core gives them.
RULES = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]

CONTROLS = "button:visible, select:visible, input:visible, a:visible, [tabindex='0']:visible"


@pytest.fixture(scope="module")
def chromium():
    """One browser for all of these tests, and gone before those of others: the loop that
    drives it would be in the way of theirs."""
    if missing():
        pytest.skip(missing())
    with browser() as opened:
        yield opened


@pytest.fixture(scope="module")
def plan():
    """Two layouts made by hand."""
    return replayed.plan()


@pytest.fixture(scope="module")
def address(plan, tmp_path_factory):
    """The report as a file, as people open it."""
    path = tmp_path_factory.mktemp("report") / "report.html"
    path.write_text(report_html(plan, FILES), encoding="utf-8")
    return path.as_uri()


class Tab:
    """A page, what it asked for and what it said."""

    def __init__(self, chromium, address, **options):
        self.context = chromium.new_context(viewport={"width": 1280, "height": 900}, **options)
        self.context.route("**/*", self._answer)
        self.page, self.address, self.asked, self.said = self.context.new_page(), address, [], []
        self.page.on("console", lambda message: self.said.append(message.text))
        self.page.on("pageerror", lambda error: self.said.append(str(error)))
        self.page.on("dialog", self._dismiss)

    def _answer(self, route):
        self.asked.append(route.request.url)
        if route.request.url == self.address:
            route.continue_()
        else:
            route.abort()

    def _dismiss(self, dialog):
        self.said.append(dialog.message)
        dialog.dismiss()

    @contextmanager
    def report(self):
        """The page, which must ask for nothing but its own file and say nothing."""
        self.asked.clear()
        self.page.goto(self.address)
        yield self.page
        assert self.asked == [self.address]
        assert self.said == []


@contextmanager
def opened(chromium, address, **options):
    """The report in a tab of its own."""
    tab = Tab(chromium, address, **options)
    try:
        with tab.report() as page:
            yield page
    finally:
        tab.context.close()


@pytest.fixture(scope="module")
def tab(chromium, address):
    """One tab, in which each test opens the report anew."""
    tab = Tab(chromium, address)
    yield tab
    tab.context.close()


@pytest.fixture
def page(tab):
    """The report, its first layout in view."""
    with tab.report() as page:
        page.locator("#sheet-1 .canvas").scroll_into_view_if_needed()
        page.wait_for_selector("#sheet-1 .head-mark", state="attached")
        yield page
        page.emulate_media(media="null")
        page.set_viewport_size({"width": 1280, "height": 900})


def _box(page):
    """What of the first sheet is shown: left, top, width, height in mm."""
    return [float(v) for v in page.locator("#sheet-1 .canvas svg").get_attribute("viewBox").split()]


def _control(page, name):
    return page.locator(f'#sheet-1 [data-control="{name}"]')


def _head(page):
    """Where the head is drawn, in mm of the sheet."""
    text = page.locator("#sheet-1 .head-mark").get_attribute("transform")
    x, y = (float(v) for v in re.findall(r"-?[\d.]+(?:e-?\d+)?", text))
    left, top = (
        float(page.locator("#sheet-1 .canvas svg").get_attribute(f"data-{side}"))
        for side in ("left", "top")
    )
    return x + left, top - y


def _seek(page, seconds):
    page.locator("#sheet-1 input[type=range]").evaluate(
        "(slider, at) => { slider.step = 'any'; slider.value = at;"
        " slider.dispatchEvent(new Event('input')); }",
        seconds,
    )


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


def test_without_times_the_slider_counts_cuts(chromium, plan, tmp_path):
    """And a layout that is not cut at all is drawn, with no replay."""
    bare = (plan.layouts[0], replace(plan.layouts[1], path=CutPath()))
    path = tmp_path / "report.html"
    path.write_text(report_html(replace(plan, work=None, layouts=bare), FILES), encoding="utf-8")
    with opened(chromium, path.as_uri()) as page:
        page.locator("#sheet-2 .canvas").scroll_into_view_if_needed()
        page.wait_for_selector("#sheet-2 .ruler", state="attached")
        assert page.locator("#sheet-2 input[type=range]").count() == 0
        slider = page.locator("#sheet-1 input[type=range]")
        assert slider.get_attribute("max") == "6"
        slider.focus()
        page.keyboard.press("ArrowRight")
        assert page.locator("#sheet-1 .cut.done").count() == 1
        assert page.locator("#sheet-1 .status").inner_text().startswith("cut 2 of 6")


def test_without_scripts_it_is_complete_and_shows_no_dead_controls(chromium, address):
    """Drawings, figures and tables are there; what needs a script is hidden."""
    with opened(chromium, address, java_script_enabled=False) as page:
        assert page.locator(".canvas svg").first.is_visible()
        assert "remnant-001" in page.locator("body").inner_text()
        assert page.locator("input:visible, select:visible, [data-control]:visible").count() == 0


def test_the_view_is_enlarged_and_moved(page):
    """By buttons, keys, wheel, double click and dragging; then the whole sheet again."""
    canvas, whole = page.locator("#sheet-1 .canvas"), _box(page)
    _control(page, "larger").click()
    assert _box(page)[2] == pytest.approx(whole[2] / 1.5)
    _control(page, "smaller").click()
    assert _box(page) == pytest.approx(whole)
    canvas.focus()
    for key, factor in (("+", 1.5), ("-", 1 / 1.5)):
        before = _box(page)
        page.keyboard.press(key)
        assert _box(page)[3] == pytest.approx(before[3] / factor)
    canvas.dblclick(position={"x": 300, "y": 200})
    assert _box(page)[2] == pytest.approx(whole[2] / 2)
    for key, axis, sign in (
        ("ArrowLeft", 0, -1), ("ArrowRight", 0, 1), ("ArrowUp", 1, -1), ("ArrowDown", 1, 1),
    ):  # fmt: skip
        before = _box(page)[axis]
        page.keyboard.press(key)
        assert (_box(page)[axis] - before) * sign > 0
    page.mouse.wheel(0, -100)
    assert _box(page)[2] < whole[2] / 2
    before = _box(page)
    page.mouse.down()
    page.mouse.move(200, 200, steps=3)
    page.mouse.up()
    assert _box(page)[:2] != before[:2]
    _control(page, "whole").click()
    assert _box(page) == pytest.approx(whole)


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
    _control(page, "measure").click()
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
    assert _control(page, "measure").get_attribute("aria-pressed") == "false"


def test_the_replay_follows_the_cuts(page, plan):
    """After each cut the head is where it ends; what is free and what could tip is said."""
    loose, pieces = page.locator("#sheet-1 .loose"), page.locator("#sheet-1 .piece")
    cuts = plan.layouts[0].path.cuts
    free, tips = 0, []
    for number, cut in enumerate(cuts):
        _control(page, "after").click()
        assert page.locator("#sheet-1 .cut.done").count() == number + 1
        assert _head(page) == pytest.approx(cut.end, abs=0.02)
        if cut.role == "outer" and cut.free:
            free += 1
            tips += [cut.placement] if cut.fate == "tips" else []
            assert f"freed {cut.fate}" in pieces.nth(cut.placement).get_attribute("class")
        assert f"{free} of 3 pieces cut free" in loose.inner_text()
        could = f"Could tip: {replayed.PLATE.name} × 1." if tips else "Nothing could tip."
        assert could in loose.inner_text()
    assert "all 6 cuts done" in page.locator("#sheet-1 .status").inner_text()
    _control(page, "before").click()
    assert page.locator("#sheet-1 .cut.done").count() == 5
    _control(page, "first").click()
    assert page.locator("#sheet-1 .cut.done, #sheet-1 .freed, #sheet-1 .tips").count() == 0
    _control(page, "last").click()
    assert page.locator("#sheet-1 .cut.done").count() == 6


def test_within_a_cut_the_head_is_on_its_way(page, plan):
    """At shares of the beam's time it has run as much of lead, contour and lead-out, by
    shapely's own measure of the flattened chain."""
    efforts, cut = plan.work.cuts[0], plan.layouts[0].path.cuts[1]
    begun = efforts[0].seconds + efforts[1].moving + efforts[1].piercing
    ring = flatten(cut.contour, 0.0005)
    chain = shapely.LineString([*cut.lead_in.points, *ring, ring[0]])
    for share in (0.0, 0.2, 0.5, 0.9):
        _seek(page, begun + share * efforts[1].cutting)
        true = chain.interpolate(share, normalized=True)
        assert _head(page) == pytest.approx((true.x, true.y), abs=0.05)
    assert "on" in page.locator("#sheet-1 .head-mark").get_attribute("class")
    _seek(page, efforts[0].seconds + efforts[1].moving / 2)
    way = zip(plan.layouts[0].path.cuts[0].end, cut.pierce, strict=True)
    halfway = [(a + b) / 2 for a, b in way]
    assert _head(page) == pytest.approx(halfway, abs=0.05)


def test_the_head_stands_still_while_it_waits(page, plan):
    """Before the cut that frees the remnant it waits two seconds over the pierce."""
    efforts, cut = plan.work.cuts[0], plan.layouts[0].path.cuts[5]
    begun = sum(effort.seconds for effort in efforts[:5]) + efforts[5].moving
    for earlier in (0.1, 1.9):
        _seek(page, begun - earlier)
        assert _head(page) == pytest.approx(cut.pierce, abs=0.02)
        assert page.locator("#sheet-1 .head-mark.on").count() == 0
    _seek(page, begun - 2.1)
    assert math.dist(_head(page), cut.pierce) > 1
    assert "cut that frees the remnant" in page.locator("#sheet-1 .status").inner_text()


def test_the_slider_spans_the_time_of_the_plan(page, plan):
    """Its end is the layout's time to the second, and it says in words where it is."""
    slider = page.locator("#sheet-1 input[type=range]")
    assert int(slider.get_attribute("max")) == math.ceil(plan.work.layouts[0].seconds)
    slider.focus()
    page.keyboard.press("End")
    assert "all 6 cuts done" in slider.get_attribute("aria-valuetext")
    page.keyboard.press("Home")
    assert "before the first" in slider.get_attribute("aria-valuetext")


def test_the_replay_plays_and_pauses(page):
    """Played at the highest speed it reaches its end by itself; while it plays nothing is
    read out."""
    play, status = _control(page, "play"), page.locator("#sheet-1 .status")
    _control(page, "speed").select_option("1")
    play.click()
    assert (play.inner_text(), status.get_attribute("aria-live")) == ("Pause", "off")
    play.click()
    assert (play.inner_text(), status.get_attribute("aria-live")) == ("Play", "polite")
    _control(page, "speed").select_option("100")
    play.click()
    page.locator("#sheet-1 .cut.done").nth(5).wait_for(state="attached")
    page.locator('#sheet-1 [data-control="play"]', has_text="Play").wait_for()
    assert status.get_attribute("aria-live") == "polite"


def test_heat_marks_the_cuts_of_the_last_minute(page, plan):
    """In three steps, with the distance that the job wants around the last one."""
    _control(page, "heat").check()
    assert page.locator("[class*=warm-]").count() == 0
    for _ in range(3):
        _control(page, "after").click()
    ages = [0.0]
    for effort in reversed(plan.work.cuts[0][1:3]):
        ages.append(ages[-1] + effort.seconds)
    steps = [next(i for i, limit in enumerate((10, 30, 60), 1) if age <= limit) for age in ages]
    for number, step in zip((2, 1, 0), steps, strict=True):
        classes = page.locator("#sheet-1 .cut").nth(number).get_attribute("class")
        assert f"warm-{step}" in classes
    assert float(page.locator("#sheet-1 .near").get_attribute("r")) == 40
    _control(page, "heat").uncheck()
    assert page.locator("[class*=warm-]").count() == 0


def test_a_step_touches_only_what_changes(page):
    """Elements whose attributes change at a step of the replay: a cut done, one begun, a
    piece, the head, the trace, the slider, words; so never more than 12 of them."""
    page.evaluate(
        """() => { window.touched = new Set();
        new MutationObserver((all) => all.forEach((one) => touched.add(one.target))).observe(
        document.body, {attributes: true, subtree: true}); }"""
    )
    _control(page, "after").click()
    page.wait_for_timeout(20)
    assert 0 < page.evaluate("touched.size") <= 12


@pytest.mark.parametrize("theme", ["light", "dark"])
def test_it_is_accessible_in_both_themes(page, theme):
    """axe-core finds nothing, its rule of contrast (WCAG 2.2, 1.4.3: 4.5 to 1) included."""
    axe = pytest.importorskip("axe_core_python.sync_playwright")
    page.locator("#theme").select_option(theme)
    assert page.evaluate("matchMedia('(prefers-color-scheme: dark)').matches") is False
    page.locator("#sheet-2").scroll_into_view_if_needed()
    _control(page, "last").click()
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
    _control(page, "larger").click()
    _control(page, "last").click()
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
