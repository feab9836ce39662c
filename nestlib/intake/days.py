"""Days as exports write them."""

from __future__ import annotations

import re
from collections.abc import Iterable
from datetime import date, timedelta
from typing import Literal

Order = Literal["day month year", "month day year"]

#: Days of spreadsheets are counted from here; so many are the years 1982 to 2119.
_FIRST_DAY = date(1899, 12, 30)
_COUNTED = range(30_000, 80_001)

_ISO = re.compile(r"(\d{4})[-/.](\d{1,2})[-/.](\d{1,2})(?:[T ].*)?")
_COMPACT = re.compile(r"(20\d\d)(\d\d)(\d\d)")
_SHORT = re.compile(r"(\d{1,2})[-/. ]+(\d{1,2})[-/. ]+(\d{4}|\d{2})(?:[T ]+\d.*)?")


def parse_day(cell: object, order: Order) -> date:
    """Return a day.

    Parameters
    ----------
    cell : object
        ``"2030-05-01"``, ``"01.05.2030"``, ``"5/1/30"``, ``"20300501"``, or a number of
        days as spreadsheets count them.
    order : {"day month year", "month day year"}
        What stands first where the year stands last.

    Raises
    ------
    ValueError
        If it is no day of the calendar.

    Examples
    --------
    >>> parse_day("5/1/30", "month day year"), parse_day("01.05.2030", "day month year")
    (datetime.date(2030, 5, 1), datetime.date(2030, 5, 1))
    >>> parse_day(47604, "day month year")
    datetime.date(2030, 5, 1)
    """
    text = _text(cell)
    if text.isdecimal() and int(text) in _COUNTED:
        return _FIRST_DAY + timedelta(days=int(text))
    if match := _ISO.fullmatch(text) or _COMPACT.fullmatch(text):
        return date(int(match[1]), int(match[2]), int(match[3]))
    match = _SHORT.fullmatch(text)
    if not match:
        raise ValueError(text)
    first, second, year = int(match[1]), int(match[2]), int(match[3])
    year += 2000 if len(match[3]) == 2 else 0
    return date(year, second, first) if order == "day month year" else date(year, first, second)


def guess_order(cells: Iterable[object], usual: Order) -> tuple[Order, bool]:
    """Return what stands first in some days, and whether one of them shows it.

    Examples
    --------
    >>> guess_order(["01/05/2030", "04/30/2030"], "day month year")
    ('month day year', True)
    """
    for cell in cells:
        match = _SHORT.fullmatch(_text(cell))
        if match and int(match[1]) > 12 >= int(match[2]):
            return "day month year", True
        if match and int(match[2]) > 12 >= int(match[1]):
            return "month day year", True
    return usual, False


def _text(cell: object) -> str:
    if isinstance(cell, float) and cell.is_integer():
        return str(int(cell))
    return str("" if cell is None else cell).strip()
