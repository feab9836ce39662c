"""Work out which sheets to order."""

from __future__ import annotations

import os
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import click

from nestlib.errors import InputError, Problem

from .failures import STOPPED
from .options import FiniteRange, as_json, print_json, quiet

if TYPE_CHECKING:
    from nestlib import Job, PriceList


@click.command()
@click.argument("jobs", nargs=-1, required=True, type=click.Path(path_type=Path))
@click.option(
    "--prices",
    required=True,
    type=click.Path(path_type=Path),
    help="The price list: TOML, CSV or XLSX.",
)
@click.option(
    "--out",
    type=click.Path(path_type=Path),
    default=Path("purchase"),
    show_default=True,
    help="Folder of the order.",
)
@click.option(
    "--seconds",
    type=FiniteRange(0, min_open=True),
    help="Time to look for layouts, for each metal. [default: 10, or less if no more is found]",
)
@click.option("--iterations", type=click.IntRange(1), help="Stop after so many rounds instead.")
@click.option("--seed", type=click.IntRange(0), default=0, show_default=True, help="Of all chance.")
@click.option(
    "--workers",
    type=click.IntRange(1, 61),
    default=min(os.cpu_count() or 1, 61),
    help="Processes to use.  [default: all cores]",
)
@click.option(
    "--stock-value",
    type=FiniteRange(0, 1),
    help="What a sheet in stock is worth of its price, 0 to 1; instead of what the list says.",
)
@click.option("--currency", help="Instead of what the list says.")
@click.option("--empty-rack", is_flag=True, help="As if nothing were at hand.")
@click.option("--overwrite", is_flag=True, help="Replace an older order in the same folder.")
@click.option("--force", is_flag=True, help="Go on beyond the machine's limits.")
@as_json
@quiet
def buy(
    jobs: tuple[Path, ...],
    prices: Path,
    out: Path,
    seconds: float | None,
    iterations: int | None,
    seed: int,
    workers: int,
    stock_value: float | None,
    currency: str | None,
    empty_rack: bool,
    overwrite: bool,
    force: bool,
    as_json: bool,
    quiet: bool,
) -> None:
    """Work out which sheets to order for JOBS (job.toml files), from a price list.

    Sheets of the jobs whose number is given, and remnants, are at hand. Ctrl-C ends the
    search and keeps the best so far.

    \b
    Example:
      nestlib buy job.toml --prices prices.toml --out purchase
    """
    import nestlib as nl
    from nestlib.handover_purchase import demand_free_for_purchase, write_purchase_folder
    from nestlib.reporting import ProgressLine, print_purchase
    from nestlib.writing import buy_record

    demand_free_for_purchase(out, overwrite=overwrite)
    price_list = _changed(nl.read_prices(prices), stock_value, currency)
    ready = _read_all(jobs, force)
    rule = nl.Iterations(iterations) if iterations else nl.After(seconds) if seconds else None
    with ProgressLine("buy", quiet=quiet) as line:
        purchase = nl.buy(
            ready,
            price_list,
            stop=rule,
            seed=seed,
            workers=workers,
            on_progress=line,
            at_hand=not empty_rack,
        )
    write_purchase_folder(purchase, out, overwrite=overwrite)
    if as_json:
        print_json(buy_record(purchase))
    elif not quiet:
        print_purchase(purchase, out)
    elif not purchase.complete:
        for missing in (u for m in purchase.metals for u in m.unplaced):
            click.echo(f"{missing.quantity} x {missing.part}: {missing.reason}", err=True)
    raise SystemExit(STOPPED if purchase.stopped else 0 if purchase.complete else 1)


def _changed(prices: PriceList, stock_value: float | None, currency: str | None) -> PriceList:
    """The price list, with what was said on the command line instead."""
    if stock_value is not None:
        prices = replace(prices, stock_value=stock_value)
    return prices if currency is None else replace(prices, currency=currency)


def _read_all(paths: Sequence[Path], force: bool) -> list[Job]:
    """Read all jobs, and report the problems of all at once."""
    import nestlib as nl
    from nestlib.gathering import Gathering

    jobs, gathering = [], Gathering()
    for path in paths:
        with gathering.going_on():
            if path.suffix.lower() != ".toml":
                remedy = "Give a job.toml; a part list can stand in one as its parts"
                raise InputError(Problem(str(path), "", "this is not a job file", remedy))
            jobs.append(nl.read_job(path, force=force))
    gathering.finish()
    return jobs
