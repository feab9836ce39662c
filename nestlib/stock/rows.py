"""Rows of items: how they are written, found, and compared with what somebody says."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from sqlalchemy import Connection, Select, select

from nestlib.errors import Problem, StockError
from nestlib.stock import ledger
from nestlib.stock.item import Item, Stocked
from nestlib.stock.ledger import Dated
from nestlib.stock.outlines import as_text, demand_sound, to_corner, usable_area
from nestlib.stock.tables import items
from nestlib.stock.wanted import Wanted, listing


def row_of(number: int) -> Select[Any]:
    """The query for one item, even if it is used up."""
    return listing(Wanted(gone=True)).where(items.c.id == number)


def insert(connection: Connection, item: Item) -> int:
    """Write the row of a new item; return its number."""
    made = connection.execute(items.insert().returning(items.c.id), _row(item))
    return int(made.scalar_one())


def is_row(connection: Connection, number: int, item: Item) -> bool:
    """Whether the row of an item says the same; a day that is not said may be any."""
    row = _row(item)
    if item.since is None:
        del row["since"]
    there = connection.execute(select(items).where(items.c.id == number)).one()._mapping
    return all(there[name] == value for name, value in row.items())


def _row(item: Item) -> dict[str, Any]:
    """What the table says of an item, but for its number."""
    demand_sound(item)
    outline, *holes = to_corner(item.outline, item.holes)
    x0, y0, x1, y1 = outline.bounds
    row = {
        name: getattr(item, name)
        for name in (
            "remnant", "metal", "thickness", "area", "grain", "place", "price", "currency",
            "lot", "heat", "document", "parent",
        )
    }  # fmt: skip
    row |= {
        "width": round(x1 - x0, 9),
        "height": round(y1 - y0, 9),
        "usable": usable_area(outline, holes),
        "since": (item.since or ledger.today()).isoformat(),
        "outline": as_text([outline]),
        "holes": as_text(holes),
    }
    return row


def other_content(connection: Connection, key: str, before: Sequence[Dated]) -> StockError:
    """Return the refusal of a key that stands for something else, with what that is."""
    said = []
    for entry in before:
        i = Stocked._make(connection.execute(row_of(entry.item)).one())
        count = abs(entry.there or entry.held)
        price = "" if i.price is None else f", {i.price:g} {i.currency}".rstrip()
        papers = "".join(f", {word} {v}" for word, v in (("lot", i.lot), ("heat", i.heat)) if v)
        what = f"{i.metal} {i.thickness:g} mm, {i.width:g} x {i.height:g}{price}{papers}"
        said.append(f"{entry.code}: {count} {entry.kind} ({what})")
    problem = f'the key "{key}" is booked already, and for something else: {"; ".join(said)}'
    remedy = "Nothing was added; give what is new a key of its own"
    return StockError(Problem("", "", problem, remedy))
