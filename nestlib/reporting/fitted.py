"""Texts that fit a width: in smaller letters, else on two rows, else without their middle.

Names and order numbers often begin alike and differ at their end, so the end stays.
"""

from __future__ import annotations

from collections.abc import Callable

from reportlab.pdfbase.pdfmetrics import stringWidth

#: The smallest letters in which a text is one row, in points: about 2 mm high, common practice,
#: no source.
READABLE = 6.0

#: After these a row may end.
_BREAKS = " -/_.,;"


def rows_in(text: str, font: str, room: float, letters: float = READABLE) -> tuple[str, ...]:
    """Return a text as one row, or as two if one is too long.

    Parameters
    ----------
    text, font : str
        What is written, and the name of its font, which reportlab knows.
    room : float
        Width of a row in points.
    letters : float
        The smallest letters, in points.

    Returns
    -------
    tuple of str
        Of two rows the second begins with dots if something was left out before it.
    """

    def fits(row: str) -> bool:
        return bool(stringWidth(row, font, letters) <= room)

    if fits(text):
        return (text,)
    first = _first_row(text, fits)
    rest = text[len(first) :].strip()
    return first.strip(), rest if fits(rest) else _end(rest, fits)


def letters_for(rows: tuple[str, ...], font: str, most: float, room: float) -> float:
    """Return the size of letters in points, `most` at most, at which all rows fit a width."""
    wide = max(stringWidth(row, font, most) for row in rows)
    return most if wide <= room else float(most * room / wide)


def _first_row(text: str, fits: Callable[[str], bool]) -> str:
    """As much of the beginning as fits; up to a break, if that is not much less."""
    n = 1
    while n < len(text) and fits(text[: n + 1]):
        n += 1
    last = max(text.rfind(mark, n // 2, n) for mark in _BREAKS)
    return text[: last + 1] if last >= 0 else text[:n]


def _end(text: str, fits: Callable[[str], bool]) -> str:
    """As much of the end as fits behind dots."""
    n = 0
    while n < len(text) and fits(f"…{text[len(text) - n - 1 :]}"):
        n += 1
    return f"…{text[len(text) - n :]}"
