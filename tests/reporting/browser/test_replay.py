"""The replay of a cut path in a real browser."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
import shapely

from nestlib.geometry import flatten
from nestlib.model import CutPath
from nestlib.reporting import report_html
from tests.reporting import replayed
from tests.reporting.browser.tab import FILES, control, head, opened, seek


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


def test_the_replay_follows_the_cuts(page, plan):
    """After each cut the head is where it ends; what is free and what could tip is said."""
    loose, pieces = page.locator("#sheet-1 .loose"), page.locator("#sheet-1 .piece")
    cuts = plan.layouts[0].path.cuts
    free, tips = 0, []
    for number, cut in enumerate(cuts):
        control(page, "after").click()
        assert page.locator("#sheet-1 .cut.done").count() == number + 1
        assert head(page) == pytest.approx(cut.end, abs=0.02)
        if cut.role == "outer" and cut.free:
            free += 1
            tips += [cut.placement] if cut.fate == "tips" else []
            assert f"freed {cut.fate}" in pieces.nth(cut.placement).get_attribute("class")
        assert f"{free} of 3 pieces cut free" in loose.inner_text()
        could = f"Could tip: {replayed.PLATE.name} × 1." if tips else "Nothing could tip."
        assert could in loose.inner_text()
    assert "all 6 cuts done" in page.locator("#sheet-1 .status").inner_text()
    control(page, "before").click()
    assert page.locator("#sheet-1 .cut.done").count() == 5
    control(page, "first").click()
    assert page.locator("#sheet-1 .cut.done, #sheet-1 .freed, #sheet-1 .tips").count() == 0
    control(page, "last").click()
    assert page.locator("#sheet-1 .cut.done").count() == 6


def test_within_a_cut_the_head_is_on_its_way(page, plan):
    """At shares of the beam's time it has run as much of lead, contour and lead-out, by
    shapely's own measure of the flattened chain."""
    efforts, cut = plan.work.cuts[0], plan.layouts[0].path.cuts[1]
    begun = efforts[0].seconds + efforts[1].moving + efforts[1].piercing
    ring = flatten(cut.contour, 0.0005)
    chain = shapely.LineString([*cut.lead_in.points, *ring, ring[0]])
    for share in (0.0, 0.2, 0.5, 0.9):
        seek(page, begun + share * efforts[1].cutting)
        true = chain.interpolate(share, normalized=True)
        assert head(page) == pytest.approx((true.x, true.y), abs=0.05)
    assert "on" in page.locator("#sheet-1 .head-mark").get_attribute("class")
    seek(page, efforts[0].seconds + efforts[1].moving / 2)
    way = zip(plan.layouts[0].path.cuts[0].end, cut.pierce, strict=True)
    halfway = [(a + b) / 2 for a, b in way]
    assert head(page) == pytest.approx(halfway, abs=0.05)


def test_the_head_stands_still_while_it_waits(page, plan):
    """Before the cut that frees the remnant it waits two seconds over the pierce."""
    efforts, cut = plan.work.cuts[0], plan.layouts[0].path.cuts[5]
    begun = sum(effort.seconds for effort in efforts[:5]) + efforts[5].moving
    for earlier in (0.1, 1.9):
        seek(page, begun - earlier)
        assert head(page) == pytest.approx(cut.pierce, abs=0.02)
        assert page.locator("#sheet-1 .head-mark.on").count() == 0
    seek(page, begun - 2.1)
    assert math.dist(head(page), cut.pierce) > 1
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
    play, status = control(page, "play"), page.locator("#sheet-1 .status")
    control(page, "speed").select_option("1")
    play.click()
    assert (play.inner_text(), status.get_attribute("aria-live")) == ("Pause", "off")
    play.click()
    assert (play.inner_text(), status.get_attribute("aria-live")) == ("Play", "polite")
    control(page, "speed").select_option("100")
    play.click()
    page.locator("#sheet-1 .cut.done").nth(5).wait_for(state="attached")
    page.locator('#sheet-1 [data-control="play"]', has_text="Play").wait_for()
    assert status.get_attribute("aria-live") == "polite"


def test_heat_marks_the_cuts_of_the_last_minute(page, plan):
    """In three steps, with the distance that the job wants around the last one."""
    control(page, "heat").check()
    assert page.locator("[class*=warm-]").count() == 0
    for _ in range(3):
        control(page, "after").click()
    ages = [0.0]
    for effort in reversed(plan.work.cuts[0][1:3]):
        ages.append(ages[-1] + effort.seconds)
    steps = [next(i for i, limit in enumerate((10, 30, 60), 1) if age <= limit) for age in ages]
    for number, step in zip((2, 1, 0), steps, strict=True):
        classes = page.locator("#sheet-1 .cut").nth(number).get_attribute("class")
        assert f"warm-{step}" in classes
    assert float(page.locator("#sheet-1 .near").get_attribute("r")) == 40
    control(page, "heat").uncheck()
    assert page.locator("[class*=warm-]").count() == 0


def test_a_step_touches_only_what_changes(page):
    """Elements whose attributes change at a step of the replay: a cut done, one begun, a
    piece, the head, the trace, the slider, words; so never more than 12 of them."""
    page.evaluate(
        """() => { window.touched = new Set();
        new MutationObserver((all) => all.forEach((one) => touched.add(one.target))).observe(
        document.body, {attributes: true, subtree: true}); }"""
    )
    control(page, "after").click()
    page.wait_for_timeout(20)
    assert 0 < page.evaluate("touched.size") <= 12
