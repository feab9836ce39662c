"""The page of a purchase: what to order and why, as HTML that needs nothing else."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from markupsafe import Markup

from nestlib.model import MetalPurchase, Purchase
from nestlib.reporting import purchase_words as words
from nestlib.reporting import texts
from nestlib.reporting.cost_picture import cost_svg
from nestlib.reporting.page import plain_page
from nestlib.reporting.purchase_tables import (
    Grid,
    layouts_table,
    order_table,
    questions_table,
    services_table,
    weeks_table,
)

#: So many formats alone are told, the cheapest: the page shall stay one.
_ALONE = 4


@dataclass(frozen=True)
class Chapter:
    """What is told of one metal.

    Parameters
    ----------
    title, jobs : str
        The metal, and what it is for.
    figures : tuple of (str, str, str)
        Name, value and what belongs to it.
    order : Grid
        The order list, with delivery and sum.
    reasons : tuple of str
        Why it is this order.
    tables : tuple of Grid
        Alternatives, chance, weeks, layouts.
    picture : str
        Cost against the number of formats, as SVG; empty if that was not asked.
    """

    title: str
    jobs: str
    figures: tuple[tuple[str, str, str], ...]
    order: Grid
    reasons: tuple[str, ...]
    tables: tuple[Grid, ...]
    picture: str = ""


def purchase_html(purchase: Purchase) -> str:
    """Write the page of a purchase.

    Parameters
    ----------
    purchase : Purchase
        As it was worked out, or as `nestlib.writing.read_purchase` returns it.

    Returns
    -------
    str
        An HTML document without scripts that asks nothing of the network, follows the
        reader's choice of light or dark, and prints.
    """
    return plain_page(
        "purchase.html",
        "purchase.css",
        title=words.title(purchase),
        terms=terms(purchase),
        notices=list(words.notices(purchase)),
        chapters=list(chapters(purchase)),
        cautions=words.CAUTIONS,
    )


def terms(purchase: Purchase) -> str:
    """Return by which prices and with which settings a purchase was worked out."""
    said = [f"Prices: {purchase.prices}" if purchase.prices else "Prices made in code"]
    if len(purchase.metals) > 1:
        said.insert(0, f"To pay {texts.hundredths(purchase.paid, purchase.currency)} in all")
    said += [f"{name} {value:g}" for name, value in purchase.settings.items()]
    return " · ".join(said)


def chapters(purchase: Purchase) -> Iterator[Chapter]:
    """Yield what is told of each metal."""
    for metal in purchase.metals:
        picture = cost_svg(replace(purchase, metals=(metal,))) if _is_choice(metal) else ""
        yield Chapter(
            str(metal.metal),
            ", ".join(metal.jobs),
            tuple(words.figures(metal, purchase.currency)),
            _order(metal, purchase.currency),
            tuple(words.reasons(metal, purchase)),
            tuple(_tables(metal, purchase.currency)),
            Markup(picture),
        )


def _order(metal: MetalPurchase, currency: str) -> Grid:
    """The order list with delivery and sum below it."""
    table = order_table(metal, currency, sizes=True)
    rows = list(table.rows)
    if words.delivered(metal):
        delivery = texts.hundredths(words.delivered(metal), currency)
        rows.append(_sparse(table, {"Format": "Delivery", ">Amount": delivery}))
    sheets = sum(line.sheets for line in metal.lines)
    sums = {
        ">Order": str(sheets),
        "Format": "To pay",
        ">Amount": texts.hundredths(metal.paid, currency),
        ">Weight": texts.kilograms(metal.weight),
    }
    return replace(table, rows=(*rows, _sparse(table, sums)), summed=True)


def _is_choice(metal: MetalPurchase) -> bool:
    """Whether there is anything to choose: not where what is at hand suffices."""
    return any(a.formats or a.cost is None for a in (*metal.by_number, *metal.alone))


def _sparse(table: Grid, cells: dict[str, str]) -> tuple[str, ...]:
    """A row that is empty but for some cells."""
    return tuple(cells.get(column, "") for column in table.columns)


def _tables(metal: MetalPurchase, currency: str) -> Iterator[Grid]:
    if _is_choice(metal):
        yield questions_table(metal, currency, _ALONE)
    if metal.services:
        yield services_table(metal, currency)
    if metal.schedule is not None:
        yield weeks_table(metal.schedule, currency)
    if metal.layouts:
        yield layouts_table(metal)
