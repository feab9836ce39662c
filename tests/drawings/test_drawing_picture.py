"""The picture of a drawing with its findings."""

import itertools
import math
import re
from xml.etree import ElementTree

import pytest

from nestlib.drawings.codes import finding
from nestlib.drawings.picture import picture
from nestlib.model import Contour, Drawing, Part, Source

SVG = "{http://www.w3.org/2000/svg}"


def drawing(name="plate", file="plates.dxf", parts=None, loose=()):
    """Return a drawing of a plate with a hole and a mark."""
    plate = Part(
        name,
        Contour.rectangle(100, 50),
        (Contour.circle((30, 25), 10).reversed(),),
        marks=(Contour([(60, 10), (90, 10)], closed=False),),
        source=Source(file, 0, (10.0, 20.0)),
    )
    return Drawing(file, "mm", "file", "R2010", (plate,) if parts is None else parts, loose=loose)


def parsed(*args):
    """Return the picture as a tree; fails if it is not well-formed."""
    return ElementTree.fromstring(picture(*args))


def words(tree):
    """Return all text that the picture shows."""
    return " ".join(tree.itertext())


def test_arcs_are_drawn_as_arcs():
    """The hole is two arcs of its exact radius; nothing is flattened."""
    tree = parsed(drawing(), [])
    (cut,) = [p for p in tree.iter(f"{SVG}path") if p.get("fill-rule") == "evenodd"]
    arcs = re.findall(r"A([\d.]+) ([\d.]+) 0 (\d) (\d)", cut.get("d"))
    scale = 1128 / 100  # the drawn area is 1128 pixels wide, the plate 100 mm
    assert len(arcs) == 2
    assert all(float(r) == pytest.approx(10 * scale, abs=1e-3) for r, *_ in arcs)


def test_an_arc_bends_to_the_side_it_has_in_the_drawing():
    """With y down, a counter-clockwise arc has the sweep flag 0."""
    bulged = Part("cap", Contour([(0, 0), (10, 0), (10, 10), (0, 10)], [0, 0.5, 0, -0.2]))
    tree = parsed(drawing(parts=(bulged,)), [])
    paths = [p.get("d") for p in tree.iter(f"{SVG}path")]
    assert re.findall(r"A[\d.]+ [\d.]+ 0 (\d) (\d)", paths[0]) == [("0", "0"), ("0", "1")]


def test_every_finding_has_a_number_in_drawing_and_legend():
    """Two places and one legend line carry the same number."""
    found = [
        finding("gap-closed", "a gap", places=[(20, 30), (50, 40)]),
        finding("no-parts", "nothing"),
    ]
    numbers = [t.text for t in parsed(drawing(), found).iter(f"{SVG}text") if t.text in ("1", "2")]
    assert sorted(numbers) == ["1", "1", "1", "2"]


def test_a_place_is_marked_where_it_lies():
    """A drawing's lower left corner is the lower left corner of the drawn area."""
    tree = parsed(drawing(), [finding("gap-closed", "a gap", places=[(10, 20)])])
    (dot,) = [c for c in tree.iter(f"{SVG}circle") if c.get("cx")]
    assert (float(dot.get("cx")), float(dot.get("cy"))) == pytest.approx((36, 36 + 564), abs=0.1)


def test_signs_do_not_cover_each_other():
    """Thirteen findings at nearly one place; the first stands where a single one would."""
    found = [finding("gap-closed", "a", places=[(60 + i / 100, 45)]) for i in range(13)]

    def signs(findings):
        moves = [g.get("transform") for g in parsed(drawing(), findings).iter(f"{SVG}g")]
        spots = [tuple(map(float, re.findall(r"[-\d.]+", m))) for m in moves if m]
        return spots[: len(findings)][::-1]  # the others stand in the legend

    spots = signs(found)
    assert min(math.dist(a, b) for a, b in itertools.combinations(spots, 2)) >= 23.8
    assert spots[0] == signs(found[:1])[0]


def test_levels_differ_by_shape():
    """Square, triangle and circle can be told apart without colours."""
    found = [
        finding("no-parts", "a", places=[(10, 20)]),
        finding("units-assumed", "b", places=[(10, 20)]),
        finding("gap-closed", "c", places=[(10, 20)]),
    ]
    groups = [g for g in parsed(drawing(), found).iter(f"{SVG}g") if g.get("transform")]
    shapes = {(g.find(f"{SVG}text").text, g[0].tag.removeprefix(SVG)) for g in groups}
    assert shapes == {("1", "rect"), ("2", "path"), ("3", "circle")}


def test_the_legend_explains():
    """Title, part, message, place and remedy stand in words."""
    text = words(parsed(drawing(), [finding("gap-closed", "a gap", places=[(1, 2)], part="plate")]))
    assert "Note: Gap closed, plate: a gap (at 1.00, 2.00). Nothing to do" in text


@pytest.mark.parametrize(
    "name", ["<script>alert(1)</script>", '"/><b x="', "&bomb;", "]]>", "a\x00\x1b\ud800b"]
)
def test_names_are_inert(name):
    """Whatever a file or a part is called, it stays text."""
    found = [finding("no-parts", name, part=name, remedy=name)]
    tree = parsed(drawing(name, file=f"{name}.dxf".replace("/", "|")), found)
    tags = {element.tag.removeprefix(SVG) for element in tree.iter()}
    assert tags <= {"svg", "title", "rect", "g", "path", "text", "circle"}
    picture(drawing(name), found).encode()


def test_nothing_is_fetched():
    """The picture needs no other file and runs no script."""
    text = picture(drawing(), [finding("gap-closed", "a gap", places=[(20, 30)])])
    assert "href" not in text
    assert text.count("http") == 1  # the name of the SVG language


@pytest.mark.parametrize("place", [(float("nan"), 0), (float("inf"), 0), (1e308, -1e308), (0, 0)])
def test_an_empty_drawing_and_absurd_places_can_be_drawn(place):
    """Even where nothing was read there is a legend, and no number that is none."""
    text = picture(drawing(parts=()), [finding("bad-number", "no number", places=[place])])
    tree = ElementTree.fromstring(text)
    assert "no number" in words(tree)
    assert "nan" not in text
    assert "inf" not in text


def test_loose_lines_are_drawn():
    """What belongs to no part is still seen."""
    line = Contour([(0, 0), (40, 0)], closed=False)
    count = len(list(parsed(drawing(), []).iter(f"{SVG}path")))
    assert len(list(parsed(drawing(loose=(line,)), []).iter(f"{SVG}path"))) == count + 1
