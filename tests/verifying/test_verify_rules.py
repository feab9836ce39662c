"""Each rule of a plan, broken once: the verifier has to name it."""

from __future__ import annotations

import copy
import json
import random
from contextlib import suppress
from typing import Any

import ezdxf
import pytest

from nestlib.errors import InputError
from nestlib.model import Verification
from nestlib.verifying import verify

OUTER_2 = 6  # the second plate among the drawn contours
DISC = 7


def _codes(folder: Any) -> set[str]:
    return {v.code for v in verify(folder.write()).violations}


def _shift(folder: Any, index: int, dx: float, dy: float = 0.0) -> None:
    role, rows, closed = folder.drawn[index]
    folder.drawn[index] = role, [(x + dx, y + dy, b) for x, y, b in rows], closed


def _shift_plate(folder: Any, dx: float, dy: float = 0.0) -> None:
    """Move the second plate, in the drawing and in the plan alike."""
    for index in (4, 5, 6, 10):
        _shift(folder, index, dx, dy)
    placement = folder.record["layouts"][0]["placements"][1]
    placement["x"] += dx
    placement["y"] += dy
    for cut in folder.record["layouts"][0]["path"]:
        if cut["placement"] == 1:
            for point in (cut["start"], cut["pierce"], *(cut["lead"] or {"points": []})["points"]):
                point[0] += dx
                point[1] += dy


@pytest.mark.parametrize("version", ["R12", "R2010"])
def test_a_sound_plan_passes_with_its_smallest_distances(folder: Any, version: str) -> None:
    """Distances are exact: plates 5 mm apart, the disc 10 mm from its hole, 20 to the edge."""
    folder.version = version
    found = verify(folder.write())
    assert found.violations == ()
    assert found.between_parts == pytest.approx(5.0, abs=1e-9)
    assert found.to_edge == pytest.approx(20.0, abs=1e-9)
    assert found.largest_deviation <= 1e-9
    assert found.pieces == 3


def test_a_part_moved_in_the_drawing_alone_is_found(folder: Any) -> None:
    """A contour that is not where the plan puts it is missing there and too many here."""
    _shift(folder, OUTER_2, 0.00001)
    assert {"contour-missing", "contour-not-in-plan"} <= _codes(folder)


def test_a_part_moved_too_close_is_found(folder: Any) -> None:
    """Moved by 1.00001 mm in plan and drawing, two plates are 0.00001 mm too close."""
    _shift_plate(folder, -1.00001)
    found = verify(folder.write())
    assert {v.code for v in found.violations} == {"parts-too-close"}
    assert found.between_parts == pytest.approx(3.99999, abs=1e-9)


def test_a_part_moved_just_as_close_as_allowed_passes(folder: Any) -> None:
    """At exactly the distance demanded there is no violation."""
    _shift_plate(folder, -1.0)
    assert _codes(folder) == set()


def test_parts_that_overlap_are_found(folder: Any) -> None:
    """Overlapping metal is told apart from metal that is only too close."""
    _shift_plate(folder, -10)
    assert "parts-overlap" in _codes(folder)


@pytest.mark.parametrize(("move", "right"), [(6.0001, False), (5.9999, True)])
def test_a_disc_in_a_hole_keeps_its_distance_exactly(folder: Any, move: float, right: bool) -> None:
    """The distance between two arcs is worked out without flattening: 10 - move >= 4."""
    _shift(folder, DISC, move)
    folder.drawn.pop(8)  # its lead has no room there
    layout = folder.record["layouts"][0]
    layout["placements"][2]["x"] += move
    layout["path"][1].update(start=[80 + move, 50], pierce=[80 + move, 50], lead=None)
    found = verify(folder.write())
    assert {v.code for v in found.violations} == (set() if right else {"parts-too-close"})
    assert found.between_parts == pytest.approx(10 - move, abs=1e-9)


def test_a_part_too_close_to_the_edge_is_found(folder: Any) -> None:
    """Contours keep margin + kerf = 10.5 mm from the sheet's edge."""
    _shift_plate(folder, 64.6)
    found = verify(folder.write())
    assert {v.code for v in found.violations} == {"too-close-to-edge"}
    assert found.to_edge == pytest.approx(10.4, abs=1e-9)


def test_a_part_beyond_the_edge_is_found(folder: Any) -> None:
    """A part that leaves the sheet is outside, whatever its distance from the edge."""
    _shift_plate(folder, 400)
    assert "outside-sheet" in _codes(folder)


