"""What a notebook shows, read by the standard library's own XML and HTML parsers."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from html.parser import HTMLParser
from xml.etree import ElementTree

SVG = "{http://www.w3.org/2000/svg}"


class _Page(HTMLParser):
    """Counts tags and keeps identifiers and text."""

    def __init__(self, html: str) -> None:
        super().__init__()
        self.tags, self.ids, self.text = Counter[str](), list[str](), ""
        self.feed(html)

    def handle_starttag(self, tag, attrs):
        self.tags[tag] += 1
        self.ids += [value for name, value in attrs if name == "id"]

    def handle_data(self, data):
        self.text += data


def test_a_part_is_drawn_with_its_arcs(plan):
    """A slot of two arcs and two lines, a hole of two arcs and a mark, in its own size."""
    picture = ElementTree.fromstring(plan.job.parts[0]._repr_svg_())
    cut, mark = picture.findall(f"{SVG}path")
    # The two arcs of the ends and two of the hole.
    assert cut.get("d").count("A") == 4
    assert mark.get("d").count("L") == 1
    assert picture.find(f"{SVG}title").text == "clamp arm, 100 × 20 mm"
    # 100 x 20 mm and 3 % of 100 on each side.
    assert [float(v) for v in picture.get("viewBox").split()] == [0, 0, 106, 26]
    assert "script" not in {e.tag for e in ElementTree.fromstring(plan.job.parts[1]._repr_svg_())}


def test_a_plan_shows_its_first_layouts(plan):
    """At most four, as text whatever the names hold, and twice on a page without a clash."""
    plan = replace(plan, layouts=plan.layouts * 6)
    page = _Page(plan._repr_html_() + plan._repr_html_())
    assert page.tags["svg"] == 8
    assert page.tags["script"] == 0
    assert len(page.ids) == len(set(page.ids))
    # 6 layouts of 3 pieces, each cut twice.
    assert "36 pieces on 12 sheets" in page.text
    assert "and 2 layouts more" in page.text
    assert "1 piece not placed" in page.text
