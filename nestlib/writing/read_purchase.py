"""From ``buy.json`` back to the purchase, whole enough to make every output again."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from nestlib.model import (
    Asked,
    BoughtLayout,
    Material,
    Metal,
    MetalPurchase,
    Placement,
    Purchase,
    PurchaseLine,
    Schedule,
    ServiceRow,
    Unplaced,
    WeekRow,
)
from nestlib.writing.buy_json import BUY, BUY_FILE, VERSION
from nestlib.writing.records import load_record, record_problem

Record = dict[str, Any]


def read_purchase(folder: str | Path) -> Purchase:
    """Read a purchase back from its folder.

    Parameters
    ----------
    folder : str or Path
        The folder of a purchase, or its ``buy.json``.

    Raises
    ------
    InputError
        If there is no purchase, or it is damaged or of a later version.
    """
    path = Path(folder)
    path = path / BUY_FILE if path.is_dir() else path
    record = load_record(path, BUY, VERSION)
    try:
        return purchase_from_record(record)
    except (KeyError, TypeError, ValueError, IndexError, AttributeError, OverflowError) as error:
        problem = f"the purchase is damaged ({error!r})"
        raise record_problem(path, problem, "Work it out again: nestlib buy") from error


def purchase_from_record(record: Record) -> Purchase:
    """Return the purchase that `buy_record` was given, as far as the record tells of it.

    It does not tell of the density of the metals, nor what a sheet weighs that is at hand and
    was recorded by an older version.

    Parameters
    ----------
    record : dict
        As `buy_schema` describes it.
    """
    return Purchase(
        tuple(_metal(r) for r in record["metals"]),
        record["currency"],
        record["stock_value"],
        record["prices"],
        record["seed"],
        record["seconds"],
        record["stopped"],
        dict(record["settings"]),
        tuple(record.get("notes", ())),
    )


def _metal(r: Record) -> MetalPurchase:
    # Records of older versions have no title, gauge, service and notes of all.
    material = Material(r["metal"], "", str(r.get("title", r["metal"])), float("nan"), "")
    return MetalPurchase(
        metal=Metal(material, r["thickness"], r.get("gauge", "")),
        jobs=tuple(r["jobs"]),
        wanted=dict(r["wanted"]),
        lines=tuple(_line(x) for x in r["order"]),
        paid=_hundredths(r["paid"]),
        cost=_hundredths(r["cost"]),
        bound=_hundredths(r["bound"]["cost"]),
        bound_by=r["bound"]["method"],
        exact=r["exact_for_layouts"],
        layouts_found=r["layouts_found"],
        parts_area=r["parts_area"],
        sheets_area=r["sheets_area"],
        layouts=tuple(_layout(x) for x in r["layouts"]),
        by_number=tuple(_asked(x) for x in r["at_most"]),
        alone=tuple(_asked(x) for x in r["alone"]),
        missing=tuple(_asked(x) for x in r["without"]),
        unplaced=tuple(Unplaced(**x) for x in r["unplaced"]),
        services=tuple(_service(x) for x in r["services"]),
        schedule=None if r["schedule"] is None else _schedule(r["schedule"]),
        notes=tuple(r["notes"]),
        service=r.get("service"),
    )


def _line(r: Record) -> PurchaseLine:
    each = r.get("weight_each", r["weight"] / r["sheets"] if r["sheets"] else 0.0)
    return PurchaseLine(
        r["format"],
        (r["length"], r["width"]),
        r["sheets"],
        r["pack"],
        r["to_cut"],
        _hundredths(r["price"]),
        each,
        r["lead_weeks"],
        r["at_hand"],
        r.get("order_by", ""),
    )


def _layout(r: Record) -> BoughtLayout:
    left = r["leftover"]
    return BoughtLayout(
        r["format"],
        r["runs"],
        dict(r["pieces"]),
        r["utilisation"],
        None if left is None else (left[0], left[1]),
        tuple(Placement(**p) for p in r["placements"]),
    )


def _asked(r: Record) -> Asked:
    cost = None if r["cost"] is None else _hundredths(r["cost"])
    return Asked(r["format"] or "", _formats(r["order"]), cost, r["exact_for_layouts"])


def _formats(records: list[Record]) -> tuple[tuple[str, int], ...]:
    return tuple((r["format"], r["sheets"]) for r in records)


def _service(r: Record) -> ServiceRow:
    cost, expected = _hundredths(r["cost"]), 100 * r["expected_cost"]
    return ServiceRow(r["service"], cost, expected, r["short"], r["standard_error"])


def _schedule(r: Record) -> Schedule:
    alone = r["week_by_week"]
    return Schedule(
        tuple(_week(w) for w in r["weeks"]),
        _hundredths(r["cost"]),
        _hundredths(r["paid"]),
        _hundredths(r["deliveries"]),
        _hundredths(r["storage"]),
        None if alone is None else _hundredths(alone),
        r["exact_for_layouts"],
    )


def _week(r: Record) -> WeekRow:
    ordered, cut = _formats(r["order"]), _formats(r["cut"])
    kept = r["parts_kept"], r["sheets_kept"]
    return WeekRow(r["week"], ordered, cut, dict(r["needed"]), dict(r["made"]), *kept)


def _hundredths(amount: float) -> int:
    return round(100 * amount)
