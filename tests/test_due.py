"""What is due first comes first; conditions of parts made in code; what the outputs tell."""

from __future__ import annotations

import csv
import json
from datetime import date

import jsonschema
import pytest

import nestlib as nl
from nestlib.model import Contour, Job, Part, Sheet
from nestlib.writing import plan_schema, read_plan

MAY, JUNE = date(2030, 5, 1), date(2030, 6, 1)


def job_of(*parts: Part, sheets: int | None = None) -> Job:
    """A job on sheets that hold four squares of 180 mm each."""
    plate = Sheet("plate", Contour.rectangle(400, 400), quantity=sheets, cost=10.0)
    metal, machine = nl.metal("mild-steel", "1.5"), nl.machine("co2-400")
    return Job(title="test", parts=parts, sheets=(plate,), metal=metal, machine=machine)


def square(name: str, quantity: int, **more: object) -> Part:
    """A square of 180 mm."""
    return Part(name, Contour.rectangle(180, 180), quantity=quantity, **more)


def test_layouts_come_by_due_date():
    """Three parts, a sheet for each: the dates decide, and no date comes last."""
    job = job_of(
        square("later", 4, due=JUNE, apart=("whenever", "soon")),
        square("whenever", 4, priority=9, apart=("soon",)),
        square("soon", 4, due=MAY, priority=-3),
    )
    plan = nl.nest(job, stop=nl.Iterations(1))
    assert [set(layout.counts) for layout in plan.layouts] == [{"soon"}, {"later"}, {"whenever"}]
    assert [plan.layouts_with(p.name) for p in job.parts] == [(2,), (3,), (1,)]


def test_the_earliest_date_wins_where_stock_is_short():
    """One sheet for four of nine: those due in May, whatever the others' priority."""
    job = job_of(
        square("june", 3, due=JUNE, priority=50),
        square("may", 3, due=MAY),
        square("none", 3, priority=100),
        sheets=1,
    )
    plan = nl.nest(job, stop=nl.Iterations(2))
    assert plan.placed == {"may": 3, "june": 1}


def test_the_earliest_of_many_dates_win():
    """Two sheets for eight of twelve pieces with a date each, listed from the last on."""
    dated = [square(f"d{day:02}", 1, due=date(2030, 5, day)) for day in range(12, 0, -1)]
    plan = nl.nest(job_of(*dated, sheets=2), stop=nl.Iterations(2))
    assert sorted(plan.placed) == [f"d{day:02}" for day in range(1, 9)]
    assert {plan.layouts_with(f"d{day:02}") for day in range(1, 5)} == {(1,)}


def test_priority_decides_among_what_is_due_on_the_same_day():
    """One sheet for four of six."""
    job = job_of(square("a", 3, due=MAY), square("b", 3, due=MAY, priority=1), sheets=1)
    plan = nl.nest(job, stop=nl.Iterations(1))
    assert plan.placed == {"b": 3, "a": 1}


def test_the_same_drawing_for_two_dates_is_done_early():
    """Four for May fill the first of three sheets."""
    job = job_of(square("june", 8, due=JUNE), square("may", 4, due=MAY))
    plan = nl.nest(job, stop=nl.Iterations(1))
    assert plan.sheets_used == 3
    assert plan.layouts_with("may") == (1,)


@pytest.mark.parametrize(
    ("more", "message"),
    [
        ({"most_per_sheet": 0}, "most_per_sheet is 0"),
        ({"need": 0.0}, "the need is 0"),
        ({"apart": ("squares",)}, r'no part "squares".*Did you mean "square"'),
    ],
)
def test_conditions_made_in_code_are_checked(more, message):
    """By name, with the remedy."""
    with pytest.raises(nl.InputError, match=f"(?s)part square.*{message}"):
        nl.nest(job_of(square("square", 1, **more)))


def test_plan_lists_and_report_tell_it(tmp_path):
    """Dates with the last layout needed, conditions, and where each kit lies."""
    job = job_of(
        square("may", 5, due=MAY, kit="stand", most_per_sheet=3, apart=("june",)),
        square("june", 2, due=JUNE, kit="stand"),
        Part("coin", Contour.circle((9, 9), 9), quantity=2, filler=True, need=2.5),
    )
    plan = nl.nest(job, stop=nl.Iterations(1)).write(tmp_path / "plan")
    assert plan.verification.violations == ()
    record = json.loads((tmp_path / "plan" / "plan.json").read_text(encoding="utf-8"))
    jsonschema.Draft202012Validator(plan_schema()).validate(record)
    may, june, coin = record["parts"]
    assert (may["due"], may["last_layout"], may["most_per_sheet"]) == ("2030-05-01", 2, 3)
    assert (may["apart"], may["kit"], june["last_layout"]) == (["june"], "stand", 3)
    assert (coin["need"], coin["due"]) == (2.5, None)
    kit = {"name": "stand", "parts": ["may", "june"], "layouts": [1, 2, 3]}
    assert record["kits"] == [kit]
    again = read_plan(tmp_path / "plan").job.parts
    for part, read in zip(job.parts, again, strict=True):
        for key in ("due", "most_per_sheet", "apart", "kit", "need"):
            assert getattr(read, key) == getattr(part, key)
    with (tmp_path / "plan" / "parts.csv").open(encoding="utf-8", newline="") as file:
        row = next(csv.DictReader(file))
    assert [row[k] for k in ("due", "last_layout", "most_per_sheet", "apart", "kit")] == [
        *("2030-05-01", "2", "3", "june", "stand")
    ]
    html = (tmp_path / "plan" / "report.html").read_text(encoding="utf-8")
    for text in ("Done with layout", "2030-05-01", '<h2 id="kits">Kits</h2>', "<td>1, 2, 3</td>"):
        assert text in html
