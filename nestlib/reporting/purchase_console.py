"""A purchase on the terminal: the order, what was asked about it, and what it costs."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from rich.console import Console

from nestlib.model import MetalPurchase, Purchase
from nestlib.reporting import texts
from nestlib.reporting.purchase_tables import (
    Grid,
    order_table,
    questions_table,
    services_table,
    weeks_table,
)
from nestlib.reporting.purchase_words import bound_line, leftover_line, notices, proof_line
from nestlib.reporting.screen import add_row, new_console, new_table, say


def print_purchase(
    purchase: Purchase, folder: str | Path, *, console: Console | None = None
) -> None:
    """Print a purchase.

    Parameters
    ----------
    purchase : Purchase
        What is to be bought.
    folder : path-like
        Where it was written.
    console : rich.console.Console, optional
        Where to print; the standard output by default.
    """
    out = console or new_console()
    for metal in purchase.metals:
        say(out, f"{metal.metal} · {', '.join(metal.jobs)}", "bold")
        if metal.lines:
            _show(out, order_table(metal, purchase.currency))
        for line in _figures(metal, purchase):
            say(out, line)
        if metal.by_number or metal.alone:
            _show(out, questions_table(metal, purchase.currency))
        if metal.services:
            _show(out, services_table(metal, purchase.currency))
        if metal.schedule is not None:
            _show(out, weeks_table(metal.schedule, purchase.currency))
    for notice in notices(purchase):
        say(out, notice, "yellow")
    say(out, f"Written to {folder}: purchase.html, purchase.pdf, order.csv and more.")


def _show(out: Console, grid: Grid) -> None:
    """Print a table without the columns that say nothing, since a terminal is narrow."""
    told = [
        i for i in range(len(grid.columns)) if any(row[i] not in ("", "0") for row in grid.rows)
    ]
    table = new_table("", *(grid.columns[i] for i in told))
    for row in grid.rows:
        add_row(table, *(row[i] for i in told))
    out.print(table)
    for note in grid.notes:
        say(out, note)


def _figures(metal: MetalPurchase, purchase: Purchase) -> Iterator[str]:
    currency = purchase.currency
    paid, cost = texts.hundredths(metal.paid, currency), texts.hundredths(metal.cost, currency)
    stock = f" (stock counts with {texts.share(purchase.stock_value)} of its price)"
    yield f"To pay {paid}; cost {cost}{stock if metal.paid != metal.cost else ''}."
    yield f"No order costs less than {bound_line(metal, currency)}"
    yield proof_line(metal)
    used, weight = texts.share(metal.utilisation), texts.kilograms(metal.weight)
    yield f"{used} used, {weight} ordered; {leftover_line(metal)}."
