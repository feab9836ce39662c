"""The entries: what was booked, and the quantities and places that follow from it.

=============  ======  ======
kind           there   held
=============  ======  ======
received       more    .
held           .       more
released       .       less
used           less    less
remnant made   more    .
scrapped       less    .
counted        either  .
moved          .       .
=============  ======  ======
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import UTC, date, datetime
from typing import Any, NamedTuple

from sqlalchemy import Connection, Select, Subquery, func, select
from sqlalchemy.dialects import postgresql, sqlite

from nestlib.errors import Problem, StockError
from nestlib.stock.item import code_of
from nestlib.stock.tables import bookings, entries, items


class Entry(NamedTuple):
    """One change of one item.

    Parameters
    ----------
    item : int
        Number of the item.
    kind : str
        One of the kinds above.
    there : int
        How many more pieces there are; below 0 if fewer.
    held : int
        How many more of them are held.
    hold : str
        For what they are held; empty if for nothing.
    place : str, or None
        Where the item lies from then on; None where it stays.
    """

    item: int
    kind: str
    there: int = 0
    held: int = 0
    hold: str = ""
    place: str | None = None


class Dated(NamedTuple):
    """An entry as it stands in the ledger, with the booking that it belongs to."""

    id: int
    at: str
    item: int
    remnant: bool
    kind: str
    there: int
    held: int
    hold: str
    place: str | None
    booking: str
    note: str

    @property
    def code(self) -> str:
        """What stands on the label of the item."""
        return code_of(self.item, remnant=bool(self.remnant))


def begin(connection: Connection, key: str, note: str) -> bool:
    """Write down a booking; return False if one of that key is there already.

    Where another program is writing the same key, this waits for what becomes of it.
    """
    on = postgresql if connection.dialect.name == "postgresql" else sqlite
    row = {"key": key, "at": now(), "note": note}
    statement = on.insert(bookings).values(row).on_conflict_do_nothing()
    return connection.execute(statement.returning(bookings.c.key)).first() is not None


def now() -> str:
    """Return the time, UTC, so that texts sort as times do."""
    return datetime.now(UTC).strftime("%Y-%m-%dT%H:%M:%S.%fZ")


def today() -> date:
    """Return the day, UTC."""
    return datetime.now(UTC).date()


def lock(connection: Connection, numbers: Iterable[int]) -> None:
    """Keep others from some items until the transaction ends.

    In the order of their numbers, so that no two wait for each other. On SQLite the whole
    file is locked already.

    Raises
    ------
    StockError
        If an item is not there.
    """
    wanted = sorted(set(numbers))
    rows = select(items.c.id).where(items.c.id.in_(wanted)).order_by(items.c.id)
    found = set(connection.execute(rows.with_for_update()).scalars())
    unknown = [number for number in wanted if number not in found]
    if unknown:
        problem = f"there is no item {unknown[0]} on the rack"
        raise StockError(Problem("", "", problem, "nestlib stock list shows what there is"))


def append(connection: Connection, booking: str, lines: Sequence[Entry]) -> None:
    """Add entries to the ledger; whoever calls holds the lock and has looked."""
    if lines:
        connection.execute(entries.insert(), [{"booking": booking, **e._asdict()} for e in lines])


def stand(connection: Connection, number: int) -> tuple[int, int]:
    """Return how many pieces of an item there are, and how many of them are held."""
    sums = select(
        func.coalesce(func.sum(entries.c.there), 0), func.coalesce(func.sum(entries.c.held), 0)
    ).where(entries.c.item == number)
    there, held = connection.execute(sums).one()
    return int(there), int(held)


def places() -> Subquery:
    """Return a query for where items lie that were moved: ``item`` and ``place``."""
    last = select(func.max(entries.c.id)).where(entries.c.kind == "moved").group_by(entries.c.item)
    moved = select(entries.c.item, entries.c.place).where(entries.c.id.in_(last))
    return moved.subquery("moves")


def held_for(connection: Connection, hold: str) -> dict[int, int]:
    """Return how many pieces of which items are held for something."""
    total = func.sum(entries.c.held)
    rows = (
        select(entries.c.item, total)
        .where(entries.c.hold == hold)
        .group_by(entries.c.item)
        .having(total != 0)
        .order_by(entries.c.item)
    )
    return {item: int(count) for item, count in connection.execute(rows)}


def history(connection: Connection, number: int | None = None) -> list[Dated]:
    """Return all entries, or those of one item, oldest first."""
    rows = _dated() if number is None else _dated().where(entries.c.item == number)
    return [Dated._make(row) for row in connection.execute(rows)]


def booked(connection: Connection, key: str) -> list[Dated]:
    """Return the entries of one booking."""
    rows = _dated().where(entries.c.booking == key)
    return [Dated._make(row) for row in connection.execute(rows)]


def _dated() -> Select[Any]:
    homes = {"at": bookings, "note": bookings, "remnant": items}
    columns = [homes.get(name, entries).c[name] for name in Dated._fields]
    joined = entries.join(bookings, bookings.c.key == entries.c.booking)
    joined = joined.join(items, items.c.id == entries.c.item)
    return select(*columns).select_from(joined).order_by(entries.c.id)


def label(connection: Connection, number: int) -> str:
    """Return what stands on the label of an item."""
    remnant = connection.execute(select(items.c.remnant).where(items.c.id == number)).scalar()
    return code_of(number, remnant=bool(remnant))
