"""Waiting for the sheet to cool: where the order cannot keep cuts apart, and nowhere else."""

import itertools
import json
import math
from dataclasses import replace

import pytest

import nestlib as nl
from nestlib.cutting import cut_efforts, cut_path
from nestlib.model import Contour, Job, Layout, Part, Placement, Sheet
from nestlib.verifying import verify
from tests.layouts import job_of

TAG = Part("tag", Contour.rectangle(10, 10))


def row(wait, apart=60.0, tags=2):
    """Tags in a row, 20 mm apart: two of them cannot be kept 60 mm apart."""
    job = replace(job_of((TAG,)), heat_distance=apart, heat_wait=wait)
    spots = [Placement("tag", 0.0, False, 50 + 20.0 * i, 50) for i in range(tags)]
    layout = Layout(job.sheets[0], tuple(spots))
    return replace(layout, path=cut_path(layout, job)), job


def test_the_head_waits_just_where_cuts_are_near():
    """Measured here from the ends and pierces alone."""
    layout, _ = row(2.5)
    steps = [math.dist(a.end, b.pierce) for a, b in itertools.pairwise(layout.path.cuts)]
    assert [cut.wait for cut in layout.path.cuts[1:]] == [2.5 if s < 60 else 0.0 for s in steps]
    assert layout.path.waiting == 2.5
    many, _ = row(2.5, 30.0, 6)
    steps = [math.dist(a.end, b.pierce) for a, b in itertools.pairwise(many.path.cuts)]
    assert [cut.wait for cut in many.path.cuts[1:]] == [2.5 if s < 30 else 0.0 for s in steps]
    assert any("waits there, 2.5 s in all" in w for w in layout.path.warnings)


def test_a_wait_is_time_of_the_machine():
    """With and without it the cuts take as long, and moving takes the waits longer."""
    layout, job = row(2.5)
    still, _ = row(0.0)
    for waiting, plain, cut in zip(
        cut_efforts(layout, job), cut_efforts(still, job), layout.path.cuts, strict=True
    ):
        assert waiting.moving == pytest.approx(plain.moving + cut.wait)
        assert waiting.beam == plain.beam


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    """A plan of two tags that nothing can keep 300 mm apart, with its program."""
    job = Job(
        "stands",
        (replace(TAG, quantity=2),),
        (Sheet("sheet", Contour.rectangle(200, 100), cost=1.0),),
        nl.metal("mild-steel", "1"),
        nl.machine("co2-400"),
        heat_distance=300.0,
        heat_wait=1.5,
    )
    folder = tmp_path_factory.mktemp("plan") / "plan"
    nl.nest(job, stop=nl.Iterations(0), seed=1).write(folder)
    assert nl.write_programs(folder).verification.violations == ()
    return folder


def codes(folder, tmp_path, change=None, program=None):
    """What is found when the plan, or the program, says something else."""
    for file in folder.iterdir():
        (tmp_path / file.name).write_bytes(file.read_bytes())
    if change:
        record = json.loads((folder / "plan.json").read_text())
        change(record)
        (tmp_path / "plan.json").write_text(json.dumps(record))
    if program:
        text = (folder / "sheet-001.nc").read_text()
        assert program[0] in text
        (tmp_path / "sheet-001.nc").write_text(text.replace(*program))
    return {v.code for v in verify(tmp_path).violations}


def test_the_program_dwells_once(folder):
    """G4 before the second cut; nothing comes before the first."""
    assert (folder / "sheet-001.nc").read_text().count("G4 P1.5") == 1


def test_a_wait_taken_out_of_the_plan(folder, tmp_path):
    """The job demands it."""

    def change(record):
        record["layouts"][0]["path"][1]["wait"] = 0.0

    assert "wait-differs" in codes(folder, tmp_path, change)


def test_a_wait_where_none_is_demanded(folder, tmp_path):
    """Nothing was cut before the first cut."""

    def change(record):
        record["layouts"][0]["path"][0]["wait"] = 1.5

    assert "wait-differs" in codes(folder, tmp_path, change)


@pytest.mark.parametrize("dwell", ["", "G4 P1.0"])
def test_a_program_that_does_not_wait_as_long(folder, tmp_path, dwell):
    """Left out, or shorter."""
    assert "program-differs" in codes(folder, tmp_path, program=("G4 P1.5", dwell))
