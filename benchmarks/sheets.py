"""Bins and sheets of several sizes: how many, at what cost, and what is proved."""

from __future__ import annotations

import sys
from dataclasses import dataclass
from pathlib import Path

import click

from benchmarks import options
from benchmarks.instances import Instance, instance_files, read_instance
from benchmarks.measured import Measurement, Row, file_of
from benchmarks.pinned import Job, run_all
from benchmarks.solve import solve

KEYS = ("kind", "instance", "seconds", "workers", "seed")


@dataclass(frozen=True)
class Run:
    """One run.

    Parameters
    ----------
    path : path
        Instance.
    kind : str
        "bins" or "sheets".
    seconds : float
        When to stop improving.
    workers : int
        Processes.
    seed : int
        Of all chance.
    """

    path: Path
    kind: str
    seconds: float
    workers: int
    seed: int

    @property
    def key(self) -> Row:
        """Return what tells its row from others."""
        values = (self.kind, self.path.stem, self.seconds, self.workers, self.seed)
        return dict(zip(KEYS, values, strict=True))


def carry_out(run: Run) -> Row:
    """Run, and return the row."""
    instance = read_instance(run.path)
    result = solve(instance, run.seconds, run.seed, run.workers)
    return {
        **run.key,
        "pieces": instance.pieces,
        "value": result.value,
        "target": None if result.target is None else round(result.target, 2),
        "by_area": None if run.kind == "bins" else round(area_cost(instance), 2),
        "valid": result.feasible,
        "took": round(result.seconds, 2),
    }


def area_cost(instance: Instance) -> float:
    """Return the area of all pieces at the lowest price of a square unit of sheet."""
    sheets = instance.data["sheets"]
    return instance.area * float(min(s["cost"] / (s["width"] * s["height"]) for s in sheets))


@click.command("sheets")
@options.instances
@options.searched(10.0, seeds="1")
@options.side_by_side
@options.out
def command(
    folder: Path,
    only: tuple[str, ...],
    seconds: float,
    seeds: tuple[int, ...],
    workers: int,
    parallel: int,
    out: Path | None,
) -> None:
    """Solve instances with bins or with sheets of several sizes.

    Example: python -m benchmarks sheets --instances instances/ --seconds 10 --parallel 2
    """
    measurement = Measurement(out or file_of("sheets", f"{seconds:g}s"), "sheets", KEYS)
    runs = [
        Run(path, read_instance(path).kind, seconds, workers, seed)
        for seed in seeds
        for path in instance_files(folder, ["bins", "sheets"], only)
    ]
    missing = [run for run in runs if not measurement.has(**run.key)]

    def done(_: Job, row: Row) -> None:
        measurement.add(row)
        click.echo(f"{row['instance']}: {row['value']:g} (compare {row['target']})")

    if missing:  # compile before any clock runs
        first = Run(missing[0].path, missing[0].kind, 1.0, 1, 0)
        run_all([Job(carry_out, (first,))], 1, lambda *_: None)
    jobs = [Job(carry_out, (run,), run.workers) for run in missing]
    sys.exit(run_all(jobs, parallel, done) > 0)
