"""A purchase as plain data: ``buy.json``, and its lists for the ERP.

Lengths are in mm, areas in mm², weights in kg, amounts in the price list's currency with two
decimals; what is unknown is null.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from importlib import import_module
from pathlib import Path
from typing import Any

from nestlib.model import (
    Asked,
    BoughtLayout,
    MetalPurchase,
    Purchase,
    PurchaseLine,
    Schedule,
    ServiceRow,
)
from nestlib.schemas import schema
from nestlib.writing.failures import write_text
from nestlib.writing.folder import FolderKind
from nestlib.writing.tables import Cell, csv_text

FORMAT, VERSION = "nestlib-buy", 1

BUY_FILE, PICTURE_FILE = "buy.json", "cost.svg"

#: For the purchaser: to read, and to print or send.
PAGE_FILE, PRINT_FILE = "purchase.html", "purchase.pdf"

#: What the folder of a purchase holds.
BUY = FolderKind("purchase", BUY_FILE, FORMAT, (
    BUY_FILE, PICTURE_FILE, PAGE_FILE, PRINT_FILE, "order.csv", "choices.csv", "weeks.csv",
))  # fmt: skip

LineRow = tuple[Purchase, MetalPurchase, PurchaseLine]
ChoiceRow = tuple[Purchase, MetalPurchase, str, Asked]

ORDER: Mapping[str, Callable[[LineRow], Cell]] = {
    "metal": lambda r: r[1].metal.material.name,
    "thickness_mm": lambda r: r[1].metal.thickness,
    "format": lambda r: r[2].format,
    "length_mm": lambda r: r[2].size[0],
    "width_mm": lambda r: r[2].size[1],
    "sheets": lambda r: r[2].sheets,
    "packs": lambda r: r[2].sheets // r[2].pack,
    "pack": lambda r: r[2].pack,
    "weight_kg": lambda r: round(r[2].sheets * r[2].weight, 3),
    "price_each": lambda r: r[2].price / 100,
    "amount": lambda r: r[2].amount / 100,
    "currency": lambda r: r[0].currency,
    "lead_weeks": lambda r: r[2].lead_weeks,
    "order_by": lambda r: r[2].order_by,
    "to_cut": lambda r: r[2].used,
    "to_stock": lambda r: r[2].to_stock,
}

CHOICES: Mapping[str, Callable[[ChoiceRow], Cell]] = {
    "metal": lambda r: r[1].metal.material.name,
    "thickness_mm": lambda r: r[1].metal.thickness,
    "question": lambda r: r[2],
    "format": lambda r: r[3].about,
    "order": lambda r: "; ".join(f"{n} x {name}" for name, n in r[3].formats),
    "cost": lambda r: _amount(r[3].cost),
    "more_than_best": lambda r: None if r[3].cost is None else (r[3].cost - r[1].cost) / 100,
    "bound": lambda r: r[1].bound / 100,
    "exact": lambda r: r[3].exact,
    "currency": lambda r: r[0].currency,
}


def buy_schema() -> dict[str, Any]:
    """Return the JSON Schema (draft 2020-12) of ``buy.json``.

    Examples
    --------
    >>> buy_schema()["properties"]["format"]["const"]
    'nestlib-buy'
    """
    return schema("buy")


def buy_record(purchase: Purchase) -> dict[str, Any]:
    """Return a purchase as plain data, in the form of `buy_schema`.

    Parameters
    ----------
    purchase : Purchase
        What is to be bought.
    """
    return {
        "format": FORMAT,
        "version": VERSION,
        "prices": purchase.prices,
        "currency": purchase.currency,
        "stock_value": purchase.stock_value,
        "paid": purchase.paid / 100,
        "cost": purchase.cost / 100,
        "bound": purchase.bound / 100,
        "metals": [_metal(m) for m in purchase.metals],
        "settings": purchase.settings,
        "notes": list(purchase.notes),
        "seed": purchase.seed,
        "seconds": round(purchase.seconds, 3),
        "stopped": purchase.stopped,
        "nestlib": import_module("nestlib").__version__,
    }


def write_purchase(purchase: Purchase, folder: Path) -> None:
    """Write ``buy.json`` and the lists of a purchase into a folder.

    Parameters
    ----------
    purchase : Purchase
        What is to be bought.
    folder : Path
        Where to.
    """
    text = json.dumps(buy_record(purchase), ensure_ascii=False, indent=1, allow_nan=False)
    write_text(folder / BUY_FILE, text + "\n")
    write_lists(purchase, folder)


def write_lists(purchase: Purchase, folder: Path) -> None:
    """Write the lists of a purchase into a folder.

    Parameters
    ----------
    purchase : Purchase
        What is to be bought.
    folder : Path
        Where to.
    """
    lines = [(purchase, m, line) for m in purchase.metals for line in m.lines]
    write_text(folder / "order.csv", csv_text(ORDER, lines))
    write_text(folder / "choices.csv", csv_text(CHOICES, _choices(purchase)))
    if any(m.schedule for m in purchase.metals):
        write_text(folder / "weeks.csv", csv_text(WEEKS, _weeks(purchase)))


def _choices(purchase: Purchase) -> list[ChoiceRow]:
    rows: list[ChoiceRow] = []
    for m in purchase.metals:
        rows += [
            (purchase, m, f"at most {number}", asked)
            for number, asked in enumerate(m.by_number, start=1)
        ]
        rows += [(purchase, m, "alone", asked) for asked in m.alone]
        rows += [(purchase, m, "without", asked) for asked in m.missing]
    return rows


WeekLine = tuple[Purchase, MetalPurchase, str, str, str, int]

WEEKS: Mapping[str, Callable[[WeekLine], Cell]] = {
    "week": lambda r: r[2],
    "metal": lambda r: r[1].metal.material.name,
    "thickness_mm": lambda r: r[1].metal.thickness,
    "what": lambda r: r[3],
    "name": lambda r: r[4],
    "number": lambda r: r[5],
}


def _weeks(purchase: Purchase) -> list[WeekLine]:
    rows: list[WeekLine] = []
    for m in (m for m in purchase.metals if m.schedule):
        for week in m.schedule.weeks if m.schedule else ():
            for what, things in (
                ("order", week.ordered), ("cut", week.cut),
                ("need", week.needed.items()), ("make", week.made.items()),
            ):  # fmt: skip
                rows += [(purchase, m, week.week, what, name, n) for name, n in things if n]
    return rows


def _metal(m: MetalPurchase) -> dict[str, Any]:
    return {
        "metal": m.metal.material.name,
        "title": m.metal.material.title,
        "thickness": m.metal.thickness,
        "gauge": m.metal.gauge,
        "jobs": list(m.jobs),
        "wanted": m.wanted,
        "order": [_line(line) for line in m.lines],
        "paid": m.paid / 100,
        "cost": m.cost / 100,
        "bound": {"cost": m.bound / 100, "gap": m.gap, "method": m.bound_by},
        "exact_for_layouts": m.exact,
        "layouts_found": m.layouts_found,
        "weight": m.weight,
        "parts_area": m.parts_area,
        "sheets_area": m.sheets_area,
        "utilisation": m.utilisation,
        "layouts": [_layout(layout) for layout in m.layouts],
        "at_most": [_asked(a) for a in m.by_number],
        "alone": [_asked(a) for a in m.alone],
        "without": [_asked(a) for a in m.missing],
        "unplaced": [
            {"part": u.part, "quantity": u.quantity, "reason": u.reason} for u in m.unplaced
        ],
        "service": m.service,
        "services": [_service(s) for s in m.services],
        "schedule": None if m.schedule is None else _schedule(m.schedule),
        "notes": list(m.notes),
    }


def _line(line: PurchaseLine) -> dict[str, Any]:
    return {
        "format": line.format,
        "length": line.size[0],
        "width": line.size[1],
        "sheets": line.sheets,
        "pack": line.pack,
        "price": line.price / 100,
        "amount": line.amount / 100,
        "weight": line.sheets * line.weight,
        "weight_each": line.weight,
        "lead_weeks": line.lead_weeks,
        "order_by": line.order_by,
        "at_hand": line.at_hand,
        "to_cut": line.used,
        "to_stock": line.to_stock,
    }


def _layout(layout: BoughtLayout) -> dict[str, Any]:
    return {
        "format": layout.format,
        "runs": layout.runs,
        "pieces": layout.pieces,
        "utilisation": layout.used,
        "leftover": None if layout.leftover is None else list(layout.leftover),
        "placements": [
            {"part": p.part, "rotation": p.rotation, "flip": p.flip, "x": p.x, "y": p.y}
            for p in layout.placements
        ],
    }


def _asked(asked: Asked) -> dict[str, Any]:
    return {
        "format": asked.about or None,
        "order": [{"format": name, "sheets": n} for name, n in asked.formats],
        "cost": _amount(asked.cost),
        "exact_for_layouts": asked.exact,
    }


def _service(row: ServiceRow) -> dict[str, Any]:
    return {
        "service": row.service,
        "cost": row.cost / 100,
        "expected_cost": round(row.expected_cost / 100, 4),
        "short": row.short,
        "standard_error": row.error,
    }


def _schedule(schedule: Schedule) -> dict[str, Any]:
    return {
        "cost": schedule.cost / 100,
        "paid": schedule.paid / 100,
        "deliveries": schedule.deliveries / 100,
        "storage": schedule.storage / 100,
        "week_by_week": _amount(schedule.week_by_week),
        "exact_for_layouts": schedule.exact,
        "weeks": [
            {
                "week": w.week,
                "order": [{"format": name, "sheets": n} for name, n in w.ordered],
                "cut": [{"format": name, "sheets": n} for name, n in w.cut],
                "needed": w.needed,
                "made": w.made,
                "parts_kept": w.parts_kept,
                "sheets_kept": w.sheets_kept,
            }
            for w in schedule.weeks
        ],
    }


def _amount(hundredths: int | None) -> float | None:
    return None if hundredths is None else hundredths / 100
