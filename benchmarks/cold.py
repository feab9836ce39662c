"""What the first run pays for compiling, and what every process after it pays."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import tempfile
from pathlib import Path

import click

from benchmarks import options
from benchmarks.instances import instance_files
from benchmarks.measured import Measurement, Row, file_of

KEYS = ("instance", "process")

#: Nothing of the benchmarks is imported before the clock of imports has run.
_PROCESS = """
import sys, time
began = time.perf_counter()
from nestlib.engine import pack_strip
imported = time.perf_counter()
from benchmarks.instances import read_instance
instance = read_instance(sys.argv[1])
called = time.perf_counter()
moments = {}
def note(progress):
    moments.setdefault(progress.phase, time.perf_counter())
    if progress.phase != "preparing" and progress.utilisation is not None:
        moments.setdefault("laid", time.perf_counter())
        raise KeyboardInterrupt
try:
    pack_strip(instance.items, instance.data["width"], seconds=60, on_progress=note)
except KeyboardInterrupt:
    pass
ready, laid = moments["preparing"], moments["laid"]
print(imported - began, ready - called, laid - ready)
"""


def run(path: Path, folder: str) -> Row:
    """Return the seconds of one new process that keeps its kernels in a folder."""
    done = subprocess.run(
        [sys.executable, "-c", _PROCESS, str(path)],
        env={**os.environ, "NUMBA_CACHE_DIR": folder},
        cwd=Path(__file__).parents[1],
        capture_output=True,
        text=True,
        check=False,
    )
    if done.returncode:
        raise click.ClickException(done.stderr)
    figures = [round(float(v), 3) for v in done.stdout.split()]
    return dict(zip(("imports", "preparing", "first"), figures, strict=True))


@click.command("cold")
@options.instances
@options.out
def command(folder: Path, only: tuple[str, ...], out: Path | None) -> None:
    """Measure a first run and a second process, with a new folder of kernels.

    Example: python -m benchmarks cold --instances instances/ --only fu
    """
    measurement = Measurement(out or file_of("cold"), "cold", KEYS)
    for path in instance_files(folder, ["strip"], only or ("fu",)):
        if all(measurement.has(instance=path.stem, process=p) for p in ("first", "second")):
            continue
        with tempfile.TemporaryDirectory() as kernels:
            for process in ("first", "second"):
                row = {"instance": path.stem, "process": process, **run(path, kernels)}
                measurement.add(row)
                click.echo(json.dumps(row))
