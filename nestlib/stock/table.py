"""The list of the rack as lines of text, quick for a hundred thousand items, too."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import date

from nestlib.stock.item import Stocked
from nestlib.stock.worth import Terms

#: Heads of the columns; those that begin with > hold numbers.
_HEADS = (
    "Item", "Metal", ">mm", ">Size", ">There", ">Held", "Place", ">Worth", "Heat", "EN 10204",
    "Since",
)  # fmt: skip


def lines(items: Sequence[Stocked], terms: Terms, day: date) -> Iterator[str]:
    """Return the lines of a table and its sums.

    Parameters
    ----------
    items : sequence of Stocked
        In the order of the lines.
    terms : Terms
        What remnants are worth.
    day : datetime.date
        On which day.
    """
    rows = [_row(item, terms, day) for item in items]
    heads = [head.removeprefix(">") for head in _HEADS]
    widths = [max(map(len, column)) for column in zip(heads, *rows, strict=True)]
    right = [head.startswith(">") for head in _HEADS]
    for row in (heads, ["-" * width for width in widths], *rows):
        cells = zip(row, widths, right, strict=True)
        yield "  ".join(c.rjust(w) if r else c.ljust(w) for c, w, r in cells).rstrip()
    there, held = sum(i.there for i in items), sum(i.held for i in items)
    remnants = sum(i.there for i in items if i.remnant)
    yield f"{there} pieces, {remnants} of them remnants; {held} held"


def _row(item: Stocked, terms: Terms, day: date) -> list[str]:
    worth = terms.worth(item, day)
    return [
        item.code,
        item.metal,
        f"{item.thickness:g}",
        f"{item.width:g} x {item.height:g}",
        str(item.there),
        str(item.held),
        item.place,
        "" if worth is None else f"{worth:.2f} {item.currency}".rstrip(),
        item.heat,
        item.document,
        item.since,
    ]
