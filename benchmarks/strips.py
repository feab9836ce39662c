"""Densities of strips over instances and seeds."""

from __future__ import annotations

import json
import sys
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import click

from benchmarks import options
from benchmarks.instances import at_any_angle, instance_files, read_instance, solution
from benchmarks.measured import Measurement, Row, file_of
from benchmarks.pinned import Job, run_all
from benchmarks.solve import solve

KEYS = ("instance", "angles", "seconds", "workers", "seed")

#: A line of the file of solutions.
Solution = dict[str, Any]


@dataclass(frozen=True)
class Run:
    """One run of one instance.

    Parameters
    ----------
    path : path
        Instance.
    angles : str
        "listed", or "any" if every part may turn freely.
    seconds : float
        When to stop improving.
    workers : int
        Threads.
    seed : int
        Of all chance.
    """

    path: Path
    angles: str
    seconds: float
    workers: int
    seed: int

    @property
    def key(self) -> Row:
        """Return what tells its row from others."""
        values = (self.path.stem, self.angles, self.seconds, self.workers, self.seed)
        return dict(zip(KEYS, values, strict=True))


def carry_out(run: Run) -> tuple[Row, Solution]:
    """Run, and return the row and the solution."""
    instance = read_instance(run.path)
    if run.angles == "any":
        instance = at_any_angle(instance)
    result = solve(instance, run.seconds, run.seed, run.workers)
    best = instance.published
    row = {
        **run.key,
        "density": round(result.value, 4),
        "valid": result.feasible,
        "took": round(result.seconds, 2),
        "pieces": instance.pieces,
        "published": None if best is None else best[0],
        "source": None if best is None else best[1],
    }
    return row, {**row, "solution": solution(instance, result.placed)}


def measure(
    runs: Sequence[Run], parallel: int, measurement: Measurement, solutions: Path | None
) -> int:
    """Carry out the runs whose rows are not there yet; return how many failed.

    Parameters
    ----------
    runs : sequence of Run
        In the order in which they are begun.
    parallel : int
        How many at a time.
    measurement : Measurement
        Gets a row after every run.
    solutions : path, optional
        File that gets a line after every run.
    """

    def done(_: Job, result: tuple[Row, Solution]) -> None:
        row, found = result
        measurement.add(row)
        if solutions is not None:
            with solutions.open("a", encoding="utf-8") as file:
                file.write(f"{json.dumps(found)}\n")
        click.echo(
            f"{row['instance']} ({row['angles']} angles, seed {row['seed']}): {row['density']:.2f}"
            f"{'' if row['valid'] else ' NOT valid'}"
        )

    missing = [run for run in runs if not measurement.has(**run.key)]
    if not missing:
        return 0
    warm_up(missing[0].path)
    return run_all([Job(carry_out, (run,), run.workers) for run in missing], parallel, done)


def warm_up(path: Path) -> None:
    """Compile the kernels before any clock runs, in a process of its own."""
    run_all([Job(carry_out, (Run(path, "listed", 1.0, 1, 0),))], 1, lambda *_: None)


@click.command("strips")
@options.instances
@options.searched(60.0)
@options.side_by_side
@click.option(
    "--angles",
    type=options.Names(),
    default="listed",
    show_default=True,
    help="listed, any, or both with a comma between.",
)
@options.solutions
@options.out
def command(
    folder: Path,
    only: tuple[str, ...],
    seconds: float,
    seeds: tuple[int, ...],
    workers: int,
    parallel: int,
    angles: tuple[str, ...],
    solutions: Path | None,
    out: Path | None,
) -> None:
    """Measure densities of strips, several runs at a time.

    Example: python -m benchmarks strips --instances instances/ --workers 2 --parallel 8
    """
    runs = [
        Run(path, which, seconds, workers, seed)
        for seed in seeds
        for path in instance_files(folder, ["strip"], only)
        for which in angles
    ]
    out = out or file_of("strips", f"{seconds:g}s")
    sys.exit(measure(runs, parallel, Measurement(out, "strips", KEYS), solutions) > 0)
