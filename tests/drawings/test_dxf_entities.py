"""Each kind of DXF entity, alone and inside blocks."""

from __future__ import annotations

import math
from pathlib import Path
from typing import Any

import pytest
from ezdxf.document import Drawing as Document
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from nestlib.model import Drawing
from tests.drawn import drawn

SQUARE = [(0, 0), (40, 0), (40, 40), (0, 40)]
UP_SIDE_DOWN = {"extrusion": (0, 0, -1)}


def codes(drawing: Drawing) -> list[str]:
    """Return the codes of all findings."""
    return sorted(f.code for f in drawing.findings)


def with_square(folder: Path, draw: Any, **options: Any) -> Drawing:
    """Draw a square as well, so that there is a part."""

    def both(document: Document) -> None:
        document.modelspace().add_lwpolyline(SQUARE, close=True)
        draw(document)

    return drawn(folder, both, **options)


def test_a_slot_of_lines_and_arcs(tmp_path: Path) -> None:
    """Lines stay lines, arcs arcs: four vertices, two half circles."""

    def draw(document: Document) -> None:
        space = document.modelspace()
        space.add_line((0, 0), (30, 0))
        space.add_arc((30, 5), 5, -90, 90)
        space.add_line((30, 10), (0, 10))
        space.add_arc((0, 5), 5, 90, 270)

    (part,) = drawn(tmp_path, draw).parts
    assert sorted(part.outer.bulges) == pytest.approx([0, 0, 1, 1])
    assert part.area == pytest.approx(300 + 25 * math.pi)
    assert part.size == pytest.approx((40, 10))


def test_entities_drawn_from_behind_are_mirrored(tmp_path: Path) -> None:
    """With extrusion (0, 0, -1) x counts to the left; splines and lines are not affected."""

    def draw(document: Document) -> None:
        space = document.modelspace()
        space.add_lwpolyline(
            [(0, 0, 0), (-40, 0, -0.5), (-40, 20, 0), (0, 20, 0)],
            format="xyb",
            close=True,
            dxfattribs=UP_SIDE_DOWN,
        )
        space.add_circle((-10, 10), 3, dxfattribs=UP_SIDE_DOWN)
        space.add_line((25, 5), (30, 5), dxfattribs=UP_SIDE_DOWN)
        space.add_arc((-30, 7.5), 2.5, 0, 180, dxfattribs=UP_SIDE_DOWN)
        space.add_line((30, 5), (32.5, 7.5))
        space.add_line((27.5, 7.5), (25, 5))

    (part,) = drawn(tmp_path, draw).parts
    # The arc leaves its chord by 5 mm, outwards in the mirror as in the original.
    assert part.outer.bounds == pytest.approx((0, 0, 45, 20))
    circle, dome = part.inners
    assert circle.bounds == pytest.approx((7, 7, 13, 13))
    assert dome.bounds == pytest.approx((25, 5, 32.5, 10))


def test_old_polylines(tmp_path: Path) -> None:
    """POLYLINE with bulges, closed by flag or by a last vertex 1e-6 off, in R12."""

    def draw(document: Document) -> None:
        space = document.modelspace()
        rows = [(0, 0, 0), (50, 0, 1), (50, 30, 0), (0, 30, 0)]
        space.add_polyline2d(rows, format="xyb", close=True)
        space.add_polyline2d([(10, 10), (20, 10), (20, 20), (10, 10 + 1e-6)])
        space.add_polyline3d([(30, 10, 7), (40, 10, 7), (40, 20, 7)], close=True)

    drawing = drawn(tmp_path, draw, version="R12")
    (part,) = drawing.parts
    assert part.area == pytest.approx(1500 + 112.5 * math.pi - 100, abs=1e-4)
    assert [len(c) for c in part.inners] == [3, 3]
    assert codes(drawing) == ["units-assumed"]


def test_repeated_vertices_are_dropped(tmp_path: Path) -> None:
    """Three vertices in one place are one, and the bulge after them is kept."""

    def draw(document: Document) -> None:
        rows = [(0, 0, 0), (10, 0, 0), (10, 0, 0), (10, 0, 1), (10, 10, 0), (0, 10, 0), (0, 0, 0)]
        document.modelspace().add_lwpolyline(rows, format="xyb", close=True)

    (part,) = drawn(tmp_path, draw).parts
    assert part.outer.bulges.tolist() == [0, 1, 0, 0]


