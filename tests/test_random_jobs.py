"""Random jobs, some improved by the engine: all plans pass the independent verification."""

import tempfile
from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

import nestlib as nl
from nestlib.model import Contour, Job, Sheet, Spacing
from tests.shapes import parts

stock = [
    Sheet("plate", Contour.rectangle(600, 400), quantity=None, cost=20.0),
    Sheet("long", Contour.rectangle(1000, 300), quantity=2, cost=25.0, grain=90.0),
    Sheet(
        "remnant",
        Contour([(0, 0), (500, 0), (500, 200), (220, 200), (220, 450), (0, 450)]),
        holes=(Contour.circle((110, 120), 40).reversed(),),
        remnant=True,
        cost=5.0,
    ),
    Sheet(
        "clamped",
        Contour.rectangle(500, 500),
        keep_outs=(Contour([(0, 0), (60, 0), (60, 40), (0, 40)]),),
        quantity=1,
    ),
]


@st.composite
def jobs(draw: st.DrawFn) -> Job:
    """A few parts, now and then kept apart or wanted twice, some stock, any distances."""
    count = draw(st.integers(1, 5))
    names = [f"part-{i}" for i in range(count)]
    apart = st.sampled_from([(), (), *((name,) for name in names)])
    wanted = [replace(draw(parts(name)), apart=draw(apart)) for name in names]
    if draw(st.booleans()):
        wanted.append(replace(wanted[0], name="twin", due=date(2030, 4, 1), kit="frame"))
    return Job(
        title="random",
        parts=tuple(wanted),
        sheets=tuple(draw(st.lists(st.sampled_from(stock), min_size=1, max_size=3, unique=True))),
        metal=nl.metal("mild-steel", "1.5"),
        machine=nl.machine("co2-400"),
        spacing=Spacing(
            kerf=draw(st.sampled_from([0.0, 0.1, 0.25])),
            spacing=draw(st.sampled_from([0.0, 0.5, 3.0, 8.0])),
            margin=draw(st.sampled_from([0.0, 2.0, 10.0])),
        ),
    )


def few(examples: int) -> settings:
    """So many jobs, the same ones each time."""
    return settings(
        max_examples=examples,
        deadline=None,
        suppress_health_check=list(HealthCheck),
        derandomize=True,
    )


def assert_verified(job: Job, rounds: int, version: str) -> None:
    """Verified from its files, or nothing fits; placed and missing pieces add up to the wanted."""
    plan = nl.nest(job, stop=nl.Iterations(rounds), seed=1)
    with tempfile.TemporaryDirectory() as folder:
        plan = plan.write(Path(folder) / "plan", dxf_version=version)
    found = [violation.code for violation in plan.verification.violations]
    assert found == ([] if plan.layouts else ["nothing-placed"])
    missing = {u.part: u.quantity for u in plan.unplaced}
    for part in job.parts:
        placed = plan.placed[part.name]
        assert placed <= part.quantity
        assert part.filler or placed + missing.get(part.name, 0) == part.quantity


versions = st.sampled_from(["R2010", "R12"])


@pytest.mark.slow
@few(500)
@given(jobs(), versions)
def test_every_plan_of_a_random_job_is_verified(job, version):
    """Of 500 jobs, as they are filled at first."""
    assert_verified(job, 0, version)


@pytest.mark.slow
@few(12)
@given(jobs(), versions)
def test_every_plan_that_the_engine_improved_is_verified(job, version):
    """Of 12 jobs, after one round of the search for something better."""
    assert_verified(job, 1, version)


def sharing(job: Job) -> Job:
    """The job with parts that may all share cuts with each other, as far as turns and grain go."""
    same = {"common_lines": True, "priority": 0, "due": None, "kit": "", "filler": False}
    parts = [replace(part, **same) for part in job.parts]
    return replace(job, parts=tuple(parts), spacing=replace(job.spacing, kerf=0.25))


@pytest.mark.slow
@few(12)
@given(jobs(), versions)
def test_every_plan_whose_pieces_may_share_cuts_is_verified(job, version):
    """Of 12 jobs; pieces of one part and of several, at edges of equal and unequal length."""
    assert_verified(sharing(job), 0, version)
