"""From what people say about a sheet to an item for the rack."""

from __future__ import annotations

from datetime import date, datetime
from pathlib import Path

from nestlib.errors import InputError, Problem
from nestlib.metals import metal as find_metal
from nestlib.metals import parse_size
from nestlib.model import Contour
from nestlib.stock import Item, today


def item_from_words(
    *,
    metal: str,
    thickness: str | float,
    size: str | None = None,
    drawing: str | Path | None = None,
    units: str | None = None,
    remnant: bool = False,
    grain: float = 0.0,
    place: str = "",
    price: float | None = None,
    currency: str = "",
    lot: str = "",
    heat: str = "",
    document: str = "",
    since: date | None = None,
) -> Item:
    """Return an item for `Rack.receive`.

    Parameters
    ----------
    metal : str
        A material, for example ``"mild-steel"``.
    thickness : str or float
        For example ``"1.5 mm"`` or ``"16 ga"``; a number is in mm.
    size : str, optional
        For example ``"3000x1500"``; either this or a drawing.
    drawing : path-like, optional
        DXF or SVG that shows the outline and its holes, and nothing else to cut.
    units : str, optional
        Unit of a drawing that gives none.
    remnant, grain, place, price, currency, lot, heat, document, since
        As in `Item`.

    Raises
    ------
    InputError
        With what cannot be understood, a day still to come, or a price without a currency.
    """
    _demand_past(since)
    _demand_currency(price, currency)
    outline, holes = _outline(size, drawing, units)
    found = find_metal(metal, thickness)
    return Item(
        metal=found.material.name,
        thickness=found.thickness,
        outline=outline,
        holes=holes,
        remnant=remnant,
        grain=grain,
        place=place,
        price=price,
        currency=currency,
        lot=lot,
        heat=heat,
        document=document,
        since=since,
    )


def _demand_past(since: date | None) -> None:
    """Refuse a day that is still to come; where the sun is ahead of UTC, today counts."""
    here = datetime.now().astimezone().date()
    if since is not None and since > max(here, today()):
        problem = f"a sheet that came on {since.isoformat()}, which is still to come"
        raise InputError(Problem("", "--since", problem, "Give the day on which it came"))


def _demand_currency(price: float | None, currency: str) -> None:
    """Refuse a price that says not of what: a job in another currency would take it for its own."""
    if price is not None and not currency.strip():
        problem = f"a price of {price:g} in no currency"
        raise InputError(Problem("", "--price", problem, "Say which, such as --currency EUR"))


def _outline(
    size: str | None, drawing: str | Path | None, units: str | None
) -> tuple[Contour, tuple[Contour, ...]]:
    if (size is None) == (drawing is None):
        problem = "a sheet needs a size or a drawing, one of them"
        raise InputError(Problem("", "", problem, "Give --size 3000x1500 or --drawing FILE"))
    if size is not None:
        return Contour.rectangle(*parse_size(size)), ()
    return _drawn(str(drawing), units)


def _drawn(file: str, units: str | None) -> tuple[Contour, tuple[Contour, ...]]:
    """The outline and the holes that a drawing shows."""
    from nestlib.drawings import read_drawing

    drawing = read_drawing(file, fallback_units=units)
    errors = [f for f in drawing.findings if f.level == "error"]
    if errors:
        raise InputError(Problem(file, "", f.message, f.remedy) for f in errors)
    drawn = sum(part.quantity for part in drawing.parts)
    if drawn != 1:
        problem = f"the drawing shows {drawn} outlines, and a sheet has one"
        remedy = "Leave one closed outline with its holes in the drawing"
        raise InputError(Problem(file, "", problem, remedy))
    part = drawing.parts[0]
    return part.outer, part.inners
