"""Work out which sheets to order."""

from __future__ import annotations

import os
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from nestlib.errors import InputError, Problem

from .failures import STOPPED
from .options import FiniteRange, as_json, print_json, quiet
from .part_lists import ANY_SHEET, given_for_lists, is_list, read_job_or_list, words_for_lists
from .stock_options import demand_from_stock, sheets_from_rack

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
    help=(
        "Time to look for layouts, for each metal; with --iterations, what comes first. "
        "[default: 10, or less if no more is found]"
    ),
)
@click.option(
    "--iterations",
    type=click.IntRange(1),
    help=(
        "Stop after so many rounds of each search; without --seconds, the same number and seed"
        " give the same order."
    ),
)
@click.option("--seed", type=click.IntRange(0), default=0, show_default=True, help="Of all chance.")
@click.option(
    "--workers",
    type=click.IntRange(1, 61),
    default=min(os.cpu_count() or 1, 61),
    help="Processes to use.  [default: all cores]",
)
@click.option(
    "--forecast",
    type=click.Path(path_type=Path),
    help="Parts, numbers or ranges, and weeks (CSV, XLSX), in place of the jobs' quantities.",
)
@click.option(
    "--past", type=click.Path(path_type=Path), help="What past weeks took of each part (CSV, XLSX)."
)
@click.option(
    "--scrap",
    type=FiniteRange(0, 1, max_open=True),
    default=0.0,
    help="Chance that a piece is scrap, 0 to below 1.  [default: 0]",
)
@click.option(
    "--service",
    type=FiniteRange(0, 1, min_open=True, max_open=True),
    help="Chance with which each part shall suffice.  [default: 0.95, or the cheapest]",
)
@click.option("--shortage", type=FiniteRange(0), help="Cost of each piece that is short.")
@click.option("--weekly", is_flag=True, help="Plan orders and cutting week by week too.")
@click.option("--order-from", default="", help="Week of the first possible order: 2030-W18.")
@click.option(
    "--stock-value",
    type=FiniteRange(0, 1),
    help="What a sheet in stock is worth of its price, 0 to 1; instead of what the list says.",
)
@click.option("--currency", help="Instead of what the list says.")
@click.option("--empty-rack", is_flag=True, help="As if nothing were at hand.")
@sheets_from_rack(
    "What is at hand lies on the rack; sheets of the jobs are left out. Nothing is held."
)
@click.option(
    "--paper",
    type=click.Choice(["a4", "letter"]),
    default="a4",
    show_default=True,
    help="Size of the pages of purchase.pdf.",
)
@click.option("--overwrite", is_flag=True, help="Replace an older order in the same folder.")
@click.option("--force", is_flag=True, help="Go on beyond the machine's limits.")
@words_for_lists
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
    forecast: Path | None,
    past: Path | None,
    scrap: float,
    service: float | None,
    shortage: float | None,
    weekly: bool,
    order_from: str,
    stock_value: float | None,
    currency: str | None,
    empty_rack: bool,
    from_stock: bool,
    place: str | None,
    document: str | None,
    paper: str,
    overwrite: bool,
    force: bool,
    as_json: bool,
    quiet: bool,
    **for_lists: Any,
) -> None:
    """Work out which sheets to order for JOBS (job.toml files, or part lists as CSV or XLSX),
    from a price list.

    Sheets of the jobs whose number is given, and remnants, are at hand; or, with --from-stock,
    what is free on the rack. Ctrl-C ends the search and keeps the best so far.

    \b
    Exit codes:
      1  done, but something cannot be made, or not in its week with --weekly

    \b
    Examples:
      nestlib buy job.toml --prices prices.toml --out purchase
      nestlib buy *.toml --prices prices.csv --forecast spring.csv --weekly
      nestlib buy parts.csv --metal mild-steel --thickness 3 --prices prices.toml --from-stock
    """
    import nestlib as nl
    from nestlib.handover_purchase import demand_free_for_purchase, write_purchase_folder
    from nestlib.packing.stopping import stop_after
    from nestlib.reporting import ProgressTable, print_purchase
    from nestlib.writing import buy_record

    demand_from_stock(from_stock, place, document)
    if from_stock and empty_rack:
        raise click.UsageError("--from-stock and --empty-rack contradict each other")
    lists = any(map(is_list, jobs))
    given = given_for_lists(jobs, {**for_lists, "sheets": ANY_SHEET if lists else ()})
    demand_free_for_purchase(out, overwrite=overwrite)
    price_list = _changed(nl.read_prices(prices), stock_value, currency)
    ready = _read_all(jobs, force, given)
    notes: tuple[str, ...] = ()
    if from_stock:
        ready, notes = _with_rack(ready, place, price_list.currency, document)
    rule = stop_after(seconds, iterations)
    with ProgressTable(["buy"], quiet=quiet) as table, table.job() as line:
        purchase = nl.buy(
            ready,
            price_list,
            stop=rule,
            seed=seed,
            workers=workers,
            on_progress=line,
            at_hand=not empty_rack,
            forecast=nl.read_forecast(forecast) if forecast else (),
            past=nl.read_forecast(past) if past else (),
            scrap=scrap,
            service=service,
            shortage=shortage,
            weekly=weekly,
            order_from=_week(order_from),
        )
    purchase = replace(purchase, notes=notes)
    write_purchase_folder(purchase, out, overwrite=overwrite, paper=paper)
    if as_json:
        print_json(buy_record(purchase))
    elif not quiet:
        print_purchase(purchase, out)
    elif not purchase.complete:
        for missing in (u for m in purchase.metals for u in m.unplaced):
            click.echo(f"{missing.quantity} x {missing.part}: {missing.reason}", err=True)
    planned = weekly and not purchase.stopped
    late = planned and any(metal.schedule is None for metal in purchase.metals)
    if late and quiet and not as_json:
        click.echo("Warning: no plan week by week has everything in time", err=True)
    whole = purchase.complete and not late
    raise SystemExit(STOPPED if purchase.stopped else 0 if whole else 1)


