"""The rack as plain records, for JSON and for spreadsheets."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import Any

from nestlib.model import Contour
from nestlib.stock.item import Stocked
from nestlib.stock.worth import Terms

#: Columns of a list, in their order; lengths in mm, areas in mm².
COLUMNS = (
    "item", "remnant", "metal", "thickness_mm", "width_mm", "height_mm", "area_mm2",
    "usable_mm2", "grain", "there", "held", "free", "place", "price", "currency", "worth",
    "lot", "heat", "document", "since", "parent",
)  # fmt: skip


def record(item: Stocked, terms: Terms, day: date) -> dict[str, Any]:
    """Return an item as a record with the keys of `COLUMNS`; unknown values are None."""
    values = (
        item.code, bool(item.remnant), item.metal, item.thickness, item.width, item.height,
        item.area, item.usable, item.grain, item.there, item.held, item.free, item.place,
        item.price, item.currency, _cents(terms.worth(item, day)), item.lot, item.heat,
        item.document, item.since, item.parent,
    )  # fmt: skip
    return dict(zip(COLUMNS, values, strict=True))


def outline_record(outline: Sequence[Contour]) -> dict[str, Any]:
    """Return an outline and its holes as a record: points, and bulges as in ``plan.json``."""
    edge, *holes = ({"points": c.points.tolist(), "bulges": c.bulges.tolist()} for c in outline)
    return {"outline": edge, "holes": holes}


def _cents(worth: float | None) -> float | None:
    return None if worth is None else round(worth, 2)
