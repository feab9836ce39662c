"""The picture of a layout: well-formed, exact, and with names that do nothing."""

from __future__ import annotations

import re
from dataclasses import replace
from xml.etree import ElementTree

import pytest
import shapely
from svgelements import Matrix, Path

from nestlib.geometry import placed, region
from nestlib.model import Contour, Layout, Part, Placement, Violation
from nestlib.reporting import layout_svg
from nestlib.reporting.names import name_in, name_on_sheet

SVG = "{http://www.w3.org/2000/svg}"


def _tree(plan):
    return ElementTree.fromstring(layout_svg(plan.layouts[0], plan.job))


def test_the_picture_is_well_formed_and_alone(plan):
    """It is XML, and refers to nothing outside of itself."""
    text = layout_svg(plan.layouts[0], plan.job)
    assert _tree(plan).tag == f"{SVG}svg"
    assert re.findall(r"https?://(?!www\.w3\.org/2000/svg)", text) == []
    assert "<script" not in text
    assert all(ref.startswith("#layout-") for ref in re.findall(r'href="([^"]*)"', text))


def test_names_stand_in_the_picture_as_text(plan):
    """An evil name is shown, without what cannot be seen."""
    texts = [e.text for e in _tree(plan).iter(f"{SVG}title")]
    assert '<script>alert("x")</script>&[red]�[31m' in texts


def test_each_piece_lies_where_its_placement_puts_it(plan):
    """Law: the drawn outer contour covers the placed part, less what sampling loses."""
    layout, tree = plan.layouts[0], _tree(plan)
    x0, _, _, y1 = layout.sheet.outline.bounds
    border = 0.01 * 400
    groups = {g.get("id"): g for g in tree.iter(f"{SVG}g") if g.get("id")}
    pieces = [use for use in tree.iter(f"{SVG}use") if use.get("class") == "piece"]
    for use, placement in zip(pieces, layout.placements, strict=True):
        path = groups[use.get("href")[1:]].find(f"{SVG}path").get("d").split("Z")[0] + "Z"
        drawn = abs(Path(path) * Matrix(use.get("transform")))
        points = [drawn.point(i / 2000) for i in range(2000)]
        found = shapely.Polygon([(p.x + x0 - border, y1 + border - p.y) for p in points])
        true = region(placed(plan.job.part(placement.part).outer, placement), chord=0.001)
        assert found.symmetric_difference(true).area < 2e-3 * true.area
        assert found.area == pytest.approx(true.area, rel=2e-3)


def test_arcs_are_arcs(plan):
    """The slot has two arcs, its hole two, and no curve is a chain of lines."""
    text = layout_svg(plan.layouts[0], plan.job)
    slot = re.search(r'id="layout-part-0"><path d="([^"]*)"', text).group(1)
    assert slot.count("A") == 4
    assert slot.count("L") == 2


def test_prefixes_keep_pictures_apart(plan):
    """Two pictures in one page share no identifier."""
    one, two = (
        set(re.findall(r'id="([^"]*)"', layout_svg(plan.layouts[0], plan.job, prefix=p)))
        for p in ("layout-1", "layout-2")
    )
    assert one
    assert not one & two


def test_an_empty_layout_is_drawn(plan):
    """A sheet without pieces is a picture too."""
    empty = Layout(plan.layouts[0].sheet, ())
    assert ElementTree.fromstring(layout_svg(empty, plan.job)).tag == f"{SVG}svg"


@pytest.mark.parametrize("rotation", [0, 45, 90, 180, 270, 359])
@pytest.mark.parametrize("flip", [False, True])
def test_names_are_never_upside_down(rotation, flip):
    """Whatever the placement, the text reads from the left or from below."""
    part = Part("bar", Contour.rectangle(20, 200))
    name = name_in(part, 50)
    there = name_on_sheet(name, Placement("bar", rotation, flip, 5, 5))
    assert -90 < there.angle <= 90
    assert name.angle == 90


def test_broken_rules_are_marked_where_they_are(plan):
    """The middle of each cross is the place, y down from the top of the sheet with its
    border; what has no place is not drawn."""
    faults = [Violation("a", "", "<too close>", (100.0, 50.0)), Violation("b", "", "lost")]
    tree = ElementTree.fromstring(layout_svg(plan.layouts[0], plan.job, faults=faults))
    (mark,) = (e for e in tree.iter(f"{SVG}path") if e.get("class") == "fault")
    x0, x1, y0, y1 = Path(mark.get("d")).bbox()[0::2] + Path(mark.get("d")).bbox()[1::2]
    assert ((x0 + x1) / 2, (y0 + y1) / 2) == pytest.approx((100 + 4, 200 + 4 - 50))
    assert mark.find(f"{SVG}title").text == "<too close>"


def test_a_part_that_crosses_itself_has_no_name_but_is_drawn(plan):
    """A bow tie does not stop the picture."""
    bow = Part("bow", Contour([(0, 0), (40, 40), (40, 0), (0, 40)]))
    job = replace(plan.job, parts=(bow,))
    layout = Layout(plan.layouts[0].sheet, (Placement("bow", 0, False, 30, 30),))
    assert name_in(bow, 10) is None
    assert "layout-part-0" in layout_svg(layout, job)
