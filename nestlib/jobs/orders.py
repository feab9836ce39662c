"""Order lines that a part is for: a list of tables in TOML, one cell in a part list."""

from __future__ import annotations

import re
from collections.abc import Iterable
from datetime import date
from typing import Annotated

from pydantic import Field, PlainValidator

from nestlib.jobs.days import day
from nestlib.validation import Table, fault, shown

_CELL = re.compile(r"\s*(?P<line>\S.*?)\s*=\s*(?P<n>\d{1,9})(?:\s*@\s*(?P<due>[\d-]+))?\s*(?:;|$)")
_REMEDY = 'Write each as "line = quantity @ day", for example "4711/10 = 5 @ 2030-05-01"'


class OrderEntry(Table):
    """A line of an order and how many pieces it wants."""

    line: str = Field(min_length=1, description='an order line, for example "4711/10"')
    quantity: int = Field(ge=1, description="how many it wants, for example 5")
    due: Annotated[date | None, PlainValidator(day)] = Field(
        default=None, description='the day it is due, for example "2030-05-01"'
    )


def orders_of(value: object) -> object:
    """Understand the orders of a cell; whatever else is left for the validator.

    Examples
    --------
    >>> orders_of("4711/10 = 5 @ 2030-05-01; 4712/10 = 2")[1]
    {'line': '4712/10', 'quantity': 2}
    """
    if not isinstance(value, str):
        return value
    found, at = list[dict[str, object]](), 0
    while value[at:].strip():
        match = _CELL.match(value, at)
        if match is None:
            raise fault(f"{shown(value[at:].strip())} is not an order line", _REMEDY)
        found.append({"line": match["line"], "quantity": int(match["n"])})
        if match["due"]:
            found[-1]["due"] = match["due"]
        at = match.end()
    return found


def orders_cell(orders: Iterable[tuple[str, int, date | None]]) -> str:
    """Return orders as a part list writes them, in one cell.

    Examples
    --------
    >>> orders_cell([("4711/10", 5, date(2030, 5, 1)), ("4712/10", 2, None)])
    '4711/10 = 5 @ 2030-05-01; 4712/10 = 2'
    """
    return "; ".join(
        f"{line} = {quantity}" + (f" @ {due.isoformat()}" if due else "")
        for line, quantity, due in orders
    )
