"""Plans that somebody changed by hand: each lie is named."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from nestlib.errors import InputError
from nestlib.model import Contour
from nestlib.verifying import verify
from nestlib.verifying.curves import Curve
from nestlib.verifying.regions import meeting_point

Rows = list[tuple[float, float]]

#: What is left above the plates and their 4 mm; 300 x 116 mm.
ABOVE: Rows = [(0, 84), (300, 84), (300, 200), (0, 200)]


def _codes(folder: Any) -> set[str]:
    return {v.code for v in verify(folder.write()).violations}


def _outline(rows: Rows) -> dict[str, Any]:
    return {"points": [list(p) for p in rows], "bulges": [0.0] * len(rows), "closed": True}


def _keep(folder: Any, rows: Rows = ABOVE, name: str = "rest", **more: Any) -> None:
    """Add a remnant to plan and drawing."""
    area = abs(Curve.of(Contour(rows)).area)
    remnant = {
        "name": name, "layout": 0, "sheet": "big", "runs": 1, "outline": _outline(rows),
        "area": area, **more,
    }  # fmt: skip
    folder.record["remnants"].append(remnant)
    folder.drawn.append(("remnant", [(x, y, 0) for x, y in rows], True))


def _box(x0: float, y0: float, x1: float, y1: float) -> Rows:
    return [(x0, y0), (x1, y0), (x1, y1), (x0, y1)]


@pytest.mark.parametrize("version", ["R12", "R2010"])
def test_a_remnant_just_far_enough_passes(folder: Any, version: str) -> None:
    """Spacing + 2 kerf = 4 mm above the plates."""
    folder.version = version
    _keep(folder)
    assert _codes(folder) == set()


@pytest.mark.parametrize(
    ("rows", "code"),
    [
        (_box(0, 83.9999, 300, 200), "remnant-too-close"),
        (_box(0, 50, 300, 200), "remnant-too-close"),
        (_box(60, 40, 62, 42), "remnant-too-close"),
        (_box(0, 0, 16.6, 80), "remnant-too-close"),
        (_box(0, 84, 300.001, 200), "remnant-off-sheet"),
        (_box(400, 84, 500, 200), "remnant-off-sheet"),
        ([(0, 84), (300, 84), (0, 200), (300, 200)], "not-a-region"),
    ],
)
def test_a_remnant_in_the_wrong_place_is_named(folder: Any, rows: Rows, code: str) -> None:
    """Near or in a piece, in the hole of one, 0.4 mm from a lead's pierce, off the sheet."""
    _keep(folder, rows)
    assert code in _codes(folder)


@pytest.mark.parametrize(("right", "codes"), [(16.5, set()), (16.51, {"remnant-too-close"})])
def test_a_remnant_keeps_one_kerf_from_leads(folder: Any, right: float, codes: set[str]) -> None:
    """The lead begins at (17, 20); the plate is drawn further away, out of the way."""
    _keep(folder, _box(0, 0, right, 20.0))
    _, rows, _ = folder.drawn[3]
    folder.drawn[3] = "outer", [(21, 20, 0), *rows[1:3], (21, 80, 0)], True
    found = {v.code for v in verify(folder.write()).violations if v.code.startswith("remnant")}
    assert found == codes


def test_a_remnant_in_a_hole_or_keep_out_of_its_sheet_is_named(folder: Any) -> None:
    """Neither is free metal."""
    zone = [(240.0, 100.0), (260.0, 100.0), (260.0, 150.0)]
    folder.record["sheets"][0]["keep_outs"] = [_outline(zone)]
    folder.drawn.append(("keep_out", [(x, y, 0) for x, y in zone], True))
    _keep(folder)
    assert _codes(folder) == {"remnant-off-sheet"}


@pytest.mark.parametrize(
    ("claim", "code"),
    [
        ({"area": 35000.0}, "remnant-area-differs"),
        ({"runs": 2}, "remnant-differs"),
        ({"sheet": "other"}, "remnant-differs"),
    ],
)
def test_what_is_said_of_a_remnant_has_to_be_true(
    folder: Any, claim: dict[str, Any], code: str
) -> None:
    """Its area, its sheet and how many there are."""
    _keep(folder, **claim)
    assert _codes(folder) == {code}


