"""Numbers as spreadsheets of several countries write them."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable
from fractions import Fraction

from nestlib.intake.words import is_piece_word

#: Spaces and apostrophes part thousands in any country.
_SPACES = " \u00a0\u202f\u2009'’"
_NUMBER = re.compile(rf"[+-]?\d[\d.,{_SPACES}]*|[+-]?[.,]\d+")


def parse_number(text: str, decimal: str = ".") -> Fraction:
    """Return a number, exactly.

    Parameters
    ----------
    text : str
        With or without thousands separators; these must part groups of three digits.
    decimal : {".", ","}
        The decimal sign; the other one parts thousands, as spaces and apostrophes do.

    Raises
    ------
    ValueError
        If it is no number.

    Examples
    --------
    >>> parse_number("1.234,5", ","), parse_number("1 200"), parse_number("12,000", ",")
    (Fraction(2469, 2), Fraction(1200, 1), Fraction(12, 1))
    """
    bare = text.strip()
    other = "," if decimal == "." else "."
    group = rf"[{re.escape(other)}{_SPACES}]"
    whole = rf"\d{{1,3}}(?:{group}\d{{3}})+|\d+"
    match = re.fullmatch(rf"([+-]?)({whole})?(?:{re.escape(decimal)}(\d*))?", bare, re.ASCII)
    if not match or not (match[2] or match[3]):
        raise ValueError(text)
    digits = re.sub(r"\D", "", match[2] or "0")
    value = Fraction(f"{digits}.{match[3] or '0'}")
    return -value if match[1] == "-" else value


def parse_quantity(cell: object, decimal: str = ".") -> int:
    """Return a quantity; words for pieces may stand behind it.

    Raises
    ------
    ValueError
        If it is no whole number above 0; the message says so in plain words.

    Examples
    --------
    >>> parse_quantity("1.200 Stk.", ","), parse_quantity(12.0)
    (1200, 12)
    """
    value = _exact(cell, decimal)
    if value is None:
        raise ValueError(f'"{cell}" is not a number (decimal sign "{decimal}")')
    if value <= 0 or value.denominator != 1:
        raise ValueError(f'"{cell}" is not a whole number above 0')
    return int(value)


def may_be_either(cell: object, decimal: str = ".") -> bool:
    """Return whether a sign that parts thousands may be meant as a decimal sign.

    Examples
    --------
    >>> may_be_either("1.000", ","), may_be_either("1.000.000", ","), may_be_either("12", ",")
    (True, False, False)
    """
    value = _exact(cell, decimal)
    other = _exact(cell, "," if decimal == "." else ".")
    return value is not None and other is not None and value > other


def guess_decimal(texts: Iterable[str], usual: str) -> tuple[str, bool]:
    """Return the decimal sign of some texts, and whether one of them shows it.

    Parameters
    ----------
    texts : iterable of str
        Cells; those that are no numbers do not count.
    usual : str
        The sign where nothing tells.

    Examples
    --------
    >>> guess_decimal(["12", "1.234,50"], "."), guess_decimal(["1,200"], ".")
    ((',', True), ('.', False))
    """
    votes = Counter(sign for text in texts if (sign := _shown_decimal(text.strip())))
    return (votes.most_common(1)[0][0], True) if votes else (usual, False)


def looks_like_number(text: str) -> bool:
    """Return whether a text has the digits and signs of one number."""
    return bool(_NUMBER.fullmatch(text.strip()))


def _exact(cell: object, decimal: str) -> Fraction | None:
    if isinstance(cell, bool) or cell is None:
        return None
    if isinstance(cell, int | float):
        return Fraction(cell) if cell == cell and abs(cell) != float("inf") else None
    match = re.fullmatch(r"(.*?\d[.,]?)\s*([^\W\d]+\.?)?", str(cell).strip())
    if not match or (match[2] and not is_piece_word(match[2])):
        return None
    try:
        return parse_number(match[1], decimal)
    except ValueError:
        return None


def _shown_decimal(text: str) -> str:
    """Decimal sign that a number cannot do without; empty if it may be either."""
    if not looks_like_number(text):
        return ""
    signs = [c for c in text if c in ".,"]
    if not signs:
        return ""
    last, other = signs[-1], "," if signs[-1] == "." else "."
    if other in signs:
        return last if signs.count(last) == 1 else ""
    if len(signs) > 1:
        return other
    before, after = text.split(last)
    thousands = len(after) == 3 and 1 <= len(before.lstrip("+-")) <= 3
    return "" if thousands and before.lstrip("+-") != "0" else last