def test_a_part_on_a_keep_out_zone_is_found(folder: Any) -> None:
    """Keep-out zones are no free metal."""
    rows = [(240.0, 100.0), (260.0, 100.0), (260.0, 150.0)]
    zone = {"points": rows, "bulges": [0, 0, 0], "closed": True}
    folder.record["sheets"][0]["keep_outs"] = [zone]
    folder.drawn.append(("keep_out", [(x, y, 0) for x, y in rows], True))
    assert _codes(folder) == set()
    _shift_plate(folder, 20, 30)
    assert "outside-sheet" in _codes(folder)


def _set(*path: Any) -> Any:
    """Return a function that sets one value of a plan: keys and indices, then the value."""

    def spoil(folder: Any) -> None:
        at = folder.record
        for key in path[:-2]:
            at = at[key]
        at[path[-2]] = path[-1]

    return spoil


def _swap_cuts(folder: Any) -> None:
    path = folder.record["layouts"][0]["path"]
    path[2], path[3] = path[3], path[2]


def _disc_last(folder: Any) -> None:
    path = folder.record["layouts"][0]["path"]
    path.append(path.pop(1))


def _forget_cut(folder: Any) -> None:
    folder.record["layouts"][0]["path"].pop()


def _repeat_cut(folder: Any) -> None:
    path = folder.record["layouts"][0]["path"]
    path.append(path[-1])


def _lead_through(folder: Any) -> None:
    rows = [(30, 22, 0), (20, 20, 0)]
    folder.drawn[9] = "lead", rows, False
    cut = folder.record["layouts"][0]["path"][3]
    cut["pierce"] = [30, 22]
    cut["lead"]["points"] = [[30, 22], [20, 20]]


def _lead_off_sheet(folder: Any) -> None:
    folder.drawn[9] = "lead", [(-1, 20, 0), (20, 20, 0)], False
    cut = folder.record["layouts"][0]["path"][3]
    cut["pierce"] = [-1, 20]
    cut["lead"]["points"] = [[-1, 20], [20, 20]]


def _move_lead(folder: Any) -> None:
    _shift(folder, 9, 0, 0.5)


def _drop_hole(folder: Any) -> None:
    folder.drawn.pop(2)


def _extra_part(folder: Any) -> None:
    folder.drawn.append(("outer", [(20, 120, 0), (40, 120, 0), (40, 140, 0)], True))


def _open_part(folder: Any) -> None:
    role, rows, _ = folder.drawn[OUTER_2]
    folder.drawn[OUTER_2] = role, rows, False
    folder.record["parts"][0]["contours"]["outer"]["closed"] = False


def _one_sheet_twice(folder: Any) -> None:
    folder.record["layouts"][0]["runs"] = 2
    folder.record["sheets"][0]["quantity"] = 1


PATH = ("layouts", 0)


@pytest.mark.parametrize(
    ("spoil", "code"),
    [
        (_set("parts", 0, "quantity", 3), "pieces-lost"),
        (_set("parts", 0, "quantity", 1), "too-many-pieces"),
        (_set("parts", 0, "placed", 1), "quantity-differs"),
        (_set("unplaced", [{"part": "plate", "quantity": 1, "reason": ""}]), "pieces-lost"),
        (_set("unplaced", [{"part": "x", "quantity": 1, "reason": ""}]), "unknown-part"),
        (_set("parts", 0, "area", 1.0), "figure-differs"),
        (_set("utilisation", 0.9), "figure-differs"),
        (_set("weight", 0.9), "figure-differs"),
        (_set("cost", 0.9), "figure-differs"),
        (_set(*PATH, "pierces", 2), "figure-differs"),
        (_set("parts", 0, "rotations", [90.0]), "turn-not-allowed"),
        (_set("parts", 0, "grain", 90.0), "turn-not-allowed"),
        (_set(*PATH, "placements", 1, "flip", True), "flip-not-allowed"),
        (_set(*PATH, "placements", 1, "rotation", 1e-5), "contour-missing"),
        (_set("sheets", 0, "outline", "points", 2, [299, 199]), "sheet-differs"),
        (_set(*PATH, "path", 6, "start", [125.1, 20.1]), "start-off-contour"),
        (_set(*PATH, "path", 6, "index", 1), "cut-unknown"),
        (_open_part, "contour-open"),
        (_one_sheet_twice, "too-many-sheets"),
        (_swap_cuts, "wrong-order"),
        (_disc_last, "cut-loose"),
        (_forget_cut, "not-cut"),
        (_repeat_cut, "cut-twice"),
        (_lead_through, "lead-enters-part"),
        (_lead_off_sheet, "lead-off-sheet"),
        (_move_lead, "lead-differs"),
        (_drop_hole, "contour-missing"),
        (_extra_part, "contour-not-in-plan"),
    ],
)
def test_a_broken_rule_is_named(folder: Any, spoil: Any, code: str) -> None:
    """The violation has the code of the rule that was broken."""
    spoil(folder)
    assert code in _codes(folder)


