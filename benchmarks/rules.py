"""What each rule for the cut path costs: the demo's jobs, with one rule at a time changed."""

from __future__ import annotations

import json
import time
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import click

from benchmarks import options
from benchmarks.measured import Measurement, Row, file_of
from nestlib.loading import read_job
from nestlib.model import Entry, Job, Plan, Unloading
from nestlib.nesting import nest
from nestlib.packing import Iterations

KEYS = ("job", "rule")

#: What the jobs themselves ask for; all other rows are this with one rule changed.
AS_GIVEN = "as the job says"

_DEMO = Path(__file__).parents[1] / "fixtures" / "demo"


def variants(job: Job) -> Iterator[tuple[str, Job]]:
    """Return a job with one rule at a time changed, and what was changed."""
    yield AS_GIVEN, job
    for joints in ("none", "tipping", "all"):
        if joints != job.holding.joints:
            yield f"joints: {joints}", replace(job, holding=replace(job.holding, joints=joints))
    yield (
        "head down over what lies still",
        replace(job, holding=replace(job.holding, over_openings=True)),
    )
    yield "sheet by sheet", replace(job, cut_order="sheet by sheet")
    yield "entered anywhere", replace(job, entry=Entry(start_at="anywhere"))
    yield "lines as leads out", replace(job, entry=Entry(lead_out="line"))
    yield "40 mm to the next cut", replace(job, heat_distance=40.0)
    yield "40 mm, or a wait of 2 s", replace(job, heat_distance=40.0, heat_wait=2.0)
    yield "straight cut-off", replace(job, unloading=Unloading("straight"))
    yield "stepped cut-off", replace(job, unloading=Unloading("stepped"))
    yield (
        "straight cut-off, skeleton below 2 kg",
        replace(job, unloading=Unloading("straight", piece_weight=2.0)),
    )
    parts = tuple(replace(part, common_lines=True) for part in job.parts)
    yield "common lines", replace(job, parts=parts)


def measure(name: str, rule: str, job: Job) -> Row:
    """Measure the plan of a job after the first filling, the same for each rule."""
    began = time.monotonic()
    plan = nest(job, stop=Iterations(0), seed=1)
    return {"job": name, "rule": rule, "took": round(time.monotonic() - began, 2), **_sums(plan)}


def _sums(plan: Plan) -> Row:
    """Return what is done on all sheets together."""
    assert plan.work is not None
    done = plan.work.total
    runs = [(layout.runs, layout.path) for layout in plan.layouts]
    return {
        "sheets": plan.sheets_used,
        "cut": round(done.cut_length),
        "rapid": round(done.rapid_length),
        "pierces": done.pierces,
        "lifts": sum(n * path.lifts for n, path in runs),
        "joints": sum(n * path.joints for n, path in runs),
        "seconds": None if done.seconds is None else round(done.seconds, 1),
    }


@click.command("rules")
@options.out
def command(out: Path | None) -> None:
    """Measure what each rule for the cut path costs on the demo.

    Example: python -m benchmarks rules
    """
    measurement = Measurement(out or file_of("rules"), "rules", KEYS)
    for path in sorted(_DEMO.glob("*.toml")):
        for rule, job in variants(read_job(path)):
            if not measurement.has(job=path.stem, rule=rule):
                row = measure(path.stem, rule, job)
                measurement.add(row)
                click.echo(json.dumps(row))
