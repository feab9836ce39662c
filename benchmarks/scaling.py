"""One hard layout with 1, 2, 4, ... workers: best density against time.

What is done when depends on the number of the try alone, so any number of workers finds the
same layouts one after the other, only sooner or later.
"""

from __future__ import annotations

import sys
from dataclasses import dataclass
from pathlib import Path

import click

from benchmarks import options
from benchmarks.instances import instance_files, read_instance
from benchmarks.machine import cores
from benchmarks.measured import Measurement, Row, file_of
from benchmarks.pinned import Job, run_all
from benchmarks.solve import solve
from benchmarks.strips import warm_up
from nestlib.model import Progress

#: More tries than the clock leaves time for.
_TRIES = 10**9

KEYS = ("instance", "seconds", "workers", "seed")


@dataclass(frozen=True)
class Run:
    """One run of one instance with so many workers.

    Parameters
    ----------
    path : path
        Instance.
    seconds : float
        When to stop improving.
    workers, seed : int
        Threads, and seed of all chance.
    at_once : bool
        Whether others run beside it, on other cores.
    """

    path: Path
    seconds: float
    workers: int
    seed: int
    at_once: bool

    @property
    def key(self) -> Row:
        """Return what tells its row from others."""
        values = (self.path.stem, self.seconds, self.workers, self.seed)
        return dict(zip(KEYS, values, strict=True))


def carry_out(run: Run) -> Row:
    """Run, and note whenever a better layout was found."""
    curve: list[tuple[float, float]] = []

    def note(progress: Progress) -> None:
        share = progress.utilisation
        if share is not None and (not curve or 100 * share > curve[-1][1] + 1e-6):
            curve.append((round(progress.seconds, 3), round(100 * share, 4)))

    result = solve(read_instance(run.path), run.seconds, run.seed, run.workers, note, _TRIES)
    return {
        **run.key,
        "at_once": run.at_once,
        "density": round(result.value, 4),
        "valid": result.feasible,
        "took": round(result.seconds, 2),
        "curve": curve,
    }


@click.command("scaling")
@options.instances
@options.searched(60.0)
@click.option(
    "--workers", type=options.Numbers(), default="1,2,4,8,16", show_default=True, help="How many."
)
@click.option("--at-once", is_flag=True, help="Run as many at a time as there are cores for.")
@options.out
def command(
    folder: Path,
    only: tuple[str, ...],
    seconds: float,
    seeds: tuple[int, ...],
    workers: tuple[int, ...],
    at_once: bool,
    out: Path | None,
) -> None:
    """Measure how much sooner more workers reach a density. More than there are cores are left out.

    Example: python -m benchmarks scaling --instances instances/ --only swim --workers 1,2
    """
    there = len(cores())
    runs = [
        Run(path, seconds, count, seed, at_once)
        for seed in seeds
        for path in instance_files(folder, ["strip"], only)
        for count in workers
        if count <= there
    ]
    measurement = Measurement(out or file_of("scaling", f"{seconds:g}s"), "scaling", KEYS)
    missing = [run for run in runs if not measurement.has(**run.key)]

    def done(_: Job, row: Row) -> None:
        measurement.add(row)
        click.echo(f"{row['instance']} with {row['workers']}: {row['density']:.2f}")

    if missing:
        warm_up(missing[0].path)
    # The widest first: beside the others there would never be room for them.
    missing.sort(key=lambda run: -run.workers)
    jobs = [Job(carry_out, (run,), run.workers) for run in missing]
    sys.exit(run_all(jobs, there if at_once else 1, done) > 0)
