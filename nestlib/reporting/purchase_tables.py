"""What a purchaser is told, as plain texts in tables: for the terminal, the page and the PDF."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from nestlib.model import Asked, MetalPurchase, PurchaseLine, Schedule
from nestlib.reporting import texts


@dataclass(frozen=True)
class Grid:
    """A table.

    Parameters
    ----------
    title : str
        What it is about.
    columns : tuple of str
        Their names; a column whose name begins with > is aligned to the right.
    rows : tuple of tuple of str
        As many cells each.
    notes : tuple of str
        What belongs below it.
    summed : bool
        Whether the last row is the sum.
    """

    title: str
    columns: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    notes: tuple[str, ...] = ()
    summed: bool = False


def order_table(metal: MetalPurchase, currency: str, *, sizes: bool = False) -> Grid:
    """Return the order list.

    Parameters
    ----------
    metal : MetalPurchase
        What is to be bought.
    currency : str
        Of its amounts.
    sizes : bool
        Whether the size of each format is told, besides its name.
    """
    dated = any(line.order_by for line in metal.lines)
    columns = [">Order", "Format", *(["Size"] if sizes else []), ">Packs", ">Each", ">Amount",
               ">Weight", ">To cut", ">To stock", ">Weeks",
               *(["Order by"] if dated else [])]  # fmt: skip
    rows = tuple(_line(line, currency, sizes, dated) for line in metal.lines)
    return Grid("What to order", tuple(columns), rows)


def _line(line: PurchaseLine, currency: str, sizes: bool, dated: bool) -> tuple[str, ...]:
    size = [texts.size(*line.size)] if sizes else []
    by = [line.order_by] if dated else []
    if not line.sheets:
        return ("", line.format, *size, "", "", "", "", str(line.used), "", "", *by)
    packs = f"{line.sheets // line.pack} of {line.pack}" if line.pack > 1 else ""
    return (
        str(line.sheets), line.format, *size, packs, texts.hundredths(line.price, ""),
        texts.hundredths(line.amount, currency), texts.kilograms(line.sheets * line.weight),
        str(line.used), str(line.to_stock), str(line.lead_weeks), *by,
    )  # fmt: skip


def questions_table(metal: MetalPurchase, currency: str, most_alone: int | None = None) -> Grid:
    """Return what was asked, with the order, its cost and how much more than the best it is.

    Parameters
    ----------
    metal : MetalPurchase
        With the answers.
    currency : str
        Of its amounts.
    most_alone : int, optional
        So many formats alone are told, the cheapest; all by default.
    """
    alone = sorted(metal.alone, key=lambda a: (a.cost is None, a.cost))
    told = alone[:most_alone]
    rows = [
        (f"at most {texts.count(number, 'format')}", *_answer(asked, metal, currency))
        for number, asked in enumerate(metal.by_number, start=1)
    ]
    rows += [(f"{a.about} alone", *_answer(a, metal, currency)) for a in told]
    rows += [(f"without {a.about}", *_answer(a, metal, currency)) for a in metal.missing]
    left = len(alone) - len(told)
    notes = [f"Of {texts.count(left, 'format')} more alone, choices.csv tells."] if left else []
    if any(not a.exact for a in (*metal.by_number, *told, *metal.missing)):
        notes.append("?: for the layouts that were found, a cheaper one is not ruled out.")
    return Grid("Alternatives", ("Question", "Order", ">Cost", ">More"), tuple(rows), tuple(notes))


def _answer(asked: Asked, metal: MetalPurchase, currency: str) -> tuple[str, str, str]:
    if asked.cost is None:
        return "cannot make all pieces", "", ""
    more = asked.cost - metal.cost
    return (
        ordered(asked.formats),
        texts.hundredths(asked.cost, currency) + ("" if asked.exact else " ?"),
        f"+{more / 100:.2f}" if more else "",
    )


def services_table(metal: MetalPurchase, currency: str) -> Grid:
    """Return what it costs to be short more or less often."""
    columns = (">Each part suffices in", ">Order", ">Any part short in", ">Expected cost")
    rows = tuple(
        (
            texts.share(row.service), texts.hundredths(row.cost, currency),
            f"{texts.share(row.short)} ± {100 * row.error:.1f} %",
            texts.money(row.expected_cost / 100, currency),
        )
        for row in metal.services
    )  # fmt: skip
    return Grid("Chance of running short", columns, rows)


def weeks_table(schedule: Schedule, currency: str) -> Grid:
    """Return what is ordered and cut in each week, and what that costs."""
    rows = tuple(
        (
            week.week, _things(week.ordered), _things(week.cut),
            texts.kilograms(week.parts_kept), texts.kilograms(week.sheets_kept),
        )
        for week in schedule.weeks
    )  # fmt: skip
    columns = ("Week", "Order", "Cut", ">Parts kept", ">Sheets kept")
    return Grid("Week by week", columns, rows, tuple(_week_costs(schedule, currency)))


def _week_costs(schedule: Schedule, currency: str) -> Iterator[str]:
    parts = {
        "sheets": schedule.paid, "deliveries": schedule.deliveries, "storage": schedule.storage
    }  # fmt: skip
    told = ", ".join(f"{name} {texts.hundredths(n, currency)}" for name, n in parts.items())
    yield f"Week by week it costs {texts.hundredths(schedule.cost, currency)}: {told}."
    if schedule.week_by_week is not None:
        own = texts.hundredths(schedule.week_by_week, currency)
        yield f"If nothing were cut before its week: {own}."


def layouts_table(metal: MetalPurchase) -> Grid:
    """Return what is cut from what, and what is left of it."""
    rows = tuple(
        (
            str(x.runs), x.format, str(sum(x.pieces.values())), texts.share(x.used),
            texts.size(*x.leftover) if x.leftover else "none worth keeping",
        )
        for x in metal.layouts
    )  # fmt: skip
    columns = (">Sheets", "Cut from", ">Pieces on each", ">Used", "Left over of each")
    return Grid("What is cut from it", columns, rows)


def ordered(formats: Iterable[tuple[str, int]]) -> str:
    """Return formats with their numbers as one text."""
    return _things(formats) or "nothing"


def _things(things: Iterable[tuple[str, int]]) -> str:
    return " + ".join(f"{n} × {name}" for name, n in things)