def _week(text: str) -> str:
    """Refuse what is no week."""
    import re

    if text and not re.fullmatch(r"\d{4}-W(0[1-9]|[1-4]\d|5[0-3])|\d{1,6}", text):
        raise click.UsageError(f'--order-from "{text}" is not a week: write 2030-W18, or a number')
    return text


def _changed(prices: PriceList, stock_value: float | None, currency: str | None) -> PriceList:
    """The price list, with what was said on the command line instead."""
    if stock_value is not None:
        prices = replace(prices, stock_value=stock_value)
    return prices if currency is None else replace(prices, currency=currency)


def _read_all(paths: Sequence[Path], force: bool, given: dict[str, Any]) -> list[Job]:
    """Read all jobs, and report the problems of all at once."""
    from nestlib.gathering import Gathering

    jobs, gathering = [], Gathering()
    for path in paths:
        with gathering.going_on():
            if path.suffix.lower() != ".toml" and not is_list(path):
                remedy = "Give job.toml files, or part lists as CSV or XLSX"
                raise InputError(Problem(str(path), "", "this is not a job file", remedy))
            jobs.append(read_job_or_list(path, force, given))
    gathering.finish()
    return jobs


def _with_rack(
    jobs: Sequence[Job], place: str | None, currency: str, document: str | None
) -> tuple[list[Job], tuple[str, ...]]:
    """The jobs with what lies on the rack, and what has to be known about it."""
    from nestlib.rack_sheets import jobs_to_buy_for
    from nestlib.stock import Rack

    rack = Rack(place, make=False)
    ready, left_out = jobs_to_buy_for(jobs, rack, currency=currency, document=document)
    return ready, (*left_out, "What is at hand lies on the rack and is not held for this order")
