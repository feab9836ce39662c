"""From order lines in a job to what its plan means for each of them."""

import csv
import json
from pathlib import Path

import jsonschema
import pytest
from nestlib_cli.feedback import _tell

from nestlib import feedback_schema, plan_schema, read_plan, verify
from tests.command import JOB, NEST, contents, has_all, nestlib, refused, write_job

ORDERS = """\
quantity = 2
orders = [
  { line = "4711/10", quantity = 1, due = 2030-05-01 },
  { line = "4712/10", quantity = 1, due = 2030-04-01 },
]
"""


#: What an intake wrote beside the job: one line is planned, one is not, others were set aside.
INTAKE = {
    "format": "nestlib-intake",
    "version": 1,
    "jobs": [{"file": "job.toml"}, {"file": "failed.toml"}],
    "lines": [
        {"line": line, "part": part, "quantity": n, "metal": "mild-steel", "mm": 2.0, "due": None}
        for line, part, n in (("4711/10", "square", 1), ("4713/10", "base-plate", 3))
    ],
    "set_aside": [
        {"row": 5, "reason": "no drawing", "line": "4713/20", "part": "hook", "quantity": None},
        {"row": 6, "reason": "another", "line": "4711/10", "part": "square", "quantity": 9},
        {"row": 7, "reason": "no part", "line": None, "part": None, "quantity": 99},
    ],
}


@pytest.fixture(scope="module")
def shop(tmp_path_factory):
    """A nested job whose squares are for two order lines."""
    folder = tmp_path_factory.mktemp("shop")
    write_job(folder, ("quantity = 2\n", ORDERS))
    assert nestlib(folder, *NEST).exit_code == 0
    return folder


def test_order_lines_travel_through_the_plan(shop):
    """In plan.json as its schema says, in parts.csv and the report, and read back alike."""
    record = json.loads((shop / "plan" / "plan.json").read_text(encoding="utf-8"))
    jsonschema.validate(record, plan_schema())
    assert [o["line"] for o in record["parts"][0]["orders"]] == ["4711/10", "4712/10"]
    assert read_plan(shop / "plan").job.parts[0].orders[1].due.isoformat() == "2030-04-01"
    with (shop / "plan" / "parts.csv").open(encoding="utf-8", newline="") as file:
        assert next(csv.DictReader(file))["orders"] == "4711/10 = 1; 4712/10 = 1"
    assert "4711/10 (1)" in (shop / "plan" / "report.html").read_text(encoding="utf-8")
    assert verify(shop / "plan").passed


def test_feedback_is_written_as_json_and_as_a_list(shop):
    """Both say the same; JSON as its schema says."""
    result = nestlib(shop, "feedback", "plan", "--out", "outbox", "--quiet")
    assert (result.exit_code, result.output) == (0, "")
    record = json.loads((shop / "outbox" / "feedback.json").read_text(encoding="utf-8"))
    jsonschema.validate(record, feedback_schema())
    with (shop / "outbox" / "feedback.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    assert [row["order_line"] for row in rows] == ["4711/10", "4712/10"]
    assert [int(row["planned"]) for row in rows] == [line["planned"] for line in record["lines"]]
    assert {row["plan"] for row in rows} == {record["plans"][0]["plan"]}


def test_what_costs_nothing_that_is_stated_has_an_empty_cell(shop):
    """In the list and on the screen; 0.00 would be a price."""
    shown = nestlib(shop, "feedback", "plan", "--out", "outbox").stdout
    assert has_all(shown, "hourly rate of the machine")
    assert "0.00" not in shown
    with (shop / "outbox" / "feedback.csv").open(encoding="utf-8", newline="") as file:
        assert {row["cost"] for row in csv.DictReader(file)} == {""}


def test_the_same_plan_gives_the_same_feedback(shop):
    """Byte for byte, so that an ERP may compare."""
    nestlib(shop, "feedback", "plan", "--out", "outbox", "--quiet")
    before = contents(shop)
    nestlib(shop, "feedback", "plan", "--out", "outbox", "--quiet")
    assert contents(shop) == before


def test_lines_that_no_plan_holds_are_told(shop, tmp_path):
    """Found by --jobs, in the folder or the one around it; and beside the job of a plan."""
    taken = tmp_path / "jobs" / "orders"
    taken.mkdir(parents=True)
    (taken / "intake.json").write_text(json.dumps(INTAKE), encoding="utf-8")
    for folder in (taken, taken.parent):
        arguments = ("feedback", "plan", "--jobs", str(folder), "--out", "outbox")
        result = nestlib(shop, *arguments)
        assert result.exit_code == 1
        assert has_all(result.stdout, "No plan for 4713/10", "No plan for 4713/20: set aside")
        assert has_all(result.stdout, " base-plate ")
    record = json.loads((shop / "outbox" / "feedback.json").read_text(encoding="utf-8"))
    jsonschema.validate(record, feedback_schema())
    told = [
        (row["line"], row["ordered"], row["planned"], row["missing"]) for row in record["lines"]
    ]
    assert told[2:] == [("4713/10", 3, 0, 3), ("4713/20", None, 0, None)]
    (shop / "intake.json").write_text(json.dumps(INTAKE), encoding="utf-8")
    assert nestlib(shop, "feedback", "plan", "--out", "outbox", "--quiet").exit_code == 1
    (shop / "intake.json").unlink()


def test_jobs_that_are_no_intake_are_refused(shop, tmp_path):
    """With the folder."""
    message = refused(shop, "feedback", "plan", "--jobs", str(tmp_path), "--out", "other")
    assert has_all(message, "holds no intake")


def test_the_table_has_room_for_names_in_80_columns(capsys):
    """Widest row of the demo, with a cost in a currency: no name is broken."""
    layouts = [{"layout": 1}]
    row = {"line": "4711/10", "part": "base-plate", "planned": 24, "ordered": 24, "kg": 13.018}
    row |= {"minutes": 10.563, "cost": 118.2, "currency": "EUR", "layouts": layouts}
    _tell({"lines": [row | {"reason": None}], "plans": []}, Path("outbox"))
    shown = capsys.readouterr().out
    assert has_all(shown, " base-plate ", " 24 of 24 ", "118.20 EUR")
    assert max(map(len, shown.splitlines())) <= 80


def test_a_folder_without_a_plan_is_refused(shop):
    """All of them at once, and nothing is written."""
    message = refused(shop, "feedback", "plan", "nothing", "neither", "--out", "other")
    assert has_all(message, "nothing", "neither")


def test_more_ordered_than_wanted_is_refused(tmp_path):
    """With the line of the job file."""
    write_job(tmp_path, ("quantity = 2\n", ORDERS.replace("quantity = 2", "quantity = 1")))
    assert "quantity = 2" in JOB
    assert has_all(refused(tmp_path, *NEST), "line 17", "the orders want 2 pieces")
