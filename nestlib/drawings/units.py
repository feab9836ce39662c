"""Units of length: their names, and the numbers by which DXF knows them.

Values of ``$INSUNITS``: DXF Reference, HEADER section. Customary units: the inch is
25.4 mm by the international agreement of 1959; the US survey foot is 1200/3937 m.
"""

from __future__ import annotations

_SURVEY_FOOT = 1200 / 3937 * 1000

#: Millimetres in one of each unit.
MILLIMETRES = {
    "um": 1e-3,
    "mm": 1.0,
    "cm": 10.0,
    "dm": 100.0,
    "m": 1e3,
    "dam": 1e4,
    "hm": 1e5,
    "km": 1e6,
    "Gm": 1e12,
    "nm": 1e-6,
    "angstrom": 1e-7,
    "uin": 25.4e-6,
    "mil": 25.4e-3,
    "in": 25.4,
    "ft": 304.8,
    "yd": 914.4,
    "mi": 1609344.0,
    "au": 149597870700e3,
    "ly": 9460730472580800e3,
    "pc": 648000 / 3.141592653589793 * 149597870700e3,
    "survey-in": _SURVEY_FOOT / 12,
    "survey-ft": _SURVEY_FOOT,
    "survey-yd": _SURVEY_FOOT * 3,
    "survey-mi": _SURVEY_FOOT * 5280,
    "pt": 25.4 / 72,
    "px": 25.4 / 96,
}

_INSUNITS = (
    None, "in", "ft", "mi", "mm", "cm", "m", "km", "uin", "mil", "yd", "angstrom", "nm", "um",
    "dm", "dam", "hm", "Gm", "au", "ly", "pc", "survey-ft", "survey-in", "survey-yd", "survey-mi",
)  # fmt: skip

_OTHER_NAMES = {
    "inch": "in",
    "inches": "in",
    '"': "in",
    "foot": "ft",
    "feet": "ft",
    "millimetre": "mm",
    "millimetres": "mm",
    "millimeter": "mm",
    "millimeters": "mm",
    "centimetre": "cm",
    "centimeter": "cm",
    "metre": "m",
    "meter": "m",
    "thou": "mil",
    "mils": "mil",
    "micron": "um",
    "µm": "um",
}


def unit_of_code(insunits: int | None) -> str | None:
    """Return the name of the unit that ``$INSUNITS`` means; None if it means none.

    Examples
    --------
    >>> unit_of_code(4), unit_of_code(9), unit_of_code(0), unit_of_code(None)
    ('mm', 'mil', None, None)
    """
    if insunits is None or not 0 <= insunits < len(_INSUNITS):
        return None
    return _INSUNITS[insunits]


def unit_name(text: str) -> str:
    """Return the short name of a unit.

    Raises
    ------
    ValueError
        If there is no such unit.

    Examples
    --------
    >>> unit_name(" Inches ")
    'in'
    """
    wanted = text.strip()
    for name in (wanted, wanted.lower(), _OTHER_NAMES.get(wanted.lower(), "")):
        if name in MILLIMETRES:
            return name
    raise ValueError(f"there is no unit {text!r}; known are mm, cm, m, in, ft, mil and others")


def millimetres(name: str) -> float:
    """Return how many millimetres one unit is.

    Parameters
    ----------
    name : str
        Any name that `unit_name` understands.

    Raises
    ------
    ValueError
        If there is no such unit.

    Examples
    --------
    >>> millimetres("in"), millimetres("mils")
    (25.4, 0.0254)
    """
    return MILLIMETRES[unit_name(name)]