def test_arcs_from_0_to_360_are_circles(tmp_path: Path) -> None:
    """An arc from 0 to 0 vanishes instead, and is told."""

    def draw(document: Document) -> None:
        document.modelspace().add_arc((10, 10), 3, 0, 360)
        document.modelspace().add_arc((30, 10), 3, 0, 0)

    drawing = with_square(tmp_path, draw)
    assert [c.is_circle for c in drawing.parts[0].inners] == [True]
    assert codes(drawing) == ["arc-vanishes"]


def test_circles_in_pieces_are_circles(tmp_path: Path) -> None:
    """Three arcs that make up a circle."""

    def draw(document: Document) -> None:
        for start, end in ((0, 100), (100, 250), (250, 360)):
            document.modelspace().add_arc((20, 20), 7, start, end)

    (part,) = with_square(tmp_path, draw).parts
    assert part.inners[0].is_circle
    assert_allclose(part.inners[0].area, 49 * math.pi, rtol=1e-9)


def test_ellipses_with_equal_axes_are_circles(tmp_path: Path) -> None:
    """Exactly, as programs write them after scaling there and back."""

    def draw(document: Document) -> None:
        document.modelspace().add_ellipse((20, 20), (6, 8), 1.0)

    (part,) = with_square(tmp_path, draw).parts
    assert part.inners[0].is_circle


def test_splines_close_by_their_ends_not_by_their_flag(tmp_path: Path) -> None:
    """A flag that lies is no contour; ends that meet are one."""

    def draw(document: Document) -> None:
        space = document.modelspace()
        open_one = space.add_spline()
        open_one.set_open_uniform([(5, 5, 0), (10, 9, 0), (15, 2, 0), (20, 8, 0)])
        open_one.closed = True
        space.add_spline().set_closed([(22, 22, 0), (34, 22, 0), (34, 34, 0), (22, 34, 0)])
        space.add_spline(fit_points=[(5, 22), (12, 22), (12, 33), (5, 22)])

    drawing = with_square(tmp_path, draw)
    assert len(drawing.parts[0].inners) == 2
    assert codes(drawing) == ["curve-replaced", "open-contour"]


def test_heights(tmp_path: Path) -> None:
    """A constant height is nothing, noise is flattened with a word, slopes are refused."""

    def draw(document: Document) -> None:
        space = document.modelspace()
        space.add_circle((10, 10, 55), 3)
        for a, b in ((5, 15), (15, 25)):
            space.add_line((25, a, 0), (25, b, 0.004))
        space.add_line((25, 25, 0), (25.0, 5, 0))
        space.add_line((3, 3, 0), (10, 3, 3))
        space.add_circle((30, 30), 3, dxfattribs={"extrusion": (0, 1, 1)})

    drawing = with_square(tmp_path, draw)
    assert codes(drawing).count("sloped-geometry") == 2
    assert "height-flattened" in codes(drawing)
    assert len(drawing.parts[0].inners) == 1


def test_what_is_never_cut_is_listed(tmp_path: Path) -> None:
    """Texts, dimensions, points, hatches: kind, layer and number; text with a remedy."""

    def draw(document: Document) -> None:
        space = document.modelspace()
        space.add_text("stand 7", dxfattribs={"layer": "etch"})
        space.add_mtext("left")
        space.add_point((3, 3))
        space.add_point((4, 3))
        space.add_hatch()
        space.add_linear_dim(base=(0, 50), p1=(0, 0), p2=(40, 0)).render()

    drawing = with_square(tmp_path, draw)
    listed = {(x.kind, x.layer): x.count for x in drawing.left_out}
    assert listed == {
        ("TEXT", "etch"): 1,
        ("MTEXT", "0"): 1,
        ("POINT", "0"): 2,
        ("HATCH", "0"): 1,
        ("DIMENSION", "0"): 1,
    }
    assert codes(drawing) == ["text-not-cut", "text-not-cut"]
    assert "curves" in drawing.findings[0].remedy


def test_layers_that_are_off_or_frozen(tmp_path: Path) -> None:
    """Are not cut, and listed with the reason."""

    def draw(document: Document) -> None:
        document.layers.add("AWAY").off()
        document.layers.add("COLD").freeze()
        for x, layer in ((10, "AWAY"), (20, "COLD"), (30, "0")):
            document.modelspace().add_circle((x, 10), 3, dxfattribs={"layer": layer})
        document.modelspace().add_circle((30, 30), 3, dxfattribs={"invisible": 1})

    drawing = with_square(tmp_path, draw)
    assert len(drawing.parts[0].inners) == 1
    assert codes(drawing) == ["hidden-layer", "hidden-layer"]
    reasons = {x.layer: x.reason for x in drawing.left_out}
    assert reasons == {
        "AWAY": "layer is off",
        "COLD": "layer is frozen",
        "0": "entity is invisible",
    }


