"""Plans as they are really written: they pass, and fail once something is moved."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import ezdxf
import pytest

from nestlib.cutting import cut_path
from nestlib.model import (
    Bound,
    Contour,
    Job,
    Layout,
    Machine,
    Material,
    Metal,
    Part,
    Placement,
    Plan,
    Sheet,
    Spacing,
    Unplaced,
)
from nestlib.verifying import verify
from nestlib.writing import write_layout, write_plan_record

QUARTER = 0.41421356237309503

#: A plate with two round corners, a round hole, a slot and a mark.
PLATE = Part(
    "plate",
    Contour(
        [(0, 0), (80, 0), (90, 10), (90, 50), (80, 60), (0, 60)], [0, QUARTER, 0, QUARTER, 0, 0]
    ),
    (
        Contour.circle((20, 30), 12).reversed(),
        Contour([(50, 20), (50, 30), (70, 30), (70, 20)], [-0.3, 0, -0.3, 0]),
    ),
    (Contour([(5, 5), (40, 5), (45, 10)], [0, QUARTER, 0], closed=False),),
    quantity=3,
    rotations=None,
    flip=True,
)
DISC = Part("disc", Contour.circle((5, 5), 5), quantity=1, rotations=None)
SHEET = Sheet("plate", Contour.rectangle(500, 300), cost=10.0)


def _write(folder: Path, turn: float, flip: bool, version: str, runs: int = 1) -> Path:
    """Three plates, one of them as told, and a disc in the hole of the first, a few times."""
    placements = [
        Placement("plate", 0.0, False, 20.0, 20.0),
        Placement("plate", turn, flip, 230.0, 130.0),
        Placement("plate", 180.0, True, 390.0, 280.0),
        Placement("disc", 0.0, False, 35.0, 45.0),
    ]
    job = _job(runs)
    layout = Layout(SHEET, tuple(placements))
    layout = Layout(SHEET, tuple(placements), runs, path=cut_path(layout, job))
    plan = Plan(job, (layout,), (), Bound(1, 10.0, "area"))
    write_layout(layout, job, folder / "sheet-001.dxf", version=version)
    write_plan_record(plan, ["sheet-001.dxf"], folder)
    return folder


def _job(runs: int) -> Job:
    return Job(
        "plates",
        (replace(PLATE, quantity=3 * runs), replace(DISC, quantity=runs)),
        (replace(SHEET, quantity=runs),),
        Metal(Material("steel", "mild-steel", "Steel", 7.85, ""), 2.0),
        Machine("laser", "Laser", "CO2", 400, (3000, 1500)),
        Spacing(0.2, 3, 10),
    )


def test_pieces_are_counted_on_all_runs(tmp_path):
    """Four pieces on a layout that is cut five times are twenty."""
    found = verify(_write(tmp_path, 0.0, False, "R2010", runs=5))
    assert found.violations == ()
    assert found.pieces == 20


def test_a_plan_without_layouts_does_not_pass(tmp_path):
    """Common practice, no source: who has nothing to cut shall not be told that all is well."""
    job = _job(1)
    left = tuple(Unplaced(p.name, p.quantity, "no sheet left") for p in job.parts)
    write_plan_record(Plan(job, (), left, Bound(0, 0.0, "")), [], tmp_path)
    found = verify(tmp_path)
    assert [v.code for v in found.violations] == ["nothing-placed"]


@pytest.mark.parametrize("version", ["R12", "R2010"])
@pytest.mark.parametrize("flip", [False, True])
@pytest.mark.parametrize("turn", [0.0, 90.0, 33.3333])
def test_a_written_plan_passes_whatever_the_turns(tmp_path, version, turn, flip):
    """Written contours are the parts' own within 1e-6 mm, in both DXF versions."""
    found = verify(_write(tmp_path, turn, flip, version))
    assert found.violations == ()
    assert found.largest_deviation < 1e-6
    assert found.pieces == 4
    assert found.between_parts == pytest.approx(12 - 5, abs=1e-6)


@pytest.mark.parametrize("version", ["R12", "R2010"])
@pytest.mark.parametrize("move", [0.00001, 60.0])
def test_a_part_moved_in_the_written_file_fails(tmp_path, version, move):
    """Whether by a hundredth of a micrometre or across the sheet."""
    folder = _write(tmp_path, 90.0, False, version)
    path = folder / "sheet-001.dxf"
    document = ezdxf.readfile(path)
    contours = [e for e in document.modelspace() if e.dxf.layer == "CUT_OUTER"]
    contours[-1].translate(move, 0, 0)
    document.saveas(path)
    codes = {v.code for v in verify(folder).violations}
    assert {"contour-missing", "contour-not-in-plan"} <= codes


def test_a_part_moved_in_plan_and_file_fails(tmp_path):
    """A disc pushed through its hole's edge overlaps, though plan and file agree."""
    folder = _write(tmp_path, 90.0, False, "R2010")
    document = ezdxf.readfile(folder / "sheet-001.dxf")
    disc = next(e for e in document.modelspace().query("CIRCLE") if e.dxf.layer == "CUT_OUTER")
    disc.translate(9, 0, 0)
    document.saveas(folder / "sheet-001.dxf")
    record = json.loads((folder / "plan.json").read_text(encoding="utf-8"))
    record["layouts"][0]["placements"][3]["x"] += 9
    (folder / "plan.json").write_text(json.dumps(record), encoding="utf-8")
    codes = {v.code for v in verify(folder).violations}
    assert "contour-missing" not in codes
    assert "parts-overlap" in codes
