"""What can be bought, and on what terms."""

from __future__ import annotations

from dataclasses import dataclass

from nestlib.model.metal import Metal


@dataclass(frozen=True)
class Offer:
    """Sheets of one metal that a supplier sells: one format, or any length of one width.

    Parameters
    ----------
    name : str
        Unique within a price list.
    metal : Metal
        Material and thickness.
    width : float
        Along y, in mm.
    lengths : tuple of float
        Along x, in mm, the shortest first: one, or all that are cut to order.
    per_sheet : float, or None
        Price of a sheet, in the list's currency.
    per_kg : float, or None
        Price of a kilogram; one of the two is given.
    pack : int
        Sheets are sold in packs of so many, all of one length.
    minimum : int
        So many sheets at least, if any are ordered, all lengths together.
    minimum_weight : float
        So much at least, if any are ordered, in kg.
    lead_weeks : int
        Weeks from the order to the delivery.
    """

    name: str
    metal: Metal
    width: float
    lengths: tuple[float, ...]
    per_sheet: float | None = None
    per_kg: float | None = None
    pack: int = 1
    minimum: int = 0
    minimum_weight: float = 0.0
    lead_weeks: int = 0

    def weight(self, length: float) -> float:
        """Return the weight of a sheet of one length, in kg."""
        return self.metal.weight(length * self.width)

    def price(self, length: float) -> int:
        """Return the price of a sheet of one length, in hundredths."""
        if self.per_sheet is not None:
            return round(100 * self.per_sheet)
        return round(100 * (self.per_kg or 0.0) * self.weight(length))

    def title(self, length: float) -> str:
        """Return what a sheet of one length is called on an order."""
        return self.name if len(self.lengths) == 1 else f"{self.name} @ {length:g}"


@dataclass(frozen=True)
class PriceList:
    """Offers, and what stock and storage are worth.

    Parameters
    ----------
    offers : tuple of Offer
        With unique names.
    currency : str
        Unit of all amounts.
    stock_value : float
        What a sheet in stock is worth: this share of its price, 0 to 1.
    storage : float
        Price of keeping a kilogram, of sheets or of parts, for a week.
    delivery : float
        Price of each week in which anything arrives.
    file : str
        Where it was read; empty if it was made in code.
    """

    offers: tuple[Offer, ...]
    currency: str = ""
    stock_value: float = 0.0
    storage: float = 0.0
    delivery: float = 0.0
    file: str = ""
