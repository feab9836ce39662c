"""`nestlib check --list`: from a folder of drawings to a list that can be nested."""

import json

import pytest

from fixtures import plain_dxf as dxf
from tests.command import LIST, NEST, SQUARE, has_all, nestlib, refused, write_job

_TWO = dxf.dxf(dxf.rectangle(0, 0, 60, 40), dxf.rectangle(100, 0, 30, 30))
_FOUR_BY_TWO = dxf.rectangle(0, 0, 4, 2)
_INCHES = dxf.dxf(_FOUR_BY_TWO, units=1)
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


def _placed_size(folder):
    """Length and width of the only part of a plan, in mm."""
    (part,) = json.loads((folder / "plan" / "plan.json").read_text())["parts"]
    points = part["contours"]["outer"]["points"]
    return tuple(max(p[i] for p in points) - min(p[i] for p in points) for i in (0, 1))


def test_the_unit_for_drawings_that_give_none_leaves_inches_alone(tmp_path):
    """4 x 2 in are 101.6 x 50.8 mm: the inch is 25.4 mm by definition."""
    (tmp_path / "inches.dxf").write_text(_INCHES)
    (tmp_path / "none.dxf").write_text(dxf.dxf(dxf.rectangle(0, 0, 60, 40), units=None))
    told = nestlib(tmp_path, "check", "inches.dxf", "none.dxf", "--units", "mm", "--json")
    assert [d["units"] for d in json.loads(told.stdout)] == ["in", "mm"]
    for files in (("inches.dxf", "none.dxf"), ("inches.dxf",)):
        (tmp_path / "list.csv").unlink(missing_ok=True)
        nestlib(tmp_path, "check", *files, "--units", "mm", "--list", "list.csv")
        rows = (tmp_path / "list.csv").read_text().splitlines()[1:]
        assert [row.split(",")[-1] for row in rows] == ["", "mm"][: len(files)]
    result = nestlib(tmp_path, *LIST, "--json")
    assert result.exit_code == 0
    assert _placed_size(tmp_path) == pytest.approx((101.6, 50.8))
    assert "says" not in result.stderr


@pytest.mark.parametrize("by", ["list", "job"])
def test_a_plan_says_that_an_entry_overrules_the_file(tmp_path, by):
    """Part list and job file: in the plan, and on stderr however quiet it is."""
    if by == "list":
        (tmp_path / "square.dxf").write_text(_INCHES)
        (tmp_path / "list.csv").write_text("drawing,quantity,units\nsquare.dxf,1,mm\n")
        result = nestlib(tmp_path, *LIST)
    else:
        entry = ("quantity = 2", 'quantity = 2\nunits = "mm"')
        write_job(tmp_path, entry, drawing=_INCHES)
        result = nestlib(tmp_path, *NEST)
    assert result.exit_code == 0
    plan = json.loads((tmp_path / "plan" / "plan.json").read_text())
    for told in (plan["cautions"][0], result.stderr):
        assert has_all(told, "square.dxf", "file says in", "entry says mm", "25.4 times smaller")


def test_a_list_counts_what_is_drawn_and_remembers_no_gap(tmp_path):
    """Two squares drawn alike are one part; --join has to be said again."""
    twice = dxf.dxf(dxf.rectangle(0, 0, 30, 30), dxf.rectangle(50, 0, 30, 30))
    (tmp_path / "twice.dxf").write_text(twice)
    words = ("check", "twice.dxf", "--list", "list.csv", "--join", "0.2")
    told = nestlib(tmp_path, *words).stderr
    assert has_all(told, "1 part,", "as often as it is drawn", "--join 0.2")
    assert "1 parts" not in told
    assert len((tmp_path / "list.csv").read_text().splitlines()) == 2


def test_no_list_is_written_of_nothing(tmp_path):
    """An open contour cannot be cut, and a list without parts cannot be nested."""
    (tmp_path / "open.dxf").write_text(_OPEN)
    result = nestlib(tmp_path, "check", "open.dxf", "--list", "list.csv", "--quiet")
    assert result.exit_code == 1
    assert has_all(result.stderr, "no drawing can be cut", "list.csv was not written")
    assert not (tmp_path / "list.csv").exists()
