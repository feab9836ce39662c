"""The rack under fire, and how quickly it is listed."""

from __future__ import annotations

import json
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import click

from benchmarks import options
from benchmarks.measured import Measurement, file_of
from benchmarks.postgres_server import postgres_server
from benchmarks.stock_fire import fire
from benchmarks.stock_listing import QUERIES, listing

KEYS = ("database", "test", "seed")


@contextmanager
def rack(database: str) -> Iterator[str]:
    """Give an empty place for a rack: a file, or a server that runs for a while."""
    if database == "PostgreSQL":
        with postgres_server() as url:
            yield url
    else:
        with tempfile.TemporaryDirectory() as folder:
            yield str(Path(folder) / "rack.sqlite")


@click.command("stock")
@click.option("--databases", type=options.Names(), default="SQLite,PostgreSQL", show_default=True)
@click.option("--processes", default=8, show_default=True, help="At a time.")
@click.option("--operations", default=10_000, show_default=True, help="Of all processes.")
@click.option("--kills", default=200, show_default=True, help="Processes ended by SIGKILL.")
@click.option("--sheets", default=100_000, show_default=True, help="Items to list.")
@click.option("--seeds", type=options.Numbers(), default="1", show_default=True)
@options.out
def command(
    databases: tuple[str, ...],
    processes: int,
    operations: int,
    kills: int,
    sheets: int,
    seeds: tuple[int, ...],
    out: Path | None,
) -> None:
    """Let processes work at one rack and kill them at random; list a large rack.

    Example: python -m benchmarks stock
    """
    measurement = Measurement(out or file_of("stock"), "stock", KEYS)
    for seed in seeds:
        for database in databases:
            if not measurement.has(database=database, test="fire", seed=seed):
                size = {"processes": processes, "operations": operations, "kills": kills}
                with rack(database) as place, tempfile.TemporaryDirectory() as logs:
                    figures = fire(place, Path(logs), **size, seed=seed)
                row = {"database": database, "test": "fire", "seed": seed, **size, **figures}
                measurement.add(row)
                click.echo(json.dumps(row))
            if not all(measurement.has(database=database, test=q, seed=seed) for q in QUERIES):
                with rack(database) as place:
                    for found in listing(place, sheets, seed):
                        row = {"database": database, "test": found.pop("query"), "seed": seed}
                        measurement.add({**row, "sheets": sheets, **found})
                        click.echo(json.dumps({**row, **found}))
