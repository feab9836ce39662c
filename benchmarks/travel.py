"""Travel between cuts: the order that is searched against always going to the nearest."""

from __future__ import annotations

import json
import time
from collections.abc import Iterator, Sequence
from dataclasses import replace
from pathlib import Path

import click

from benchmarks import options
from benchmarks.measured import Measurement, Row, file_of
from benchmarks.pictures import FOLDER
from benchmarks.shop_work import shop_job
from benchmarks.travel_picture import path_picture
from nestlib.cutting import cut_path
from nestlib.loading import read_job
from nestlib.model import Job, Layout
from nestlib.nesting import nest
from nestlib.packing import After

KEYS = ("job", "order")

ORDERS = ("part by part", "sheet by sheet")

_DEMO = Path(__file__).parents[1] / "fixtures" / "demo"


def jobs(pieces: Sequence[int]) -> Iterator[tuple[str, Job]]:
    """Return the jobs of the demo and of a shop, with their names."""
    for path in sorted(_DEMO.glob("*.toml")):
        yield path.stem, read_job(path)
    for count in pieces:
        yield f"shop, {count} pieces", shop_job(count)


def measure(name: str, job: Job, layouts: Sequence[Layout], order: str) -> Row:
    """Measure all layouts of a job."""
    ordered = replace(job, cut_order=order)
    nearest = [cut_path(layout, ordered, rounds=0) for layout in layouts]
    began = time.monotonic()
    searched = [cut_path(layout, ordered) for layout in layouts]
    took = time.monotonic() - began
    return {
        "job": name,
        "order": order,
        "sheets": len(layouts),
        "contours": sum(len(path.cuts) for path in searched),
        "nearest": round(sum(path.rapid_length for path in nearest)),
        "searched": round(sum(path.rapid_length for path in searched)),
        "took": round(took, 2),
    }


def _draw(layout: Layout, job: Job) -> None:
    for name, rounds in (("nearest", 0), ("searched", None)):
        path = cut_path(layout, job, rounds=rounds)
        text = path_picture(replace(layout, path=path))
        (FOLDER / f"travel-{name}.svg").write_text(text, encoding="utf-8")


@click.command("travel")
@click.option("--pieces", type=options.Numbers(), default="200,1000", show_default=True)
@click.option("--seconds", default=5.0, show_default=True, help="Of the packing before.")
@options.out
def command(pieces: tuple[int, ...], seconds: float, out: Path | None) -> None:
    """Measure travel between cuts on the demo and on a shop's work.

    Example: python -m benchmarks travel
    """
    measurement = Measurement(out or file_of("travel"), "travel", KEYS)
    for number, (name, job) in enumerate(jobs(pieces)):
        if all(measurement.has(job=name, order=order) for order in ORDERS):
            continue
        layouts = nest(job, stop=After(seconds), seed=1).layouts
        if number == 0:
            _draw(layouts[0], job)
        for order in ORDERS:
            row = measure(name, job, layouts, order)
            measurement.add(row)
            click.echo(json.dumps(row))
