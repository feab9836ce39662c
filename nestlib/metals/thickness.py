"""Thicknesses as people write them."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass

from nestlib.errors import InputError, Problem
from nestlib.metals.gauges import INCH, gauge_thickness

#: More than this is no sheet, in mm.
_THICKEST = 100.0

_NUMBER = re.compile(r"(\d+(?:[.,]\d*)?|[.,]\d+)\s*(mm|in|inch|inches|\"|″)?")
_FRACTION = re.compile(r"(?:(\d+)[\s-]+)?(\d+)/(\d+)\s*(in|inch|inches|\"|″)?")
_GAUGE = re.compile(r"(?:#\s*)?(\d+)\s*(?:ga|gauge|ga\.)|#\s*(\d+)")
_REMEDY = 'Write it as "1.5 mm", "16 ga", "0.060 in" or "1/8 in"'


@dataclass(frozen=True)
class Thickness:
    """A thickness and how it was given.

    Parameters
    ----------
    mm : float
        In mm.
    gauge : str
        For example ``"16 ga"``; empty if given by size.
    """

    mm: float
    gauge: str = ""


def parse_thickness(text: str | float, table: str = "") -> Thickness:
    """Return a thickness from what somebody wrote.

    Parameters
    ----------
    text : str or float
        A size in mm (``"1.5"``, ``"1,5 mm"``), in inches (``"0.060 in"``, ``'1/8"'``) or a
        gauge (``"16 ga"``).
    table : str
        Gauge table of the metal; empty if it has none.

    Raises
    ------
    InputError
        If it cannot be understood, or is not the thickness of a sheet.

    Examples
    --------
    >>> parse_thickness("1/8 in").mm
    3.175
    >>> parse_thickness("16 ga", "USG")
    Thickness(mm=1.5875, gauge='16 ga')
    """
    words = text.strip().lower() if isinstance(text, str) else repr(text)
    thickness = _by_gauge(words, table) or Thickness(_by_size(words, str(text)))
    if not 0 < thickness.mm <= _THICKEST:
        problem = f'"{text}" is not the thickness of a sheet, over 0 and up to {_THICKEST:g} mm'
        raise InputError(Problem("", "", problem, _REMEDY))
    return thickness


def _by_gauge(words: str, table: str) -> Thickness | None:
    match = _GAUGE.fullmatch(words)
    if not match:
        return None
    number = int(match[1] or match[2])
    if not table:
        problem = f'"{words}": this metal has no gauge table'
        raise InputError(Problem("", "", problem, "Give the thickness in mm or in inches"))
    return Thickness(gauge_thickness(table, number), f"{number} ga")


def _by_size(words: str, original: str) -> float:
    if match := _NUMBER.fullmatch(words):
        unit = 1.0 if match[2] in (None, "mm") else INCH
        return round(float(match[1].replace(",", ".")) * unit, 9)
    match = _FRACTION.fullmatch(words)
    if match and match[4] and int(match[3]):
        return round((int(match[1] or 0) + int(match[2]) / int(match[3])) * INCH, 9)
    if match and not match[4]:
        problem = f'"{original}" has no unit'
        raise InputError(Problem("", "", problem, f'Write "{original} in" for inches'))
    if words.startswith("-") or words in (str(math.nan), str(math.inf)):
        return -1.0  # refused by the caller as out of range
    raise InputError(Problem("", "", f'"{original}" is not a thickness', _REMEDY))
