"""parts.csv, sheets.csv and remnants.csv."""

import csv
from dataclasses import replace
from decimal import Decimal

import pytest

from nestlib.costing import work
from nestlib.cutting import cut_path
from nestlib.model import Layout, Plan
from nestlib.writing import write_tables
from tests.layouts import JOB, job_of, mixed_layout, whole_plan


def tables(plan: Plan, folder) -> dict[str, list[dict[str, str]]]:
    """All lists by their names, read by the standard library."""
    write_tables(plan, folder)
    found = {}
    for path in folder.glob("*.csv"):
        with path.open(encoding="utf-8", newline="") as file:
            found[path.stem] = list(csv.DictReader(file))
    return found


@pytest.fixture
def plan() -> Plan:
    """A plan with a cut path."""
    layout = mixed_layout()
    return whole_plan(
        Layout(layout.sheet, layout.placements, 2, cut_path(layout, JOB), layout.remnants)
    )


def test_parts_are_counted(plan, tmp_path):
    """Placed over all runs, and missing."""
    rows = {r["part"]: r for r in tables(plan, tmp_path)["parts"]}
    assert [rows["bracket"][k] for k in ("quantity", "placed", "missing")] == ["10", "8", "2"]
    assert rows["disc"]["rotations"] == "any"
    assert rows["disc"]["filler"] == "yes"


def test_figures_have_the_digits_that_people_read(plan, tmp_path):
    """Areas and lengths to 0.001, shares to 0.0001; plan.json keeps the rest."""
    found = tables(plan, tmp_path)
    for row, part in zip(found["parts"], plan.job.parts, strict=True):
        assert float(row["area_mm2"]) == round(part.area, 3)
        assert float(row["cut_length_mm"]) == round(part.cut_length, 3)
        assert len(row["area_mm2"].split(".")[1]) <= 3
    (row,) = found["sheets"]
    assert row["layout"] == "sheet-001.dxf"
    assert float(row["cut_length_mm"]) == round(plan.layouts[0].path.cut_length, 3)
    assert float(row["utilisation"]) == round(plan.utilisation, 4)


def test_costs_of_the_lists_add_up(plan, tmp_path):
    """Of the parts and of the layouts alike: two sheets for 40.00, and what the machine adds."""
    machine = replace(plan.job.machine, hourly_rate=60.0)
    plan = replace(plan, job=replace(plan.job, machine=machine))
    plan = replace(plan, work=work(plan))
    found = tables(plan, tmp_path)
    parts = sum(Decimal(row["cost"]) for row in found["parts"])
    sheets = sum(Decimal(row["cost_all_runs"]) for row in found["sheets"])
    assert parts == sheets == Decimal(plan.work.cost.total) / 100
    assert parts > 80
    for row in found["parts"]:
        if int(row["placed"]):
            each = Decimal(row["cost"]) / int(row["placed"])
            assert abs(Decimal(row["cost_each"]) - each) <= Decimal("0.0001")


def test_each_cut_has_a_line(plan, tmp_path):
    """In cutting order, with times and costs that add up to those of the sheet."""
    machine = replace(plan.job.machine, hourly_rate=3600.0)
    plan = replace(plan, job=replace(plan.job, machine=machine))
    plan = replace(plan, work=work(plan))
    found = tables(plan, tmp_path)
    rows, cuts = found["path-001"], plan.layouts[0].path.cuts
    assert [int(r["order"]) for r in rows] == list(range(1, len(cuts) + 1))
    assert [r["kind"] for r in rows] == [c.role for c in cuts]
    assert float(rows[0]["start_x_mm"]) == pytest.approx(cuts[0].contour.points[0][0], abs=1e-3)
    # 3600 an hour are 1 a second, and gas costs nothing that is stated.
    assert all(float(r["own_cost"]) == pytest.approx(float(r["beam_s"]), abs=1e-3) for r in rows)
    (sheet,) = found["sheets"]
    for ours, theirs in (("moving_s", "moving_s"), ("length_mm", None)):
        total = sum(float(r[ours]) for r in rows)
        wanted = float(sheet[theirs]) if theirs else sum(c.contour.length for c in cuts)
        assert total == pytest.approx(wanted, abs=0.001 * len(rows))


def test_remnants_carry_their_heat_number(plan, tmp_path):
    """300 x 90 mm of 2 mm steel: 27000 mm² and 0.424 kg at 7.85 g/cm³."""
    (row,) = tables(plan, tmp_path)["remnants"]
    assert (row["remnant"], row["heat"], float(row["area_mm2"])) == ("R1", "H-17", 27000)
    assert row["weight_kg"] == "0.424"


@pytest.mark.parametrize("name", ["=1+1", "+1", "-1", "@x", "\tx", 'a"b', "a,b", "a\nb", "Ø"])
def test_texts_are_safe_in_a_spreadsheet(tmp_path, name):
    """What looks like a formula gets an apostrophe; everything else comes back as it was."""
    part = replace(JOB.parts[0], name=name)
    empty = replace(whole_plan(mixed_layout()), job=job_of((part,)), layouts=(), unplaced=())
    (row,) = tables(empty, tmp_path)["parts"]
    assert row["part"] == (f"'{name}" if name[0] in "=+-@\t" else name)


def test_negative_numbers_stay_numbers(tmp_path):
    """Only texts are disarmed."""
    part = replace(JOB.parts[0], priority=-2, grain=-45.0)
    empty = replace(whole_plan(mixed_layout()), job=job_of((part,)), layouts=(), unplaced=())
    (row,) = tables(empty, tmp_path)["parts"]
    assert (row["priority"], row["grain"]) == ("-2", "-45.0")
