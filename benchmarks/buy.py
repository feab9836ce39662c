"""Orders for rectangles on sheets of several sizes: cost over the area bound, and the bound."""

from __future__ import annotations

import sys
from dataclasses import dataclass, replace
from pathlib import Path

import click

import nestlib as nl
from benchmarks import options
from benchmarks.instances import Instance, instance_files, read_instance
from benchmarks.measured import Measurement, Row, file_of
from benchmarks.pinned import Job, run_all
from benchmarks.sheets import area_cost
from nestlib.model import Contour, Offer, Part, PriceList, Sheet, Spacing
from nestlib.model import Job as SheetJob

KEYS = ("instance", "seconds", "workers", "seed")

#: Sides are so many millimetres for one of the instance: the packer's tolerances are lengths.
_SCALE = 10.0


@dataclass(frozen=True)
class Run:
    """One run.

    Parameters
    ----------
    path : path
        Instance of kind sheets.
    seconds : float
        For all layouts.
    workers : int
        Processes.
    seed : int
        Of all chance.
    """

    path: Path
    seconds: float
    workers: int
    seed: int

    @property
    def key(self) -> Row:
        """Return what tells its row from others."""
        values = (self.path.stem, self.seconds, self.workers, self.seed)
        return dict(zip(KEYS, values, strict=True))


def carry_out(run: Run) -> Row:
    """Run, and return the row."""
    instance = read_instance(run.path)
    job, prices = as_purchase(instance)
    purchase = nl.buy(job, prices, stop=nl.After(run.seconds), seed=run.seed, workers=run.workers)
    (metal,) = purchase.metals
    by_area = area_cost(instance)
    cost, bound = metal.cost / 100, metal.bound / 100
    return {
        **run.key,
        "pieces": instance.pieces,
        "cost": cost,
        "bound": bound,
        "by_area": round(by_area, 2),
        "over_area": round(100 * (cost / by_area - 1), 2),
        "over_bound": round(100 * (cost / bound - 1), 2) if bound else None,
        "best_single": min((a.cost for a in metal.alone if a.cost), default=0) / 100,
        "formats": len([line for line in metal.lines if line.sheets]),
        "layouts": metal.layouts_found,
        "took": round(purchase.seconds, 2),
    }


def as_purchase(instance: Instance) -> tuple[SheetJob, PriceList]:
    """Return the rectangles as parts that keep their orientation, and the sheets as offers.

    Parameters
    ----------
    instance : Instance
        Of kind sheets.
    """
    metal = nl.metal("mild-steel", 1.0)
    # Equal rectangles are one part.
    numbers: dict[tuple[float, float], int] = {}
    for width, height in instance.data["rectangles"]:
        numbers[width, height] = numbers.get((width, height), 0) + 1
    parts = tuple(
        Part(f"{w:g}x{h:g}", _rectangle(w, h), quantity=n, rotations=(0.0,))
        for (w, h), n in numbers.items()
    )
    offers = tuple(
        Offer(f"{i}", metal, _SCALE * s["height"], (_SCALE * s["width"],), per_sheet=s["cost"])
        for i, s in enumerate(instance.data["sheets"])
    )
    side = _SCALE * max(max(s["width"], s["height"]) for s in instance.data["sheets"])
    machine = replace(nl.machine("co2-400"), bed=(side, side))
    any_sheet = Sheet("any", Contour.rectangle(side, side), quantity=None)
    job = SheetJob(instance.name, parts, (any_sheet,), metal, machine, Spacing(0.0, 0.0, 0.0))
    return job, PriceList(offers)


def _rectangle(width: float, height: float) -> Contour:
    return Contour.rectangle(_SCALE * width, _SCALE * height)


@click.command("buy")
@options.instances
@options.searched(20.0, seeds="1")
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
    """Work out orders for instances with sheets of several sizes.

    Example: python -m benchmarks buy --instances instances/ --seconds 20 --only MB_Class_1_1
    """
    measurement = Measurement(out or file_of("buy", f"{seconds:g}s"), "buy", KEYS)
    runs = [
        Run(path, seconds, workers, seed)
        for seed in seeds
        for path in instance_files(folder, ["sheets"], only)
    ]
    missing = [run for run in runs if not measurement.has(**run.key)]

    def done(_: Job, row: Row) -> None:
        measurement.add(row)
        click.echo(
            f"{row['instance']}: {row['cost']:g}, {row['over_area']:g} % over the area bound; "
            f"no order costs less than {row['bound']:g}"
        )

    jobs = [Job(carry_out, (run,), run.workers) for run in missing]
    sys.exit(run_all(jobs, parallel, done) > 0)