@pytest.mark.parametrize(
    ("sheet_grain", "grain", "right"),
    [(0, 0, True), (0, 180, True), (90, 0, False), (30, 30, True)],
)
def test_grain_runs_along_the_sheets_either_way(
    folder: Any, sheet_grain: float, grain: float, right: bool
) -> None:
    """A part's grain has to equal the sheet's, modulo a half turn."""
    folder.record["sheets"][0]["grain"] = sheet_grain
    folder.record["parts"][0]["grain"] = grain
    assert ("turn-not-allowed" in _codes(folder)) == (not right)


def test_a_flipped_and_turned_contour_is_followed(folder: Any) -> None:
    """x becomes -x, then a quarter turn: (x, y) becomes (-y, -x)."""
    part = folder.record["parts"][0]
    part["flip"] = True
    rows = [(0, 0, 0), (100, 0, 0.1), (100, 60, 0), (0, 60, 0)]
    part["contours"]["outer"] = {
        "points": [[x, y] for x, y, _ in rows], "bulges": [b for *_, b in rows], "closed": True,
    }  # fmt: skip
    placement = folder.record["layouts"][0]["placements"][1]
    placement.update(flip=True, rotation=90.0, x=200.0, y=120.0)
    folder.drawn[OUTER_2] = "outer", [(200 - y, 120 - x, -b) for x, y, b in rows], True
    missing = [v for v in verify(folder.write()).violations if v.code == "contour-missing"]
    assert not any("outer contour of 'plate' (placement 1)" in v.message for v in missing)


def test_a_contour_may_start_anywhere_and_run_either_way(folder: Any) -> None:
    """Start, direction and a vertex more on a straight line do not matter."""
    role, rows, closed = folder.drawn[OUTER_2]
    more = [*rows[:1], ((rows[0][0] + rows[1][0]) / 2, rows[0][1], 0), *rows[1:]]
    folder.drawn[OUTER_2] = role, list(reversed(more[2:] + more[:2])), closed
    assert _codes(folder) == set()


def test_a_missing_drawing_is_a_note(folder: Any) -> None:
    """What cannot be compared is told, and is no violation."""
    source = {"file": "gone.dxf", "index": 0, "origin": [0, 0], "units": "mm", "sha256": None}
    folder.record["parts"][0]["source"] = source
    found = verify(folder.write())
    assert found.passed
    assert "gone.dxf" in found.notes[0]


@pytest.mark.parametrize(
    ("move", "join", "right"),
    [
        (0.0, None, True),
        (0.05, None, True),
        (0.2, None, False),
        (0.2, 0.2, True),
        (0.2, 0.1, False),
    ],
)
def test_a_part_has_to_lie_on_its_drawing(
    folder: Any, move: float, join: float | None, right: bool
) -> None:
    """In an inch file, shifted: a closed gap or a replaced curve is allowed, not more."""
    document = ezdxf.new()
    space = document.modelspace()
    x, y = (10 + move) / 25.4, 20 / 25.4
    space.add_lwpolyline(
        [(x, y), (x + 100 / 25.4, y), (x + 100 / 25.4, y + 60 / 25.4), (x, y + 60 / 25.4)],
        close=True,
    )
    space.add_circle((60 / 25.4, 50 / 25.4), 20 / 25.4)
    space.add_line((15 / 25.4, 25 / 25.4), (25 / 25.4, 25 / 25.4))
    document.saveas(folder.path / "plate.dxf")
    folder.record["parts"][0]["source"] = {
        "file": "plate.dxf", "index": 0, "origin": [10.0, 20.0], "units": "in", "sha256": None,
    }  # fmt: skip
    if join is not None:
        folder.record["parts"][0]["source"]["join"] = join
    found = verify(folder.write())
    assert found.notes == ()
    assert {v.code for v in found.violations} == (set() if right else {"not-as-drawn"})
    assert found.largest_deviation == pytest.approx(move, abs=2e-4)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "not valid JSON"),
        ("{", "not valid JSON"),
        ('{"format": "nestlib-plan", "version": 1, "sheets": [1]}', "table"),
        ("[]", "not a plan"),
        ('{"format": "nestlib-plan", "version": NaN}', "not valid JSON"),
        ('{"format": "other", "version": 1}', "not a plan"),
        ("[" * 100000, "not valid JSON"),
        ('{"format": "nestlib-plan", "version": 1}', "missing"),
    ],
)
def test_a_file_that_is_no_plan_is_refused(folder: Any, text: str, words: str) -> None:
    """The message names the file and what is wrong."""
    folder.write()
    (folder.path / "plan.json").write_text(text, encoding="utf-8")
    with pytest.raises(InputError) as error:
        verify(folder.path)
    assert "plan.json" in str(error.value)
    assert words in str(error.value)


