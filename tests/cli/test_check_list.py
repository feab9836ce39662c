"""`nestlib check --list`: from a folder of drawings to a list that can be nested."""

import json

from fixtures import plain_dxf as dxf
from tests.command import LIST, SQUARE, has_all, nestlib, refused

_TWO = dxf.dxf(dxf.rectangle(0, 0, 60, 40), dxf.rectangle(100, 0, 30, 30))
_OPEN = dxf.dxf(dxf.polyline([(0, 0), (60, 0), (60, 40), (0, 40)], closed=False))


def test_what_can_be_cut_is_listed_and_nested(tmp_path):
    """A square, and a drawing with two plates; an open contour is left out."""
    (tmp_path / "drawings").mkdir()
    for name, drawing in (("square", SQUARE), ("two", _TWO), ("open", _OPEN)):
        (tmp_path / "drawings" / f"{name}.dxf").write_text(drawing)
    files = [f"drawings/{name}.dxf" for name in ("open", "square", "two")]
    assert nestlib(tmp_path, "check", *files, "--list", "list.csv").exit_code == 1
    rows = (tmp_path / "list.csv").read_text().splitlines()
    assert rows[0] == "drawing,index,name,quantity,units"
    assert [row.split(",")[:2] for row in rows[1:]] == [
        ["drawings/square.dxf", ""],
        ["drawings/two.dxf", "1"],
        ["drawings/two.dxf", "2"],
    ]
    assert nestlib(tmp_path, *LIST).exit_code == 0
    plan = json.loads((tmp_path / "plan" / "plan.json").read_text())
    assert [part["placed"] for part in plan["parts"]] == [1, 1, 1]


def test_a_list_is_never_written_over(tmp_path):
    """Whoever filled in quantities keeps them."""
    (tmp_path / "square.dxf").write_text(SQUARE)
    (tmp_path / "list.csv").write_text("drawing,quantity\nsquare.dxf,12\n")
    told = refused(tmp_path, "check", "square.dxf", "--list", "list.csv")
    assert has_all(told, "list.csv", "already")


def test_a_list_is_csv(tmp_path):
    """Another ending is refused before anything is read."""
    (tmp_path / "square.dxf").write_text(SQUARE)
    told = refused(tmp_path, "check", "square.dxf", "--list", "list.xlsx")
    assert has_all(told, "list.csv")
