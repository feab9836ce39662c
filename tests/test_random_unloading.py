"""Random jobs whose sheets are taken apart: every last cut passes the independent check."""

import tempfile
from collections import Counter
from dataclasses import replace
from itertools import takewhile
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

import nestlib as nl
from nestlib.model import Unloading
from tests.test_random_jobs import few, jobs

wishes = st.builds(
    Unloading,
    cut_off=st.sampled_from(["straight", "stepped"]),
    piece_weight=st.sampled_from([None, 0.1, 0.4]),
    piece_size=st.sampled_from([None, 150.0, 300.0]),
)


def assert_taken_apart(job):
    """All parts first, then the skeleton, then the cut-off; the costs add up."""
    plan = nl.nest(job, stop=nl.Iterations(0), seed=1)
    with tempfile.TemporaryDirectory() as folder:
        plan = plan.write(Path(folder) / "plan")
    found = {v.code for v in plan.verification.violations}
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
@given(jobs(), wishes)
def test_every_sheet_of_a_random_job_is_taken_apart_as_told(job, unloading):
    """Of 40 jobs, as they are filled at first."""
    spacing = replace(job.spacing, kerf=job.spacing.kerf or 0.15)
    machine = replace(job.machine, hourly_rate=90.0)
    assert_taken_apart(
        replace(job, spacing=spacing, machine=machine, unloading=unloading, remnant_size=120.0)
    )
