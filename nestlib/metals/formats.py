"""Usual sheet formats, and sizes as people write them."""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import cache

from nestlib.errors import InputError, Problem
from nestlib.metals.data_files import load

_UNITS = {"mm": 1.0, "cm": 10.0, "m": 1000.0, "in": 25.4, "inch": 25.4, '"': 25.4, "″": 25.4}
_UNITS |= {"ft": 304.8, "'": 304.8, "′": 304.8}
_UNIT = "|".join(sorted(map(re.escape, _UNITS), key=len, reverse=True))
_SIZE = re.compile(
    rf"(\d+(?:[.,]\d+)?)\s*({_UNIT})?\s*[x×*]\s*(\d+(?:[.,]\d+)?)\s*({_UNIT})?", re.IGNORECASE
)
#: Neither side of a sheet is longer than this, in mm.
_LONGEST = 100_000.0


@dataclass(frozen=True)
class Format:
    """A usual size of sheets.

    Parameters
    ----------
    name : str
        As the trade writes it, for example ``"1500x3000"``; `parse_size` understands it.
    length, width : float
        In mm.
    system : str
        ``"metric"`` or ``"inch"``.
    """

    name: str
    length: float
    width: float
    system: str


@cache
def formats() -> tuple[Format, ...]:
    """Return the usual sheet formats, metric ones first: common practice, no source."""
    return tuple(
        Format(name, *parse_size(name), system)
        for system, names in load("formats.toml").items()
        for name in names
    )


def parse_size(text: str) -> tuple[float, float]:
    """Return length and width of a sheet from what somebody wrote.

    The longer side is the length, whichever stands first: "1500x3000" and "3000x1500"
    name the same sheet, which is rolled along its length.

    Parameters
    ----------
    text : str
        ``"3000x1500"`` (mm), ``"48x96in"``, ``"4 x 8 ft"``, ``"1,25 x 2,5 m"``.

    Returns
    -------
    length, width : float
        In mm.

    Raises
    ------
    InputError
        If it cannot be understood.

    Examples
    --------
    >>> parse_size("1500x3000")
    (3000.0, 1500.0)
    >>> parse_size("48 x 96 in")
    (2438.4, 1219.2)
    """
    match = _SIZE.fullmatch(text.strip())
    remedy = 'Write it as "3000x1500" (mm) or "48x96in"'
    if not match:
        raise InputError(Problem("", "", f'"{text}" is not the size of a sheet', remedy))
    unit = (match[4] or match[2] or "mm").lower()
    first = _mm(match[1], (match[2] or unit).lower())
    second = _mm(match[3], unit)
    if not 0 < min(first, second) <= max(first, second) <= _LONGEST:
        problem = f'"{text}": the sides of a sheet lie above 0 and up to {_LONGEST:g} mm'
        raise InputError(Problem("", "", problem, remedy))
    return max(first, second), min(first, second)


def _mm(number: str, unit: str) -> float:
    return round(float(number.replace(",", ".")) * _UNITS[unit], 9)
