"""Due dates, kits and parts kept apart, from the job file to the plan and its check."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from fixtures import plain_dxf as dxf
from tests.command import LIST, NEST, SQUARE, has_all, nestlib, refused, write_job

SECOND = '\n[[part]]\ndrawing = "strip.dxf"\n'
STRIP = dxf.dxf(dxf.rectangle(0, 0, 200, 40))

#: What is added to the second part, and words that the message must have.
SPOILT = {
    "due in words": ('due = "tomorrow"', ["line 23", "tomorrow", "year-month-day"]),
    "due on no day": ('due = "2030-02-30"', ["line 23", "2030-02-30", "calendar"]),
    "none on a sheet": ("most_per_sheet = 0", ["line 23", "most_per_sheet", "1 or more"]),
    "apart from nobody": ('apart = "sqare"', ["line 23", "sqare", "did you mean", "square"]),
    "need of a part": ("need = 3", ["line 21", "need", "filler"]),
}


def conditions(folder: Path, said: str) -> None:
    """Write a job of two squares and a strip with conditions; sheets as many as needed."""
    more = ("quantity = 2\n", "quantity = 2\n" + SECOND + said + "\n")
    write_job(folder, ('size = "500x400"\nquantity = 1\n', 'size = "500x400"\n\n'), more)
    (folder / "strip.dxf").write_text(STRIP)


@pytest.mark.parametrize("case", SPOILT)
def test_a_spoilt_condition_is_refused(case: str, tmp_path: Path) -> None:
    """The message names line, key and value."""
    said, words = SPOILT[case]
    conditions(tmp_path, said)
    message = refused(tmp_path, *NEST)
    assert has_all(message, *words), message


def test_a_spoilt_condition_in_a_list_is_refused(tmp_path: Path) -> None:
    """All rows at once, each with its column."""
    (tmp_path / "square.dxf").write_text(SQUARE)
    rows = ["square.dxf,lid,1,soon,", "square.dxf,base,1,,0"]
    text = "\n".join(["drawing,name,quantity,due,most_per_sheet", *rows])
    (tmp_path / "list.csv").write_text(text)
    message = refused(tmp_path, *LIST)
    assert has_all(message, "row 2, column due", "soon", "row 3, column most_per_sheet"), message


def test_conditions_are_kept_told_and_checked(tmp_path: Path) -> None:
    """The strip is due and cut first, on a sheet of its own; moved to the squares it is found."""
    conditions(tmp_path, 'due = 2030-05-01\napart = "square"\nkit = "stand"')
    told = nestlib(tmp_path, *(word for word in NEST if word != "--quiet"))
    assert told.exit_code == 0, told.output
    assert has_all(told.stdout, "Due 2030-05-01: strip: done with layout 1", "Kit stand: layout 1")
    assert nestlib(tmp_path, "verify", "plan").exit_code == 0
    path = tmp_path / "plan" / "plan.json"
    record = json.loads(path.read_text(encoding="utf-8"))
    first, second = record["layouts"]
    assert [p["part"] for p in first["placements"]] == ["strip"]
    second["placements"] += first["placements"]
    path.write_text(json.dumps(record), encoding="utf-8")
    found = nestlib(tmp_path, "verify", "plan")
    assert found.exit_code == 1
    assert has_all(found.output, "not-apart", "'square' and 'strip' lie on one sheet")
