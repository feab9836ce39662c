"""SVG files: shapes, transforms, units, layers."""

from __future__ import annotations

import math
from pathlib import Path

import pytest

from nestlib.drawings import read_drawing
from nestlib.errors import DrawingError
from tests.drawn import drawn_svg

CIRCLE = '<circle cx="50" cy="20" r="10"/>'
NO_SIZE = 'viewBox="0 0 100 100"'


@pytest.mark.parametrize(
    "transform",
    [
        "rotate(30)",
        "scale(1,-1)",
        "matrix(0 1 1 0 5 6)",
        "translate(3 4) rotate(77.7 5 5) scale(-1 1)",
    ],
)
def test_circles_stay_circles_when_turned_and_mirrored(tmp_path: Path, transform: str) -> None:
    """With the same radius, within 1e-9 mm."""
    (part,) = drawn_svg(tmp_path, f'<g transform="{transform}">{CIRCLE}</g>').parts
    assert part.outer.is_circle
    assert part.size == pytest.approx((20, 20), abs=1e-9)


def test_circles_stretched_are_ellipses(tmp_path: Path) -> None:
    """Area πab within 0.01 %."""
    (part,) = drawn_svg(tmp_path, f'<g transform="rotate(20) scale(2 1)">{CIRCLE}</g>').parts
    assert part.area == pytest.approx(math.pi * 20 * 10, rel=1e-4)


def test_y_counts_upwards(tmp_path: Path) -> None:
    """An L whose long leg is at the bottom of the page has it at the bottom of the part."""
    path = '<path d="M0 0 H10 V40 H60 V50 H0 Z"/>'
    (part,) = drawn_svg(tmp_path, path).parts
    low = part.outer.points[part.outer.points[:, 1] < 10 + 1e-9]
    assert low[:, 0].max() == pytest.approx(60)


def test_arcs_in_paths_stay_arcs(tmp_path: Path) -> None:
    """A slot: two lines and two half circles, with relative commands."""
    (part,) = drawn_svg(
        tmp_path, '<path d="m5 0 h30 a5 5 0 0 1 0 10 h-30 a5 5 0 0 1 0 -10 z"/>'
    ).parts
    assert part.size == pytest.approx((40, 10))
    assert part.area == pytest.approx(300 + 25 * math.pi)
    assert len(part.outer) == 4


def test_arc_flags(tmp_path: Path) -> None:
    """The four arcs of radius 10 over a chord of 10: small and large, either side.

    Area of a circular segment R² (θ - sin θ) / 2 (textbook).
    """
    small = 50 * (math.pi / 3 - math.sin(math.pi / 3))
    for flags, area in (("0 1", small), ("0 0", small), ("1 1", 100 * math.pi - small)):
        path = f'<path d="M20 20 A10 10 0 {flags} 30 20 Z"/>'
        assert drawn_svg(tmp_path, path).parts[0].area == pytest.approx(area)


def test_bezier_curves(tmp_path: Path) -> None:
    """A parabola and its chord enclose two thirds of their triangle (Archimedes).

    Q with control point (15, 0) from (0, 0) to (30, 90), and the same raised to a cubic.
    """
    triangle = 15 * 90 / 2
    for path in ("M0 0 Q15 0 30 90 Z", "M0 0 C10 0 20 30 30 90 Z"):
        (part,) = drawn_svg(tmp_path, f'<path d="{path}"/>').parts
        assert part.area == pytest.approx(triangle * 2 / 3, rel=1e-4)


@pytest.mark.parametrize(
    ("page", "side"),
    [
        ('width="100mm" height="100mm" viewBox="0 0 100 100"', 10),
        ('width="10cm" height="10cm" viewBox="0 0 50 50"', 20),
        ('width="1in" height="1in" viewBox="0 0 1 1"', 254),
        ('width="72pt" height="72pt" viewBox="0 0 25.4 25.4"', 10),
        ('width="100mm" height="100mm"', 10 * 25.4 / 96),
        ('width="100mm" height="50mm" viewBox="0 0 100 100"', 5),
        ('width="100mm" viewBox="0 0 50 50"', 20),
    ],
)
def test_the_page_gives_the_size(tmp_path: Path, page: str, side: float) -> None:
    """Lengths of CSS: 1 in = 25.4 mm = 72 pt = 96 px (W3C, CSS Values and Units 3, 6.2)."""
    drawing = drawn_svg(tmp_path, '<rect width="10" height="10"/>', page)
    assert drawing.units_from == "file"
    assert drawing.parts[0].size == pytest.approx((side, side))


@pytest.mark.parametrize("page", [NO_SIZE, 'width="100" height="100"', 'width="100%"', ""])
def test_pixels_have_no_certain_size(tmp_path: Path, page: str) -> None:
    """So the unit has to be told, and is never guessed."""
    with pytest.raises(DrawingError, match="--units"):
        drawn_svg(tmp_path, CIRCLE, page)


