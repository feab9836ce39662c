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
from nestlib.model import Contour, Entry, Job, Layout, Placement, Sheet
from nestlib.nesting import nest
from nestlib.packing import After

KEYS = ("job", "order")

ORDERS = ("part by part", "sheet by sheet")

_DEMO = Path(__file__).parents[1] / "fixtures" / "demo"

#: Width in mm of the one sheet on which very many contours lie.
_WIDE = 6000.0


def jobs(pieces: Sequence[int]) -> Iterator[tuple[str, Job]]:
    """Return the jobs of the demo and of a shop, with their names."""
    for path in sorted(_DEMO.glob("*.toml")):
        yield path.stem, read_job(path)
    for count in pieces:
        yield f"shop, {count} pieces", shop_job(count)


def in_rows(contours: int) -> tuple[Job, Layout]:
    """Return a shop's parts in rows on one sheet, as large as so many contours need."""
    job = shop_job(5000)
    x = y = high = job.spacing.to_edge
    placements: list[Placement] = []
    copies = [part for part in job.parts for _ in range(min(part.quantity, 40))]
    for part in copies:
        if contours <= 0:
            break
        contours -= 1 + len(part.inners) + len(part.marks)
        x0, y0, x1, y1 = part.outer.bounds
        if x + x1 - x0 > _WIDE:
            x, y = job.spacing.to_edge, high
        placements.append(Placement(part.name, 0.0, False, x - x0, y - y0))
        x += x1 - x0 + job.spacing.between_parts
        high = max(high, y + y1 - y0 + job.spacing.between_parts)
    sheet = Sheet("rows", Contour.rectangle(_WIDE + 20, high + 20))
    return replace(job, sheets=(sheet,)), Layout(sheet, tuple(placements))


def measure(name: str, job: Job, layouts: Sequence[Layout], order: str) -> Row:
    """Measure all layouts of a job.

    Four ways: always to the nearest contour, each entered at its first corner, as a plain
    program does; the same with a choice of corners; searched; searched with contours
    entered anywhere.
    """
    ordered = replace(job, cut_order=order)
    plain = [cut_path(layout, ordered, rounds=0, most_places=1) for layout in layouts]
    nearest = [cut_path(layout, ordered, rounds=0) for layout in layouts]
    began = time.monotonic()
    searched = [cut_path(layout, ordered) for layout in layouts]
    between = time.monotonic()
    free = replace(ordered, entry=Entry(start_at="anywhere"))
    anywhere = [cut_path(layout, free) for layout in layouts]
    ended = time.monotonic()
    four = {"plain": plain, "nearest": nearest, "searched": searched, "anywhere": anywhere}
    return {
        "job": name,
        "order": order,
        "sheets": len(layouts),
        "contours": sum(len(path.cuts) for path in searched),
        **{what: round(sum(path.rapid_length for path in p)) for what, p in four.items()},
        "took": round(between - began, 2),
        "took_anywhere": round(ended - between, 2),
    }


def _draw(layout: Layout, job: Job) -> None:
    for name, rounds in (("nearest", 0), ("searched", None)):
        path = cut_path(layout, job, rounds=rounds)
        text = path_picture(replace(layout, path=path))
        (FOLDER / f"travel-{name}.svg").write_text(text, encoding="utf-8")


@click.command("travel")
@click.option("--pieces", type=options.Numbers(), default="200", show_default=True)
@click.option("--contours", type=options.Numbers(), default="1000,5000", show_default=True,
              help="On one sheet.")  # fmt: skip
@click.option("--seconds", default=5.0, show_default=True, help="Of the packing before.")
@options.out
def command(
    pieces: tuple[int, ...], contours: tuple[int, ...], seconds: float, out: Path | None
) -> None:
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
        _measure_all(measurement, name, job, layouts)
    for count in contours:
        job, layout = in_rows(count)
        _measure_all(measurement, f"one sheet, {count} contours", job, [layout])


def _measure_all(measurement: Measurement, name: str, job: Job, layouts: Sequence[Layout]) -> None:
    for order in ORDERS:
        if not measurement.has(job=name, order=order):
            row = measure(name, job, layouts, order)
            measurement.add(row)
            click.echo(json.dumps(row))
