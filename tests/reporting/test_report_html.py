"""The report: complete, alone, and with names that do nothing."""

from __future__ import annotations

import base64
import hashlib
import json
import re
from dataclasses import replace
from html.parser import HTMLParser

import pytest

from nestlib.reporting import report_html
from nestlib.reporting.given_away import given_away

VOID = {"meta", "link", "br", "hr", "img", "input"}


class Balance(HTMLParser):
    """Notes tags and whether each is closed."""

    def __init__(self):
        super().__init__()
        self.open, self.tags, self.text = [], set(), []

    def handle_starttag(self, tag, attrs):
        """Note a tag that opens."""
        self.tags.add(tag)
        if tag not in VOID:
            self.open.append(tag)

    def handle_endtag(self, tag):
        """The tag has to close the last one opened."""
        assert self.open.pop() == tag

    def handle_startendtag(self, tag, attrs):
        """Note a tag that closes itself."""
        self.tags.add(tag)

    def handle_data(self, data):
        """Note text."""
        self.text.append(data)


def _read(html):
    reader = Balance()
    reader.feed(html)
    assert reader.open == []
    return reader.tags, re.sub(r"\s+", " ", " ".join(reader.text))


def test_the_report_is_well_formed_and_says_everything(plan):
    """Cautions, verdict, figures, layouts, parts, remnants and reasons are there."""
    _, text = _read(report_html(plan, ["sheet-001.dxf"]))
    for words in (
        "Read this first", "Edges are sharp", "no room for a lead", "Verified.", "3.4000 mm",
        "10.2000 mm", "sheet-001.dxf", "remnant-001",
        "70 × 90 mm", "H-17", "25.00 EUR", "12.50 EUR", "area of the parts", "no room:",
        "Lost at arcs", "seed 3",
    ):  # fmt: skip
        assert words in text, words
    assert text.index("Read this first") < text.index("Verified.") < text.index("Sheets cost")


def test_the_report_asks_nothing_of_the_network(plan):
    """No address but the SVG name space, no source, no import."""
    html = report_html(plan, ["sheet-001.dxf"])
    assert set(re.findall(r"https?://[^\s\"']+", html)) == {"http://www.w3.org/2000/svg"}
    assert "@import" not in html
    assert re.findall(r"\b(?:src|action|onload|onclick)=", html) == []


def test_evil_names_are_inert(plan):
    """A name with a tag, an ampersand or a control character is text."""
    html = report_html(plan, ["sheet-001.dxf"])
    scripts = re.findall(r"<script[^>]*>", html)
    assert scripts == ['<script type="application/json" id="report-data">', "<script>"]
    assert "\x1b" not in html
    assert "&lt;script&gt;" in html


def test_only_the_reports_own_script_may_run(plan):
    """Content Security Policy Level 3: a script runs if its SHA-256 is the one stated."""
    html = report_html(plan, ["sheet-001.dxf"])
    script = re.search(r"<script>(.*?)</script>", html, re.DOTALL).group(1)
    digest = base64.b64encode(hashlib.sha256(script.encode()).digest()).decode()
    policy = re.search(r'Content-Security-Policy"\s+content="([^"]*)"', html).group(1)
    assert policy == (
        f"default-src 'none'; style-src 'unsafe-inline'; script-src 'sha256-{digest}'"
    )


def test_the_data_of_the_replay_can_be_read(plan):
    """The block is JSON, with each cut of the path and the names as they are shown."""
    html = report_html(plan, ["sheet-001.dxf"])
    data = json.loads(re.search(r'id="report-data">(.*?)</script>', html, re.DOTALL).group(1))
    (layout,) = data["layouts"]
    assert [cut["role"] for cut in layout["cuts"]] == ["mark", "inner", "outer"]
    assert [cut.get("frees") for cut in layout["cuts"]] == [None, None, [0]]
    assert layout["parts"] == ["clamp arm", '<script>alert("x")</script>&[red]�[31m']
    assert layout["pieces"] == [0, 0, 1]


def test_a_broken_plan_is_not_to_be_cut(broken):
    """The violations stand at the head, as many as can be read, with their places."""
    html = report_html(broken, ["sheet-001.dxf"])
    _, text = _read(html)
    assert html.count('class="fault"') == 50
    assert 'class="fault"' not in report_html(broken, ["another.dxf"])
    assert "Do not cut this plan: 60 rules are broken" in text
    assert "And 10 more" in text
    assert "at 1.0, 2.0" in text


@pytest.mark.parametrize("change", [{"verification": None}, {"stopped": True}, {"layouts": ()}])
def test_a_plan_with_less_is_reported_too(plan, change):
    """Not verified, stopped early, or nothing placed at all."""
    less = replace(plan, **change)
    html = report_html(less, ["sheet-001.dxf"] * len(less.layouts))
    _read(html)
    words = {"verification": "Not verified.", "stopped": "stopped early", "layouts": "Nothing was"}
    assert words[next(iter(change))] in html


def test_a_file_for_each_layout_is_demanded(plan):
    """A layout without its file would be shown under another's name."""
    with pytest.raises(ValueError, match="zip"):
        report_html(plan, [])


def test_the_same_plan_gives_the_same_report(plan):
    """No date and nothing random is written."""
    assert report_html(plan, ["a.dxf"]) == report_html(plan, ["a.dxf"])


def test_what_is_given_away_is_small_but_not_nothing(plan):
    """Arcs flattened within 0.02 mm give away less than 0.06 mm all along the contours."""
    length = sum(
        plan.placed[p.name] * (p.outer.length + sum(c.length for c in p.inners))
        for p in plan.job.parts
    )
    assert 0 < given_away(plan) < 0.06 * length