def test_remnants_that_overlap_are_named(folder: Any) -> None:
    """The same metal cannot be kept twice."""
    _keep(folder)
    _keep(folder, _box(100, 100, 200, 200), name="again")
    assert _codes(folder) == {"remnants-overlap"}


@pytest.mark.parametrize("where", ["plan", "drawing"])
def test_a_remnant_is_in_the_plan_and_drawn(folder: Any, where: str) -> None:
    """One of the two alone is a lie."""
    _keep(folder)
    folder.record["remnants"].pop() if where == "drawing" else folder.drawn.pop()
    assert _codes(folder) == {"remnant-differs"}


def test_a_remnant_of_a_layout_that_is_not_there_is_refused(folder: Any) -> None:
    """The message names the place."""
    _keep(folder, layout=1)
    with pytest.raises(InputError, match=r"remnants\[0\]\.layout"):
        verify(folder.write())


@pytest.mark.parametrize("key", ["cut_length", "mark_length", "rapid_length"])
def test_a_length_that_the_path_does_not_have_is_named(folder: Any, key: str) -> None:
    """By a hundredth of a millimetre."""
    folder.write()
    folder.record["layouts"][0][key] += 0.01
    assert _codes(folder) == {"length-differs"}


def test_the_lengths_of_the_sample_are_those_worked_out_by_hand(folder: Any) -> None:
    """Two plates, two holes, a disc and leads of 4, 3 and 5 mm; two marks of 10 mm."""
    folder.record["layouts"][0]["cut_length"] = 2 * 320 + 100 * 3.141592653589793 + 12
    folder.record["layouts"][0]["mark_length"] = 20.0
    assert _codes(folder) == set()


@pytest.mark.parametrize("order", [0, 2, 7])
def test_cuts_are_numbered_in_their_order(folder: Any, order: int) -> None:
    """1 to n, none left out and none twice."""
    folder.record["layouts"][0]["path"][0]["order"] = order
    assert "path-misnumbered" in _codes(folder)


def test_the_contour_and_length_of_a_cut_are_its_parts(folder: Any) -> None:
    """A cut names a contour, and repeats it for those who draw the path."""
    folder.write()
    folder.record["layouts"][0]["path"][6]["contour"]["points"][2][0] += 1
    assert _codes(folder) == {"cut-differs"}
    folder.record["layouts"][0]["path"][6]["contour"]["points"][2][0] -= 1
    folder.record["layouts"][0]["path"][6]["length"] += 1
    assert _codes(folder) == {"length-differs"}


def test_a_mark_begins_at_one_of_its_ends(folder: Any) -> None:
    """An open contour cannot be cut from its middle."""
    folder.record["layouts"][0]["path"][4].update(start=[135, 25], pierce=[135, 25])
    assert "start-off-contour" in _codes(folder)


@pytest.mark.parametrize(("key", "value"), [("sheets", 2), ("cost", 20.01)])
def test_a_plan_cannot_beat_its_own_bound(folder: Any, key: str, value: float) -> None:
    """Unless pieces are missing from it."""
    folder.record["bound"][key] = value
    assert _codes(folder) == {"bound-too-high"}
    folder.record["parts"][0]["quantity"] = 3
    folder.record["unplaced"] = [{"part": "plate", "quantity": 1, "reason": "no room"}]
    assert _codes(folder) == set()


def _block(document: Any, layer: str, space: Any) -> None:
    block = document.blocks.new("plate")
    block.add_circle((0, 0), 5, {"layer": "CUT_OUTER"})
    space.add_blockref("plate", (100, 150), {"layer": layer})


def _hide(document: Any, layer: str, how: str) -> None:
    getattr(document.layers.get(layer), how)()


def _text(document: Any, number: str) -> Any:
    return next(t for t in document.modelspace().query("TEXT") if t.dxf.text == number)