def test_layer_and_linetype_are_inherited(tmp_path: Path) -> None:
    """Layer 0 in a block is that of its reference, also two levels deep; so is BYBLOCK."""

    def draw(document: Document) -> None:
        document.linetypes.add("CENTER", [2.0, 1.0, -1.0])
        document.layers.add("AXES_OF_HOLES", linetype="CENTER")
        document.layers.add("thin", linetype="CENTER")
        inner = document.blocks.new("INNER")
        inner.add_line((0, 0), (3, 0))
        inner.add_line((0, 1), (3, 1), dxfattribs={"linetype": "BYBLOCK", "layer": "lines"})
        inner.add_line((0, 2), (3, 2), dxfattribs={"layer": "thin"})
        outer = document.blocks.new("OUTER")
        outer.add_blockref("INNER", (0, 0), dxfattribs={"linetype": "BYBLOCK"})
        space = document.modelspace()
        space.add_blockref("OUTER", (5, 5), dxfattribs={"layer": "etching", "linetype": "CENTER"})

    drawing = with_square(tmp_path, draw)
    assert len(drawing.parts[0].marks) == 1
    listed = {(x.layer, x.reason) for x in drawing.left_out}
    rule = 'rule for linetype "center*"'
    assert listed == {("lines", rule), ("thin", rule)}


@settings(max_examples=25, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    st.lists(
        st.tuples(st.floats(-180, 180), st.sampled_from([-2.0, -1.0, 0.5, 3.0]), st.booleans()),
        min_size=1,
        max_size=3,
    )
)
def test_nested_mirrored_and_turned_blocks_keep_circles(
    tmp_path: Path, levels: list[tuple[float, float, bool]]
) -> None:
    """Area and length grow by the scale; an arc stays an arc, a circle a circle.

    Each level turns, scales by s and may mirror by a negative x scale or from behind.
    """

    def draw(document: Document) -> None:
        block = document.blocks.new("B0", base_point=(3, 4))
        rows = [(0, 0, 0), (40, 0, 0.3), (40, 20, 0), (5, 20, 0)]
        block.add_lwpolyline(rows, format="xyb", close=True)
        block.add_circle((20, 10), 3)
        for i, (turn, scale, behind) in enumerate(levels):
            holder = document.blocks.new(f"B{i + 1}")
            holder.add_blockref(
                f"B{i}",
                (7, -2),
                dxfattribs={
                    "xscale": scale,
                    "yscale": abs(scale),
                    "zscale": 1,
                    "rotation": turn,
                    **(UP_SIDE_DOWN if behind else {}),
                },
            )
        document.modelspace().add_blockref(f"B{len(levels)}", (0, 0))

    drawing = drawn(tmp_path, draw)
    factor = math.prod(abs(scale) for _, scale, _ in levels)
    (part,) = drawing.parts
    assert part.inners[0].is_circle
    assert sorted(abs(part.outer.bulges)) == pytest.approx([0, 0, 0, 0.3])
    bulge, chord = 0.3, 20.0
    angle = 4 * math.atan(bulge)
    radius = chord * (1 + bulge**2) / (4 * bulge)
    area = 750 + radius**2 * (angle - math.sin(angle)) / 2 - 9 * math.pi
    assert part.area == pytest.approx(area * factor**2, rel=1e-9)
    assert codes(drawing) == []


def test_uneven_scale_makes_ellipses_that_still_close(tmp_path: Path) -> None:
    """A slot with half circles, twice as wide as high: exact area, ends joined."""

    def draw(document: Document) -> None:
        block = document.blocks.new("SLOT")
        rows = [(0, 0, 0), (20, 0, 1), (20, 10, 0), (0, 10, 1)]
        block.add_lwpolyline(rows, format="xyb", close=True)
        block.add_circle((10, 5), 2)
        attributes = {"xscale": 2.0, "yscale": 1.0, "rotation": 30}
        document.modelspace().add_blockref("SLOT", (0, 0), dxfattribs=attributes)

    (part,) = drawn(tmp_path, draw).parts
    assert part.area == pytest.approx(2 * (200 + 25 * math.pi - 4 * math.pi), rel=1e-4)


