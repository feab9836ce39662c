"""Costs that somebody changed by hand do not add up any more."""

import json
from dataclasses import replace
from pathlib import Path

import pytest

import nestlib as nl
from nestlib.cutting import cut_path
from nestlib.model import Bound, Plan
from tests.layouts import JOB, mixed_layout


@pytest.fixture
def folder(tmp_path) -> Path:
    """A plan with all costs, written."""
    layout = mixed_layout()
    layout = replace(layout, path=cut_path(layout, JOB), remnants=())
    parts = tuple(replace(p, quantity=2 * layout.counts[p.name]) for p in JOB.parts)
    machine = replace(JOB.machine, hourly_rate=75.0)
    job = replace(JOB, parts=parts, machine=machine)
    plan = Plan(job, (layout,), (), Bound(2, 80.0, "area")).write(tmp_path / "plan")
    assert plan.verification.violations == ()
    return tmp_path / "plan"


@pytest.mark.parametrize(
    ("where", "words"),
    [
        (("parts", 0, "work", "cost", "cutting"), "cutting: the parts cost"),
        (("layouts", 0, "work", "cost", "moving"), "moving: the layouts cost"),
        (("work", "cost", "total"), "not the sum of its kinds"),
        (("work", "effort", "seconds"), "seconds: the plan says"),
        (("work", "effort", "cut_length"), "cut_length: the plan says"),
        (("work", "effort", "pierces"), "pierces"),
        (("layouts", 0, "work", "effort", "pierces"), "its costs count"),
    ],
)
def test_a_changed_figure_is_named(folder, where, words):
    """One more than it was."""
    path = folder / "plan.json"
    record = json.loads(path.read_text(encoding="utf-8"))
    owner = record
    for key in where[:-1]:
        owner = owner[key]
    owner[where[-1]] += 1
    path.write_text(json.dumps(record), encoding="utf-8")
    found = nl.verify(folder).violations
    assert {v.code for v in found} == {"figure-differs"}
    assert any(words in v.message for v in found)


def test_older_plans_have_no_costs(folder):
    """And are as right as before."""
    path = folder / "plan.json"
    record = json.loads(path.read_text(encoding="utf-8"))
    for owner in (record, *record["parts"], *record["layouts"]):
        del owner["work"]
    path.write_text(json.dumps(record), encoding="utf-8")
    assert nl.verify(folder).violations == ()
