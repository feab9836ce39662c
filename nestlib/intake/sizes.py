"""Thicknesses as exports write them, alone or behind the metal."""

from __future__ import annotations

import re
from typing import Literal

from nestlib.metals import parse_thickness

Unit = Literal["mm", "in", "ga"]

_GAUGE = re.compile(
    r"(?:ga|gauge|gage|#)\.?\s*#?\s*(\d{1,2})|#?\s*(\d{1,2})\s*(?:ga|gauge|gage)\.?"
)
_FRACTION = re.compile(r"((?:\d+[\s-]+)?\d+\s*/\s*\d+)\s*(?:in|inch|inches|zoll|\"|″|'')?\.?")
_SIZE = re.compile(r"(\d+(?:[.,]\d*)?|[.,]\d+)\s*(mm|in|inch|inches|zoll|\"|″|'')?\.?")
_PREFIX = re.compile(r"^(?:thk|thick|th|t|s|d|e|ep|esp)\s*[=:.]?\s*(?=[\d.,#])")

#: A thickness inside a longer text: it has a unit, is a gauge or follows a sign.
_INSIDE = re.compile(
    r"""(?ix)(?<![\w.,/])
    (?: t\s*=\s* | [x×]\s* )?
    (?: (?:[1-4][\s-]+)?\d+/\d+\s*(?:inch|in\b|"|″)?
      | \d+(?:[.,]\d+)?\s*(?:mm\b|inch|in\b|"|″)
      | [.,]\d+\s*(?:inch|in\b|"|″)
      | \#?\d{1,2}\s*(?:ga\b\.?|gauge|gage)
      | (?:ga\.?|gauge|gage|\#)\s*\d{1,2}(?![\w.])
      | (?<=\s)\d{1,2}[.,]\d{1,2}(?=\s|$)
    )"""
)


def written_thickness(cell: object, unit: Unit) -> str:
    """Return a thickness as job files write it: ``"1.5 mm"``, ``"16 ga"`` or ``"0.125 in"``.

    A fraction without a unit is of an inch: common practice, no source. A thickness has no
    thousands, so points and commas are decimal signs alike.

    Parameters
    ----------
    cell : object
        What the export says.
    unit : {"mm", "in", "ga"}
        Of a number without one.

    Raises
    ------
    ValueError
        If it is no thickness.

    Examples
    --------
    >>> [written_thickness(text, "mm") for text in ("16GA", "1/8", "1,50")]
    ['16 ga', '0.125 in', '1.5 mm']
    """
    text = _PREFIX.sub("", _text(cell).lower())
    if match := _GAUGE.fullmatch(text):
        return f"{int(match[1] or match[2])} ga"
    if match := _FRACTION.fullmatch(text):
        return f"{_of_fraction(match[1]):.10g} in"
    match = _SIZE.fullmatch(text)
    if not match:
        raise ValueError(text)
    number = float(match[1].replace(",", "."))
    if match[2]:
        unit = "mm" if match[2] == "mm" else "in"
    if unit == "ga" and not number.is_integer():
        raise ValueError(text)
    return f"{number:.10g} {unit}"


def millimetres(text: str, gauge_table: str) -> float:
    """Return a thickness of a job file in mm, to a ten-thousandth.

    Raises
    ------
    InputError
        If no sheet has it, or the metal has no such gauge.
    """
    return round(parse_thickness(text, gauge_table).mm, 4)


def split_metal(text: str) -> tuple[str, str]:
    """Return metal and thickness of a text that holds both; the thickness empty if not.

    Examples
    --------
    >>> split_metal("S235JR 3 mm"), split_metal("16 ga CRS"), split_metal("1.4301")
    (('S235JR', '3 mm'), ('CRS', '16 ga'), ('1.4301', ''))
    """
    match = _INSIDE.search(text)
    if not match:
        return text.strip(), ""
    size = re.sub(r"(?i)^\s*(t\s*=\s*|[x×]\s*)", "", match[0]).strip()
    rest = " ".join((text[: match.start()] + " " + text[match.end() :]).split())
    return rest.strip(" ,;-/"), size


def guess_unit(title: str, cells: list[str]) -> tuple[Unit, bool]:
    """Return the unit of thicknesses that have none, and whether the title or a cell tells.

    Examples
    --------
    >>> guess_unit("Thk (in)", ["0.125"]), guess_unit("Dicke", ["1,5"])
    (('in', True), ('mm', False))
    """
    words = title.lower()
    for unit, pattern in (("mm", r"\bmm\b"), ("in", r"\bin(ch(es)?)?\b|\"|zoll"), ("ga", r"\bga")):
        if re.search(pattern, words):
            return unit, True  # type: ignore[return-value]
    bare = [text for text in cells if re.fullmatch(r"[\d.,]+", text)]
    if not bare:
        return "mm", True  # nothing is without a unit
    numbers = [
        float(text.replace(",", ".")) for text in bare if text.count(".") + text.count(",") < 2
    ]
    if numbers and max(numbers) < 0.5:
        return "in", False
    return "mm", False


def _of_fraction(text: str) -> float:
    *whole, fraction = re.split(r"[\s-]+(?=\d+\s*/)", text)
    above, below = fraction.split("/")
    if int(below) == 0:
        raise ValueError(text)
    return sum(int(w) for w in whole) + int(above) / int(below)


def _text(cell: object) -> str:
    if isinstance(cell, float):
        return f"{cell:.10g}"
    return str("" if cell is None else cell).strip()