EDITS: dict[str, tuple[Any, str]] = {
    "a circle on layer 0": (lambda d: d.modelspace().add_circle((9, 9), 5), "unknown-layer"),
    "a circle on a layer of its own": (
        lambda d: d.modelspace().add_circle((9, 9), 5, {"layer": "OTHER"}),
        "unknown-layer",
    ),
    "a block on layer 0": (lambda d: _block(d, "0", d.modelspace()), "block-reference"),
    "a block to cut": (lambda d: _block(d, "CUT_OUTER", d.modelspace()), "block-reference"),
    "a block in the order": (lambda d: _block(d, "CUT_ORDER", d.modelspace()), "block-reference"),
    "a block as a label": (lambda d: _block(d, "PART_NAME", d.modelspace()), "block-reference"),
    "a block on paper": (lambda d: _block(d, "PART_NAME", d.layout("Layout1")), "paper-space"),
    "a line on paper": (
        lambda d: d.layout("Layout1").add_line((0, 0), (9, 9), {"layer": "CUT_OUTER"}),
        "paper-space",
    ),
    "a layer that is off": (lambda d: _hide(d, "CUT_INNER", "off"), "hidden"),
    "a layer that is frozen": (lambda d: _hide(d, "CUT_OUTER", "freeze"), "hidden"),
    "a contour that cannot be seen": (
        lambda d: d.modelspace().query("CIRCLE").first.dxf.set("invisible", 1),
        "hidden",
    ),
    "a line across the parts": (
        lambda d: d.modelspace().add_line((0, 50), (300, 50), {"layer": "CUT_ORDER"}),
        "rapid-differs",
    ),
    "a rapid that is missing": (lambda d: d.modelspace().query("LINE").first.destroy(),
                                "rapid-differs"),
    "a rapid drawn twice": (
        lambda d: d.modelspace().add_line((0, 0), (25, 25), {"layer": "CUT_ORDER"}),
        "rapid-differs",
    ),
    "a circle in the order": (
        lambda d: d.modelspace().add_circle((50, 50), 5, {"layer": "CUT_ORDER"}),
        "not-a-rapid",
    ),
    "a line among the labels": (
        lambda d: d.modelspace().add_line((0, 50), (300, 50), {"layer": "PART_NAME"}),
        "not-a-label",
    ),
    "a line among the remnants": (
        lambda d: d.modelspace().add_line((0, 50), (300, 50), {"layer": "REMNANT"}),
        "not-a-contour",
    ),
    "a number that is missing": (lambda d: _text(d, "3").destroy(), "order-number-differs"),
    "a number elsewhere": (lambda d: _text(d, "3").translate(1, 0, 0), "order-number-differs"),
    "a number changed": (lambda d: _text(d, "3").dxf.set("text", "4"), "order-number-differs"),
    "a number too many": (
        lambda d: d.modelspace().add_text("8", dxfattribs={"layer": "CUT_ORDER"}),
        "order-number-differs",
    ),
}  # fmt: skip


#: R12 knows no entities that cannot be seen.
CASES = [(c, v) for c in EDITS for v in ("R12", "R2010") if (v, "seen" in c) != ("R12", True)]


@pytest.mark.parametrize(("case", "version"), CASES)
def test_what_does_not_belong_in_the_drawing_is_named(folder: Any, case: str, version: str) -> None:
    """In both DXF versions, and nothing else is wrong then."""
    edit, code = EDITS[case]
    folder.version = version
    folder.edits.append(edit)
    assert _codes(folder) == {code}


def test_labels_are_free(folder: Any) -> None:
    """Any text may stand on the layer of the names."""
    folder.edits.append(
        lambda d: d.modelspace().add_text("stand plate", dxfattribs={"layer": "PART_NAME"})
    )
    assert _codes(folder) == set()


def test_a_part_that_crosses_itself_is_no_region(folder: Any) -> None:
    """Though plan and drawing agree."""
    rows = [(0.0, 0.0), (100.0, 60.0), (100.0, 0.0), (0.0, 60.0)]
    folder.record["parts"][0]["contours"]["outer"] = _outline(rows)
    for index, x in ((3, 20.0), (6, 125.0)):
        folder.drawn[index] = "outer", [(x + px, 20 + py, 0) for px, py in rows], True
    codes = _codes(folder)
    assert "not-a-region" in codes
    assert "contour-missing" not in codes


