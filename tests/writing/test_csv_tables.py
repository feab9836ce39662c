"""parts.csv, sheets.csv and remnants.csv."""

import csv
from dataclasses import replace

import pytest

from nestlib.cutting import cut_path
from nestlib.model import Layout, Plan
from nestlib.writing import write_tables
from tests.layouts import JOB, job_of, mixed_layout, whole_plan


def tables(plan: Plan, folder) -> dict[str, list[dict[str, str]]]:
    """The three lists, read by the standard library."""
    write_tables(plan, folder)
    found = {}
    for name in ("parts", "sheets", "remnants"):
        with (folder / f"{name}.csv").open(encoding="utf-8", newline="") as file:
            found[name] = list(csv.DictReader(file))
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
