"""Any angle against the listed ones."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from benchmarks import options
from benchmarks.instances import instance_files
from benchmarks.measured import Measurement, file_of
from benchmarks.strips import KEYS, Run, measure


@click.command("angles")
@options.instances
@options.searched(120.0)
@options.side_by_side
@options.solutions
@options.out
def command(
    folder: Path,
    only: tuple[str, ...],
    seconds: float,
    seeds: tuple[int, ...],
    workers: int,
    parallel: int,
    solutions: Path | None,
    out: Path | None,
) -> None:
    """Measure densities at the listed angles and at any angle.

    Example: python -m benchmarks angles --instances instances/ --only swim,albano
    """
    runs = [
        Run(path, which, seconds, workers, seed)
        for seed in seeds
        for path in instance_files(folder, ["strip"], only)
        for which in ("listed", "any")
    ]
    out = out or file_of("angles", f"{seconds:g}s")
    sys.exit(measure(runs, parallel, Measurement(out, "angles", KEYS), solutions) > 0)
