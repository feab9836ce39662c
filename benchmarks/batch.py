"""What a batch of many small jobs costs beyond the nesting itself."""

from __future__ import annotations

import json
import tempfile
import time
from pathlib import Path
from statistics import mean

import click

from benchmarks import options
from benchmarks.measured import Measurement, Row, file_of
from fixtures import plain_dxf as dxf
from nestlib.batch import Task, run_batch

KEYS = ("jobs", "workers", "iterations")

_JOB = """\
units = "mm"
metal = "mild-steel"
thickness = "2 mm"

[[sheet]]
size = "2000x1000"

[[part]]
drawing = "plate.dxf"
quantity = 12

[[part]]
drawing = "strap.dxf"
quantity = 30
"""


def write_jobs(folder: Path, number: int, iterations: int) -> list[Task]:
    """Write small jobs that are all alike, and return their tasks."""
    plate = dxf.dxf(dxf.rectangle(0, 0, 300, 180), dxf.circle(60, 60, 20))
    (folder / "plate.dxf").write_text(plate, encoding="utf-8")
    strap = dxf.dxf(dxf.rectangle(0, 0, 240, 40))
    (folder / "strap.dxf").write_text(strap, encoding="utf-8")
    tasks = []
    for i in range(number):
        job = folder / f"job-{i:04d}.toml"
        job.write_text(_JOB, encoding="utf-8")
        tasks.append(Task(str(job), str(folder / "plans" / job.stem), {"iterations": iterations}))
    return tasks


def measure(number: int, workers: int, iterations: int, folder: Path) -> Row:
    """Return wall-clock time of a batch, and of the jobs in it.

    Kernels are compiled before. The first job of each worker also loads the libraries; its
    time counts as that of the others, so that loading is part of the overhead.
    """
    first, *tasks = write_jobs(folder, number + 1, iterations)
    run_batch([first])
    began = time.perf_counter()
    batch = run_batch(tasks, workers=workers)
    wall = time.perf_counter() - began
    outcomes = batch.in_order()
    warm = sorted(outcome.seconds for outcome in outcomes)[:-workers]
    began = time.perf_counter()
    again = run_batch(tasks, workers=workers).in_order()
    return {
        "jobs": number,
        "workers": workers,
        "iterations": iterations,
        "wall": round(wall, 3),
        "each": round(mean(warm), 4),
        "overhead": round(wall * workers / (mean(warm) * number) - 1, 4),
        "done": sum(outcome.state == "done" for outcome in outcomes),
        "resumed": round(time.perf_counter() - began, 3),
        "done_before": sum(outcome.state == "done before" for outcome in again),
    }


@click.command()
@click.option("--jobs", "number", default=1000, show_default=True, help="Jobs of the batch.")
@click.option("--workers", default=2, show_default=True, help="Processes.")
@click.option("--iterations", default=1, show_default=True, help="Rounds of search for each.")
@options.out
def command(number: int, workers: int, iterations: int, out: Path | None) -> None:
    """Measure a batch of small jobs, and the same once more when all are done.

    Example: python -m benchmarks batch
    """
    measurement = Measurement(out or file_of("batch"), "batch", KEYS)
    if measurement.has(jobs=number, workers=workers, iterations=iterations):
        return
    with tempfile.TemporaryDirectory() as folder:
        row = measure(number, workers, iterations, Path(folder))
    measurement.add(row)
    click.echo(json.dumps(row))
