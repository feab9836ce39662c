"""From a price list that people write to offers of metals that are known."""

from __future__ import annotations

from pathlib import Path

from nestlib.from_drawings import unique
from nestlib.jobs import LookUps
from nestlib.jobs.price_list import OfferEntry, read_price_list
from nestlib.metals import material, parse_size
from nestlib.metals import metal as find_metal
from nestlib.model import Offer, PriceList


def read_prices(path: str | Path) -> PriceList:
    """Return the offers of a price list.

    Parameters
    ----------
    path : str or Path
        TOML, CSV or XLSX, as `nestlib.jobs.price_list` describes it.

    Raises
    ------
    JobError
        With everything that is wrong with it, each with its place and remedy.
    """
    look_ups = LookUps(metal=material, thickness=_check, size=parse_size)
    read = read_price_list(path, look_ups)
    table = read.table
    names = unique([entry.name or _usual_name(entry, table.offer) for entry in table.offer])
    return PriceList(
        tuple(_offer(e, name) for e, name in zip(table.offer, names, strict=True)),
        table.currency,
        table.stock_value,
        table.storage,
        table.delivery,
        str(path),
    )


def _check(text: str, metal: str) -> None:
    """Refuse a bad thickness, where the metal is known."""
    if metal:
        find_metal(metal, text)


def _usual_name(entry: OfferEntry, every: list[OfferEntry]) -> str:
    """The size; with the metal too, where the list has several."""
    size = entry.size or f"{entry.width:g} cut to length"
    several = len({(e.metal, e.thickness) for e in every}) > 1
    return f"{entry.metal} {entry.thickness} {size}" if several else size


def _offer(entry: OfferEntry, name: str) -> Offer:
    if entry.size is not None:
        length, width = parse_size(entry.size)
        lengths: tuple[float, ...] = (length,)
    else:
        width, lengths = entry.width or 0.0, entry.lengths
    return Offer(
        name,
        find_metal(entry.metal, entry.thickness),
        width,
        lengths,
        entry.price_per_sheet,
        entry.price_per_kg,
        entry.pack,
        entry.minimum_order,
        entry.minimum_weight,
        entry.lead_weeks,
    )