def test_all_mistakes_are_told_at_once(folder: Any) -> None:
    """Each problem has its place."""
    folder.record["layouts"][0]["runs"] = "two"
    folder.record["sheets"][0]["outline"]["points"][0] = [1e308, 0]
    del folder.record["spacing"]["kerf"]
    folder.record["layouts"][0]["dxf"] = "../elsewhere.dxf"
    with pytest.raises(InputError) as error:
        verify(folder.write())
    places = {p.place for p in error.value.problems}
    assert {
        "spacing",
        "layouts[0].runs",
        "sheets[0].outline.points[0][0]",
        "layouts[0].dxf",
    } <= places


@pytest.mark.parametrize("name", ["missing", "sheet-001.dxf", "."])
def test_a_folder_without_a_plan_is_refused(folder: Any, name: str) -> None:
    """A folder that is missing, a file, or a folder without plan.json."""
    folder.write()
    (folder.path / "plan.json").unlink()
    with pytest.raises(InputError):
        verify(folder.path / name)


@pytest.mark.parametrize("content", [b"", b"hello", b"\0\xff" * 99, b"  0\nSECTION\n  2\nENTI"])
def test_a_layout_that_is_no_drawing_is_refused(folder: Any, content: bytes) -> None:
    """A broken or missing DXF file is bad input, not a traceback."""
    folder.write()
    (folder.path / "sheet-001.dxf").write_bytes(content)
    with pytest.raises(InputError, match=r"sheet-001\.dxf"):
        verify(folder.path)


def _places(value: Any, path: tuple[Any, ...] = ()) -> list[tuple[Any, ...]]:
    """Paths of all values in a nested structure."""
    items = value.items() if isinstance(value, dict) else enumerate(value)
    found = []
    for key, inner in items:
        found.append((*path, key))
        if isinstance(inner, dict | list):
            found += _places(inner, (*path, key))
    return found


def test_a_tampered_plan_is_judged_or_refused(folder: Any) -> None:
    """Whatever single value is replaced by whatever, the answer is a verdict or a message."""
    folder.write()
    dice = random.Random(7)
    values = [None, -1, 0, 1.5, 1e9, 10**400, "", "x", [], {}, [[]], True, "plate"]
    places = _places(folder.record)
    for _ in range(150):
        record = copy.deepcopy(folder.record)
        *path, last = dice.choice(places)
        at = record
        for key in path:
            at = at[key]
        at[last] = dice.choice(values)
        (folder.path / "plan.json").write_text(json.dumps(record), encoding="utf-8")
        with suppress(InputError):
            assert isinstance(verify(folder.path), Verification)


def test_a_drawing_in_svg_is_compared_by_its_page(folder: Any) -> None:
    """A page of 200 mm with a box of 400 units makes a unit half a millimetre; y runs down."""
    (folder.path / "plate.svg").write_text(
        '<svg xmlns="http://www.w3.org/2000/svg" width="200mm" height="200mm" '
        'viewBox="0 0 400 400"><path d="M20 160h200v-120h-200z"/><circle cx="120" cy="100" '
        'r="40"/><path d="M30 150h20" stroke="black"/></svg>',
        encoding="utf-8",
    )
    folder.record["parts"][0]["source"] = {
        "file": "plate.svg", "index": 0, "origin": [10.0, -80.0], "units": "mm", "sha256": None,
    }  # fmt: skip
    found = verify(folder.write())
    assert found.violations == ()
    assert found.notes == ()
    assert found.largest_deviation < 1e-3