@pytest.mark.parametrize("centre", [(10.0, 30.0), (20.0, 30.0), (-50.0, 30.0)])
def test_a_hole_that_leaves_its_part_is_no_region(folder: Any, centre: tuple[float, float]) -> None:
    """It crosses the outer contour, touches it, or lies beside it."""
    x, y = centre
    hole = folder.record["parts"][0]["contours"]["inners"][0]
    hole["points"] = [[x + 20, y], [x - 20, y]]
    assert "not-a-region" in _codes(folder)


def test_a_contour_too_many_that_crosses_itself_is_named(folder: Any) -> None:
    """One that is in the drawing alone."""
    folder.drawn.append(("outer", [(20, 120, 0), (60, 160, 0), (60, 120, 0), (20, 160, 0)], True))
    assert {"not-a-region", "contour-not-in-plan"} <= _codes(folder)


QUARTER = 0.41421356237309503


@pytest.mark.parametrize(
    ("points", "bulges", "right"),
    [
        (_box(0, 0, 10, 10), [0, 0, 0, 0], True),
        ([(5, 0), (-5, 0)], [1, 1], True),
        ([(5, 0), (-5, 0)], [1, -1], False),
        ([(5, 0), (-5, 0)], [0, 0], False),
        ([(5, 0), (-5, 0)], [1, 0], True),
        ([(0, 0), (10, 0), (10, 10), (0, 10)], [0, QUARTER, 0, QUARTER], True),
        ([(0, 0), (10, 10), (10, 0), (0, 10)], [0, 0, 0, 0], False),
        ([(0, 0), (10, 0), (5, 0), (5, 5)], [0, 0, 0, 0], False),
        ([(0, 0), (10, 0), (10, 10), (5, 0), (0, 10)], [0, 0, 0, 0, 0], False),
        ([(0, 0), (10, 0), (10, 10), (5, 1e-5), (0, 10)], [0, 0, 0, 0, 0], True),
        ([(0, 0), (10, 0), (10, 5), (0, 5)], [0, 0, -1, 0], False),
        ([(0, 0), (10, 0), (10, 5.0001), (0, 5.0001)], [0, 0, -1, 0], True),
        ([(0, 0), (10, 0), (10, 4.9999), (0, 4.9999)], [0, 0, -1, 0], False),
        ([(0, 0), (10, 0), (10, 8), (0, 8)], [-1, 0, -1, 0], False),
        ([(0, 0), (10, 0), (10, 10.0001), (0, 10.0001)], [-1, 0, -1, 0], True),
        ([(0, 0), (10, 0), (10, 10), (0, 10)], [-1, 0, -1, 0], False),
    ],
)
def test_contours_meet_exactly_where_their_arcs_do(
    points: Rows, bulges: list[float], right: bool
) -> None:
    """A gap of a hundredth of a micrometre is one, a touch is none; arcs count as arcs."""
    point = meeting_point([Curve.of(Contour(points, bulges))])
    assert (point is None) == right


@pytest.mark.parametrize(("gap", "right"), [(1e-4, True), (0.0, False), (-1e-4, False)])
def test_two_circles_meet_if_they_touch(gap: float, right: bool) -> None:
    """Two discs side by side, and one in the other."""
    one = Curve.of(Contour.circle((0, 0), 10))
    apart = Curve.of(Contour.circle(((15 + gap) * 0.6, (15 + gap) * 0.8), 5))
    within = Curve.of(Contour.circle(((5 - gap) * 0.6, (5 - gap) * 0.8), 5))
    for other in (apart, within):
        assert (meeting_point([one, other]) is None) == right


def test_a_missing_layout_is_a_violation(folder: Any) -> None:
    """Not an error: everything else is checked all the same."""
    folder.record["layouts"][0]["pierces"] = 4
    path: Path = folder.write()
    (path / "sheet-001.dxf").unlink()
    found = verify(path)
    assert {v.code for v in found.violations} == {"layout-missing", "figure-differs"}
    assert found.pieces == 0
    assert found.between_parts is None


def test_a_layout_that_is_a_folder_is_refused(folder: Any) -> None:
    """In one sentence, without the number of an error."""
    path: Path = folder.write()
    (path / "sheet-001.dxf").unlink()
    (path / "sheet-001.dxf").mkdir()
    with pytest.raises(InputError) as error:
        verify(path)
    assert "Errno" not in str(error.value)
    assert "sheet-001.dxf" in str(error.value)