def test_units_told(tmp_path: Path) -> None:
    """By the user or the job: for the numbers in the drawing; pixels are 1/96 in of the page."""
    told = drawn_svg(tmp_path, CIRCLE, NO_SIZE, units="mm")
    assert (told.units, told.units_from, told.parts[0].size) == ("mm", "user", (20, 20))
    job = drawn_svg(tmp_path, CIRCLE, NO_SIZE, fallback_units="in")
    assert (job.units_from, job.parts[0].size) == ("job", pytest.approx((508, 508)))
    page = 'width="192" height="192px" viewBox="0 0 100 100"'
    pixels = drawn_svg(tmp_path, CIRCLE, page, units="px")
    assert pixels.parts[0].size == pytest.approx((20 * 1.92 * 25.4 / 96,) * 2)


def test_clones_and_symbols(tmp_path: Path) -> None:
    """A group drawn twice by reference, and a symbol once; the symbol itself is not drawn."""
    inside = (
        f'<defs><g id="ring">{CIRCLE}<circle cx="50" cy="20" r="4"/></g></defs>'
        '<symbol id="plate"><rect width="9" height="9"/></symbol>'
        '<use href="#ring"/><use xlink:href="#ring" x="30" y="50"/><use href="#plate"/>'
    )
    parts = drawn_svg(tmp_path, inside).parts
    assert [(p.quantity, len(p.inners)) for p in parts] == [(2, 1), (1, 0)]


def test_layers_and_dashes(tmp_path: Path) -> None:
    """Groups are layers: by label, else by id; dashed lines are not cut."""
    inside = (
        '<rect width="90" height="90"/>'
        '<g inkscape:label="Engraving" id="g7"><path d="M10 10 H20"/></g>'
        '<g id="bend-lines"><path d="M10 30 H20"/></g>'
        '<path stroke-dasharray="3 2" stroke="#000" d="M10 50 H20"/>'
        '<g style="display:none"><circle r="3"/></g>'
        '<circle cx="30" cy="30" r="3" fill="none" stroke="none"/>'
        '<text id="t">stand</text>'
    )
    drawing = drawn_svg(tmp_path, inside)
    assert len(drawing.parts[0].marks) == 1
    listed = {(x.kind, x.reason.split(";")[0]) for x in drawing.left_out}
    assert listed == {
        ("PATH", 'rule for layer "*bend*"'),
        ("PATH", 'rule for linetype "dashed*"'),
        ("G", "not displayed"),
        ("CIRCLE", "neither line nor filling"),
        ("TEXT", "text is never cut"),
    }


def test_one_bad_shape_does_not_stop_the_others(tmp_path: Path) -> None:
    """Percentages and numbers that are none are told with the id."""
    inside = (
        f'{CIRCLE}<circle id="a" cx="nan" r="3"/><rect id="b" width="50%" height="3"/>'
        '<path id="c" d="M0 0 L1e400 7"/>'
    )
    drawing = drawn_svg(tmp_path, inside)
    assert sorted((f.code, f.handle) for f in drawing.findings) == [
        ("bad-number", "a"),
        ("unreadable-entity", "b"),
        ("unreadable-entity", "c"),
    ]
    assert drawing.parts[0].outer.is_circle


@pytest.mark.parametrize(
    ("inside", "says"),
    [
        ('<use id="a" href="#a"/>', "repeats itself"),
        ('<g id="a"><use href="#b"/></g><g id="b"><use href="#a"/></g>', "repeats itself"),
        (
            '<circle id="l0" r="1"/>'
            + "".join(f'<g id="l{i + 1}">{f"""<use href="#l{i}"/>""" * 10}</g>' for i in range(9)),
            "unfold to",
        ),
        ("<g>" * 300 + "</g>" * 300, "nested more than"),
    ],
)
def test_bottomless_and_endless_nests_are_refused(tmp_path: Path, inside: str, says: str) -> None:
    """Without unfolding them."""
    with pytest.raises(DrawingError, match=says):
        drawn_svg(tmp_path, inside)


def test_a_plain_doctype_is_harmless(tmp_path: Path) -> None:
    """Many programs write one; entities are refused, in any encoding."""
    page = 'width="9mm" height="9mm" viewBox="0 0 9 9"'
    body = f'<svg xmlns="http://www.w3.org/2000/svg" {page}>{CIRCLE}</svg>'
    public = '<!DOCTYPE svg PUBLIC "-//W3C//DTD SVG 1.1//EN" "http://www.w3.org/svg11.dtd">'
    path = tmp_path / "sign.svg"
    path.write_text(public + body)
    assert len(read_drawing(path).parts) == 1
    for encoding in ("utf-8", "utf-16"):
        path.write_bytes(f'<!DOCTYPE svg [<!ENTITY a "b">]>{body}'.encode(encoding))
        with pytest.raises(DrawingError, match="entities"):
            read_drawing(path)
