"""Gauge numbers of sheet metal, turned into thickness and weight by their definitions.

A gauge number means nothing without the metal: number 16 is 0.0598 in of carbon steel,
0.0635 in galvanised, 0.0625 in of stainless steel and 0.0508 in of aluminium.

=====  ==============================  ==================================================
table  used for                        thickness in inches
=====  ==============================  ==================================================
USG    stainless steel                 ounces / 640, the US Standard gauge of the statute
MSG    uncoated carbon steel           (ounces / 16) / 41.82, the Manufacturers' Standard
GALV   galvanised steel                (ounces + 2.5) / 16 / 41.82
AWG    aluminium, brass, copper        0.005 * 92^((36 - number) / 39), Brown & Sharpe
=====  ==============================  ==================================================

The ounces per square foot are those of the statute. Weight is what it defines; the
41.82 lb per square foot and inch is a constant of the definition and not the density of
steel, so a weight by gauge is some 2 % above thickness times 7.85 g/cm³.

References
----------
15 U.S.C. 206 (Act of 3 March 1893, ch. 221, 27 Stat. 746). The two rules with 41.82 are
those of published gauge charts; the Brown & Sharpe formula is that of ASTM B258.
"""

from __future__ import annotations

from functools import cache

from nestlib.errors import InputError, Problem
from nestlib.metals.data_files import load

#: mm in an inch, exactly.
INCH = 25.4

#: kg/m² in one ounce per square foot: 0.028349523125 kg over 0.3048² m².
OUNCE_PER_FOOT2 = 0.028349523125 / 0.3048**2

_POUNDS_PER_INCH = 41.82  # per square foot
_ZINC_OUNCES = 2.5
_WEIGHT_TABLES = ("USG", "MSG", "GALV")
_AWG_NUMBERS = range(37)
_FIRST_GALVANISED = 8  # charts begin there; thicker rows would be the formula alone


def gauge_tables() -> tuple[str, ...]:
    """Return the names of the gauge tables.

    Examples
    --------
    >>> gauge_tables()
    ('USG', 'MSG', 'GALV', 'AWG')
    """
    return (*_WEIGHT_TABLES, "AWG")


def gauge_numbers(table: str) -> tuple[int, ...]:
    """Return the numbers that a gauge table has, thickest first.

    Raises
    ------
    InputError
        If there is no such table.
    """
    if table == "AWG":
        return tuple(_AWG_NUMBERS)
    if table not in _WEIGHT_TABLES:
        remedy = f"Known are: {', '.join(gauge_tables())}"
        raise InputError(Problem("", "", f'there is no gauge table "{table}"', remedy))
    return tuple(n for n in _ounces() if table != "GALV" or n >= _FIRST_GALVANISED)


def gauge_thickness(table: str, number: int) -> float:
    """Return the thickness of a gauge.

    Parameters
    ----------
    table : str
        ``"USG"``, ``"MSG"``, ``"GALV"`` or ``"AWG"``; a material names its own.
    number : int
        Gauge number.

    Returns
    -------
    float
        Thickness in mm, not rounded.

    Raises
    ------
    InputError
        If there is no such table, or no such number in it.

    Examples
    --------
    >>> round(gauge_thickness("USG", 16) / 25.4, 4), round(gauge_thickness("AWG", 16) / 25.4, 4)
    (0.0625, 0.0508)
    """
    _check(table, number)
    if table == "AWG":
        return float(0.005 * 92 ** ((36 - number) / 39) * INCH)
    if table == "USG":
        return _ounces()[number] / 640 * INCH
    return _weight_ounces(table, number) / 16 / _POUNDS_PER_INCH * INCH


def gauge_weight(table: str, number: int) -> float:
    """Return the weight by which a gauge of steel is defined.

    Parameters
    ----------
    table : str
        ``"USG"``, ``"MSG"`` or ``"GALV"``.
    number : int
        Gauge number.

    Returns
    -------
    float
        Weight in kg/m².

    Raises
    ------
    InputError
        If there is no such table or number, or the table is defined by thickness alone.

    Examples
    --------
    >>> round(gauge_weight("USG", 16), 2)  # 2.5 lb per square foot
    12.21
    """
    _check(table, number)
    if table == "AWG":
        remedy = "Multiply the thickness by the density of the metal"
        raise InputError(Problem("", "", "AWG is a gauge of thickness, not of weight", remedy))
    return _weight_ounces(table, number) * OUNCE_PER_FOOT2


def _weight_ounces(table: str, number: int) -> float:
    return _ounces()[number] + (_ZINC_OUNCES if table == "GALV" else 0.0)


def _check(table: str, number: int) -> None:
    numbers = gauge_numbers(table)
    if number not in numbers:
        remedy = f"{table} has numbers {numbers[0]} to {numbers[-1]}; else give the size in mm"
        raise InputError(Problem("", "", f"{number} is not a gauge of table {table}", remedy))


@cache
def _ounces() -> dict[int, float]:
    return {int(number): float(oz) for number, oz in load("gauges.toml")["ounces"].items()}
