"""Names and figures as people read them."""

from __future__ import annotations

import re
from collections import Counter

from nestlib.model import Effort, Plan

#: What XML 1.0 does not allow even when escaped, and what could steer a terminal.
_UNSEEN = re.compile(
    "[^\u0020-\u007e\u00a0-\u2027\u202f-\u2065\u206a-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]"
)


def plain(text: object) -> str:
    """Return a text on one line, without characters that cannot be seen.

    Examples
    --------
    >>> plain("left\\x1b[31m arm\\n")
    'left�[31m arm '
    """
    return _UNSEEN.sub("�", re.sub(r"[\t\r\n]", " ", str(text)))


def millimetres(length: float | None) -> str:
    """Return a length in mm with as many digits as matter when it is checked.

    Examples
    --------
    >>> millimetres(3.40000000001), millimetres(None)
    ('3.4000 mm', 'none')
    """
    return "none" if length is None else f"{length:.4f} mm"


def metres(length: float) -> str:
    """Return a length given in mm, in metres.

    Examples
    --------
    >>> metres(12345)
    '12.35 m'
    """
    return f"{length / 1000:.2f} m"


def share(value: float) -> str:
    """Return a share as a percentage.

    Examples
    --------
    >>> share(0.8234)
    '82.3 %'
    """
    return f"{100 * value:.1f} %"


def size(width: float, height: float) -> str:
    """Return two lengths in mm.

    Examples
    --------
    >>> size(3000, 1500.25)
    '3000 × 1500.2 mm'
    """
    return f"{_short(width)} × {_short(height)} mm"


def kilograms(weight: float) -> str:
    """Return a weight in kg.

    Examples
    --------
    >>> kilograms(94.24)
    '94.2 kg'
    """
    return f"{weight:.1f} kg"


def money(amount: float | None, currency: str) -> str:
    """Return an amount with its currency.

    Examples
    --------
    >>> money(1234.5, "EUR"), money(None, "EUR")
    ('1234.50 EUR', 'unknown')
    """
    return "unknown" if amount is None else f"{amount:.2f} {currency}".rstrip()


def duration(seconds: float | None) -> str:
    """Return a time as people read it.

    Examples
    --------
    >>> duration(12.34), duration(754.0), duration(7384.0), duration(None)
    ('12.3 s', '12 min 34 s', '2 h 03 min', 'not stated')
    """
    if seconds is None:
        return "not stated"
    if seconds < 60:
        return f"{seconds:.1f} s"
    whole = round(seconds)
    if whole < 3600:
        return f"{whole // 60} min {whole % 60:02d} s"
    return f"{whole // 3600} h {whole % 3600 // 60:02d} min"


def hundredths(amount: int | None, currency: str) -> str:
    """Return an amount given in hundredths of its currency.

    Examples
    --------
    >>> hundredths(123450, "EUR"), hundredths(None, "EUR")
    ('1234.50 EUR', 'not stated')
    """
    return "not stated" if amount is None else money(amount / 100, currency)


def saved(effort: Effort) -> str:
    """Return what is saved, for people.

    Examples
    --------
    >>> saved(Effort(cut_length=1500.0, pierces=2, cutting=90.0))
    '1.50 m of cutting, 2 pierces and 1 min 30 s'
    """
    pierces = count(effort.pierces, "pierce")
    return f"{metres(effort.cut_length)} of cutting, {pierces} and {duration(effort.seconds)}"


def gas(volume: float | None) -> str:
    """Return a volume of gas given in m³.

    Examples
    --------
    >>> gas(0.1234), gas(None)
    ('0.123 m³', 'not stated')
    """
    return "not stated" if volume is None else f"{volume:.3f} m³"


def count(number: int, one: str, many: str = "") -> str:
    """Return a number with its noun.

    Examples
    --------
    >>> count(1, "sheet"), count(2, "sheet"), count(2, "piece of stock", "pieces of stock")
    ('1 sheet', '2 sheets', '2 pieces of stock')
    """
    return f"{number} {one if number == 1 else many or one + 's'}"


def _short(length: float) -> str:
    return f"{length:.1f}".removesuffix(".0")


def held(plan: Plan) -> str:
    """Return what a plan holds on the rack.

    For example ``"2 x S12, 1 x R40"``.
    """
    runs = Counter[str]()
    for layout in plan.layouts:
        runs[layout.sheet.item] += layout.runs
    return ", ".join(f"{count} x {item}" for item, count in runs.items() if item)
