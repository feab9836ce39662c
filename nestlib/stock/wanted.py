"""Which items somebody wants to see."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from sqlalchemy import ColumnElement, Select, and_, func, or_, select

from nestlib.stock.item import DOCUMENTS, Stocked
from nestlib.stock.ledger import places
from nestlib.stock.tables import entries, items

#: Two thicknesses closer than this are the same, in mm.
_SAME = 1e-6


@dataclass(frozen=True)
class Wanted:
    """What an item has to be; what is left out may be anything.

    Parameters
    ----------
    metal : str, or None
        Name of the material.
    thickness : float, or None
        In mm.
    remnant : bool, or None
        Whether it is a remnant.
    place, heat, lot : str, or None
        Equal, whatever the case.
    document : str, or None
        Type of the inspection document by EN 10204 that it has at least.
    fits : (float, float), or None
        A rectangle of this size has to go into the bounding box, in either turn; in mm.
    hold : str, or None
        For what some of it is held.
    free : bool
        Whether some of it has to be free.
    gone : bool
        Whether items that are used up are wanted, too.
    """

    metal: str | None = None
    thickness: float | None = None
    remnant: bool | None = None
    place: str | None = None
    heat: str | None = None
    lot: str | None = None
    document: str | None = None
    fits: tuple[float, float] | None = None
    hold: str | None = None
    free: bool = False
    gone: bool = False


def listing(wanted: Wanted) -> Select[Any]:
    """Return the query for the rows of `Stocked` that are wanted, in the order of numbers."""
    there, held = func.sum(entries.c.there), func.sum(entries.c.held)
    moves = places()
    place = func.coalesce(moves.c.place, items.c.place)
    columns = [
        place.label(name) if name == "place" else items.c[name] for name in Stocked._fields[:-2]
    ]
    rows = select(*columns, there, held).join(entries, entries.c.item == items.c.id)
    rows = rows.outerjoin(moves, moves.c.item == items.c.id)
    rows = rows.where(*_conditions(wanted, place)).group_by(items.c.id, moves.c.place)
    rows = rows.order_by(items.c.id)
    if wanted.free:
        return rows.having(there > held)
    return rows if wanted.gone else rows.having(there > 0)


def _conditions(wanted: Wanted, place: ColumnElement[str]) -> Iterator[ColumnElement[bool]]:
    if wanted.metal is not None:
        yield items.c.metal == wanted.metal
    if wanted.thickness is not None:
        yield items.c.thickness.between(wanted.thickness - _SAME, wanted.thickness + _SAME)
    if wanted.remnant is not None:
        yield items.c.remnant == wanted.remnant
    for name in ("place", "heat", "lot"):
        text = getattr(wanted, name)
        if text is not None:
            column = place if name == "place" else items.c[name]
            yield func.lower(column) == text.lower()
    if wanted.document is not None:
        yield items.c.document.in_(DOCUMENTS[DOCUMENTS.index(wanted.document) :])
    if wanted.fits is not None:
        long, short = max(wanted.fits), min(wanted.fits)
        level = and_(items.c.width >= long, items.c.height >= short)
        yield or_(level, and_(items.c.width >= short, items.c.height >= long))
    if wanted.hold is not None:
        yield items.c.id.in_(_held_for(wanted.hold))


def _held_for(hold: str) -> Select[Any]:
    grouped = select(entries.c.item).where(entries.c.hold == hold).group_by(entries.c.item)
    return grouped.having(func.sum(entries.c.held) > 0)