def test_blocks_that_are_skewed(tmp_path: Path) -> None:
    """Turned inside and stretched outside: lines by the formula, areas by the determinant."""

    def draw(document: Document) -> None:
        inner = document.blocks.new("IN")
        rows = [(0, 0, 0), (60, 0, 0.4), (60, 30, 0), (0, 30, -0.3)]
        inner.add_lwpolyline(rows, format="xyb", close=True)
        outer = document.blocks.new("OUT")
        outer.add_blockref("IN", (5, 5), dxfattribs={"rotation": 20})
        attributes = {"xscale": -2, "yscale": 1.2, "rotation": 33, "extrusion": (0, 0, -1)}
        document.modelspace().add_blockref("OUT", (0, 0), dxfattribs=attributes)

    (part,) = drawn(tmp_path, draw).parts

    def segment(bulge: float) -> float:
        angle, radius = 4 * math.atan(bulge), 30 * (1 + bulge**2) / (4 * bulge)
        return radius**2 * (angle - math.sin(angle)) / 2

    assert part.area == pytest.approx(2.4 * (1800 + segment(0.4) - segment(0.3)), rel=1e-4)
    starts, ends, bulges = part.outer.segments
    lengths = [
        math.dist(a, b) for a, b, bulge in zip(starts, ends, bulges, strict=True) if not bulge
    ]
    turned = math.radians(20)
    side = math.hypot(2 * 60 * math.cos(turned), 1.2 * 60 * math.sin(turned))
    assert lengths == pytest.approx([side, side])


def test_arrays_of_blocks(tmp_path: Path) -> None:
    """The grid of an array turns with it, and is not scaled."""

    def draw(document: Document) -> None:
        document.blocks.new("HOLE").add_circle((0, 0), 1)
        attributes = {
            "row_count": 2,
            "column_count": 3,
            "row_spacing": 12,
            "column_spacing": 10,
            "rotation": 90,
            "xscale": 2,
            "yscale": 2,
        }
        document.modelspace().add_blockref("HOLE", (30, 10), dxfattribs=attributes)

    (part,) = with_square(tmp_path, draw).parts
    centres = {tuple(c.points.mean(axis=0).round(9)) for c in part.inners}
    assert centres == {(x, y) for x in (30, 18) for y in (10, 20, 30)}
    assert all(c.length == pytest.approx(4 * math.pi) for c in part.inners)


def test_one_bad_entity_does_not_stop_the_others(tmp_path: Path) -> None:
    """NaN, a missing block and a mesh are told with their handles; the square is read."""

    def draw(document: Document) -> None:
        space = document.modelspace()
        space.add_circle((math.nan, 0), 3)
        space.add_blockref("NOWHERE", (0, 0))
        space.add_polymesh((3, 3))
        space.add_3dface([(0, 0, 0), (1, 0, 0), (1, 1, 1)])

    drawing = with_square(tmp_path, draw)
    assert codes(drawing) == ["bad-number", "missing-block", "solid-geometry", "solid-geometry"]
    assert all(f.handle for f in drawing.findings)
    assert drawing.parts[0].area == 1600


def test_many_like_findings_are_one(tmp_path: Path) -> None:
    """With their number, some places, and the first handles."""

    def draw(document: Document) -> None:
        for i in range(40):
            document.modelspace().add_line((i, 1), (i, 1))

    (found,) = with_square(tmp_path, draw).findings
    assert (found.code, len(found.places)) == ("zero-length", 20)
    assert "(40 times; handles " in found.message


def test_a_plate_of_slots_that_all_cross_is_told_briefly(tmp_path: Path) -> None:
    """60 crossings: the first 50 one by one, the rest in one finding."""

    def draw(document: Document) -> None:
        for i in range(61):
            x = 100 + 10 * i
            corners = [(x, 0), (x + 11, 0.1 * i), (x + 11, 20), (x, 20)]
            document.modelspace().add_lwpolyline(corners, close=True)

    crossing = [f for f in with_square(tmp_path, draw).findings if f.code == "contours-cross"]
    assert len(crossing) == 51
    assert "10 more pairs" in crossing[-1].message


def test_an_empty_model_space_says_where_the_drawing_may_be(tmp_path: Path) -> None:
    """What is drawn on paper only is not read."""
    drawing = drawn(tmp_path, lambda d: d.paperspace().add_circle((0, 0), 5))
    (found,) = drawing.findings
    assert found.code == "no-parts"
    assert "paper" in found.message


def test_reading_leaves_no_words_on_the_terminal(
    tmp_path: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    """Warnings of the library stay inside."""
    with_square(tmp_path, lambda d: d.modelspace().add_blockref("NOWHERE", (0, 0)))
    assert capfd.readouterr() == ("", "")
