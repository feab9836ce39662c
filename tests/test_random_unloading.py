"""Random jobs whose sheets are taken apart, with all wishes for leads, heat and the drives."""

import tempfile
from collections import Counter
from dataclasses import replace
from itertools import takewhile
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

import nestlib as nl
from nestlib.handover import write_programs
from nestlib.model import Holding, Job, Unloading
from tests.test_random_jobs import few, jobs
from tests.test_random_programs import entries, templates


@st.composite
def unloaded_jobs(draw: st.DrawFn) -> Job:
    """Random jobs with a slot, and with everything that a cut path may be asked for."""
    job = draw(jobs())
    machine = replace(
        job.machine,
        hourly_rate=90.0,
        jerk=draw(st.sampled_from([None, 500.0, 50000.0])),
        corner_deviation=draw(st.sampled_from([None, 0.05])),
    )
    return replace(
        job,
        spacing=replace(job.spacing, kerf=job.spacing.kerf or 0.15),
        machine=machine,
        remnant_size=120.0,
        unloading=Unloading(
            cut_off=draw(st.sampled_from(["straight", "stepped"])),
            piece_weight=draw(st.sampled_from([None, 0.1, 0.4])),
            piece_size=draw(st.sampled_from([None, 150.0, 300.0])),
            edge_overrun=draw(st.sampled_from([0.0, 5.0])),
        ),
        entry=draw(entries()),
        heat_distance=draw(st.sampled_from([0.0, 40.0])),
        heat_wait=draw(st.sampled_from([0.0, 1.5])),
        holding=Holding(draw(st.sampled_from(["none", "tipping", "all"]))),
    )


def assert_taken_apart(job, template):
    """Verified, programs too; parts first, then skeleton, then cut-off; the costs add up."""
    plan = nl.nest(job, stop=nl.Iterations(0), seed=1)
    with tempfile.TemporaryDirectory() as folder:
        plan = plan.write(Path(folder) / "plan")
        shop = Path(folder) / "template.toml"
        shop.write_text(template, encoding="utf-8")
        programs = write_programs(Path(folder) / "plan", shop)
    for written in (plan, programs):
        found = {v.code for v in written.verification.violations}
        assert found == (set() if plan.layouts else {"nothing-placed"})
    for layout in plan.layouts:
        roles = [cut.role for cut in layout.path.cuts]
        parts = list(takewhile(lambda role: role not in ("skeleton", "cut_off"), roles))
        assert Counter(roles[: len(parts)])["outer"] == len(layout.placements)
        after = roles[len(parts) :]
        assert after == sorted(after, reverse=True)
        assert bool(layout.path.skeleton) == job.unloading.cuts_skeleton
    cost = sum(c.total or 0 for c in plan.work.part_costs.values())
    assert cost == (plan.work.cost.total or 0)
    assert cost == sum(c.total or 0 for c in plan.work.layout_costs)


@pytest.mark.slow
@few(40)
@given(unloaded_jobs(), templates())
def test_every_sheet_of_a_random_job_is_taken_apart_as_told(job, template):
    """Of 40 jobs, as they are filled at first, written and spelt as programs."""
    assert_taken_apart(job, template)
