"""A purchase on the terminal: the order, what was asked about it, and what it costs."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from pathlib import Path

from rich.console import Console
from rich.table import Table

from nestlib.model import Asked, MetalPurchase, Purchase, Schedule
from nestlib.reporting import texts
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
            out.print(_order(metal, purchase.currency))
        for line in _figures(metal, purchase):
            say(out, line)
        if metal.by_number or metal.alone:
            out.print(_questions(metal, purchase.currency))
        if metal.services:
            out.print(_services(metal, purchase.currency))
        if metal.schedule is not None:
            _schedule(out, metal.schedule, purchase.currency)
        for missing in metal.unplaced:
            pieces = texts.count(missing.quantity, "piece")
            say(out, f"Not bought for: {pieces} of {missing.part}: {missing.reason}.", "yellow")
        for note in metal.notes:
            say(out, f"Note: {note}.", "yellow")
    if purchase.stopped:
        say(out, "Stopped early: this is the best so far.", "yellow")
    say(out, f"Written to {folder}: order.csv, choices.csv, cost.svg and buy.json.")


def _order(metal: MetalPurchase, currency: str) -> Table:
    """The order list."""
    table = new_table(
        "", ">Order", "Format", ">Packs", ">Each", ">Amount", ">Weight", ">To cut", ">To stock",
        ">Weeks",
    )  # fmt: skip
    for line in metal.lines:
        packs = f"{line.sheets // line.pack} of {line.pack}" if line.pack > 1 else ""
        add_row(
            table, line.sheets or "", line.format, packs if line.sheets else "",
            texts.hundredths(line.price, "") if line.sheets else "",
            texts.hundredths(line.amount, currency) if line.sheets else "",
            f"{line.sheets * line.weight:.1f} kg" if line.sheets else "",
            line.used, line.to_stock if line.sheets else "", line.lead_weeks if line.sheets else "",
        )  # fmt: skip
    return table


def _figures(metal: MetalPurchase, purchase: Purchase) -> Iterator[str]:
    currency = purchase.currency
    paid, cost = texts.hundredths(metal.paid, currency), texts.hundredths(metal.cost, currency)
    bound = texts.hundredths(metal.bound, currency)
    stock = f" (stock counts with {texts.share(purchase.stock_value)} of its price)"
    yield f"To pay {paid}; cost {cost}{stock if metal.paid != metal.cost else ''}."
    yield f"No order costs less than {bound} ({texts.share(metal.gap)} below): {metal.bound_by}."
    found = texts.count(metal.layouts_found, "layout")
    proof = "none cheaper" if metal.exact else "a cheaper one is not ruled out"
    yield f"Chosen from {found}: of orders for these, {proof}."
    left = [x.leftover for x in metal.layouts for _ in range(x.runs) if x.leftover]
    kept = ", ".join(texts.size(*sides) for sides in left[:6]) + (" …" if len(left) > 6 else "")
    over = f"; leftovers: {kept}" if left else "; no leftover worth keeping"
    yield f"{texts.share(metal.utilisation)} used, {metal.weight:.1f} kg ordered{over}."


def _questions(metal: MetalPurchase, currency: str) -> Table:
    """The table of all questions."""
    table = new_table("", "Question", "Order", ">Cost", ">More")
    for number, asked in enumerate(metal.by_number, start=1):
        add_row(table, f"at most {texts.count(number, 'format')}", *_cells(asked, metal, currency))
    for asked in sorted(metal.alone, key=lambda a: (a.cost is None, a.cost)):
        add_row(table, f"{asked.about} alone", *_cells(asked, metal, currency))
    for asked in metal.missing:
        add_row(table, f"without {asked.about}", *_cells(asked, metal, currency))
    return table


def _cells(asked: Asked, metal: MetalPurchase, currency: str) -> tuple[str, str, str]:
    if asked.cost is None:
        return "cannot make all pieces", "", ""
    order = " + ".join(f"{n} × {name}" for name, n in asked.formats) or "nothing"
    more = asked.cost - metal.cost
    return (
        order,
        texts.hundredths(asked.cost, currency) + ("" if asked.exact else " ?"),
        f"+{more / 100:.2f}" if more else "",
    )


def _services(metal: MetalPurchase, currency: str) -> Table:
    """What it costs to be short more or less often."""
    table = new_table(
        "", ">Each part suffices in", ">Order", ">Any part short in", ">Expected cost"
    )
    for row in metal.services:
        add_row(
            table, texts.share(row.service), texts.hundredths(row.cost, currency),
            f"{texts.share(row.short)} ± {100 * row.error:.1f} %",
            texts.money(row.expected_cost / 100, currency),
        )  # fmt: skip
    return table


def _schedule(out: Console, schedule: Schedule, currency: str) -> None:
    table = new_table("", "Week", "Order", "Cut", ">Parts kept", ">Sheets kept")
    for week in schedule.weeks:
        add_row(
            table, week.week, _things(week.ordered), _things(week.cut),
            f"{week.parts_kept:.1f} kg", f"{week.sheets_kept:.1f} kg",
        )  # fmt: skip
    out.print(table)
    parts = {
        "sheets": schedule.paid, "deliveries": schedule.deliveries, "storage": schedule.storage
    }  # fmt: skip
    told = ", ".join(f"{name} {texts.hundredths(n, currency)}" for name, n in parts.items())
    say(out, f"Week by week it costs {texts.hundredths(schedule.cost, currency)}: {told}.")
    if schedule.week_by_week is not None:
        own = texts.hundredths(schedule.week_by_week, currency)
        say(out, f"If nothing were cut before its week: {own}.")


def _things(things: Iterable[tuple[str, int]]) -> str:
    return " + ".join(f"{n} × {name}" for name, n in things)
