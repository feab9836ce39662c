"""What grows with the number of pieces: copies of one instance."""

from __future__ import annotations

import math
import resource
import sys
import time
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

import click

from benchmarks import midway, options
from benchmarks.instances import copies, instance_files, read_instance
from benchmarks.measured import Measurement, Row, file_of
from benchmarks.pinned import Job, run_all
from nestlib.engine import Item, pack_strip
from nestlib.model import Progress

KEYS = ("instance", "copies")

#: Processor seconds of sweeps before those that are counted, as a share of these.
_SETTLING = 0.25


def exponent(sizes: Sequence[float], values: Sequence[float] | None) -> float:
    """Return the power of the size that fits values best; without values that of n log n.

    Examples
    --------
    >>> round(exponent([1, 2, 4], [3.0, 12.0, 48.0]), 6)
    2.0
    """
    values = [n * math.log(n) for n in sizes] if values is None else values
    x, y = [math.log(n) for n in sizes], [math.log(v) for v in values]
    mx, my = sum(x) / len(x), sum(y) / len(y)
    above = sum((a - mx) * (b - my) for a, b in zip(x, y, strict=True))
    return above / sum((a - mx) ** 2 for a in x)


@dataclass(frozen=True)
class Run:
    """So many copies of one instance.

    Parameters
    ----------
    path : path
        Instance.
    times : int
        Copies.
    seconds : float
        Processor seconds of sweeps.
    """

    path: Path
    times: int
    seconds: float

    @property
    def key(self) -> Row:
        """Return what tells its row from others."""
        return dict(zip(KEYS, (self.path.stem, self.times), strict=True))


def carry_out(run: Run) -> Row:
    """Measure the first layout, sweeps, and memory."""
    one = read_instance(run.path)
    pack_strip(one.items, one.data["width"], tries=1)
    before = _memory()
    instance = copies(one, run.times)
    first = _first_layout(instance.items, instance.data["width"])
    worker = midway.too_short(instance)
    midway.sweeps(worker, _SETTLING * run.seconds)
    swept = midway.sweeps(worker, run.seconds)
    return {
        **run.key,
        "pieces": instance.pieces,
        "first": round(first, 4),
        "sweeps": swept.done,
        "sweep": swept.seconds / swept.done,
        "moved": round(swept.moved, 3),
        "places": round(swept.places, 1),
        "memory": round(_memory(), 1),
        "memory_before": round(before, 1),
    }


def _first_layout(items: Sequence[Item], width: float) -> float:
    """Return the processor seconds until there is a layout, once the kernels are loaded."""
    moments: list[float] = []

    def note(progress: Progress) -> None:
        moments.append(time.process_time())
        if progress.phase != "preparing" and progress.utilisation is not None:
            raise KeyboardInterrupt

    with suppress(KeyboardInterrupt):
        pack_strip(items, width, seconds=60, on_progress=note)
    return moments[-1] - moments[0]


def _memory() -> float:
    """Return the greatest memory of this process so far in MiB."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


@click.command("growth")
@options.instances
@click.option("--copies", "times", type=options.Numbers(), default="1,2,4,8,16", show_default=True)
@click.option("--seconds", default=4.0, show_default=True, help="Processor time of sweeps.")
@options.out
def command(
    folder: Path, only: tuple[str, ...], times: tuple[int, ...], seconds: float, out: Path | None
) -> None:
    """Measure how time and memory grow with the number of pieces.

    Example: python -m benchmarks growth --instances instances/ --only swim,shapes0
    """
    measurement = Measurement(out or file_of("growth"), "growth", KEYS)
    runs = [
        Run(path, count, seconds)
        for path in instance_files(folder, ["strip"], only or ("swim", "shapes0"))
        for count in times
    ]

    def done(_: Job, row: Row) -> None:
        measurement.add(row)
        click.echo(f"{row['instance']} x{row['copies']}: {1000 * row['sweep']:.2f} ms a sweep")

    jobs = [Job(carry_out, (run,)) for run in runs if not measurement.has(**run.key)]
    sys.exit(run_all(jobs, 1, done) > 0)
