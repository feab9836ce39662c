"""Bins and sheets of several sizes: how many, and at what cost."""

from __future__ import annotations

from pathlib import Path

import click

from benchmarks import options
from benchmarks.instances import instance_files, read_instance
from benchmarks.measured import Measurement, file_of
from benchmarks.solve import solve

KEYS = ("kind", "instance", "seconds", "workers", "seed")


@click.command("sheets")
@options.instances
@options.searched(10.0, seeds="1")
@click.option("--workers", default=1, show_default=True, help="Processes.")
@options.out
def command(
    folder: Path,
    only: tuple[str, ...],
    seconds: float,
    seeds: tuple[int, ...],
    workers: int,
    out: Path | None,
) -> None:
    """Solve instances with bins or with sheets of several sizes, one after the other.

    Example: python -m benchmarks sheets --instances instances/ --seconds 10
    """
    measurement = Measurement(out or file_of("sheets", f"{seconds:g}s"), "sheets", KEYS)
    for path in instance_files(folder, ["bins", "sheets"], only):
        instance = read_instance(path)
        for seed in seeds:
            values = (instance.kind, instance.name, seconds, workers, seed)
            key = dict(zip(KEYS, values, strict=True))
            if measurement.has(**key):
                continue
            result = solve(instance, seconds, seed, workers)
            measurement.add(
                {
                    **key,
                    "pieces": instance.pieces,
                    "value": result.value,
                    "target": None if result.target is None else round(result.target, 2),
                    "valid": result.feasible,
                    "took": round(result.seconds, 2),
                }
            )
            click.echo(f"{instance.name}: {result.value:g} (compare {result.target})")
