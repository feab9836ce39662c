"""The kinds of sheet there are to choose from: formats to order, and what is at hand."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from nestlib.model import Offer


@dataclass(frozen=True)
class Format:
    """One kind of sheet.

    Parameters
    ----------
    name : str
        What an order calls it.
    price : int
        What one costs when it is ordered, in hundredths.
    value : int
        What one is worth in the stock, in hundredths: what using one takes from it. Not
        more than `price`.
    area : float
        In mm².
    weight : float
        In kg.
    offer : int, or None
        Index of its offer, whose least order all formats of the offer share; None for what
        is at hand.
    pack : int
        Sold in packs of so many.
    at_hand : int
        How many there are without an order.
    size : (float, float)
        Length and width of its bounding box, in mm.
    lead : int
        Weeks from the order to the delivery.
    barred : bool
        Whether it is not to be ordered although it is offered.
    """

    name: str
    price: int
    value: int
    area: float
    weight: float
    offer: int | None = None
    pack: int = 1
    at_hand: int = 0
    size: tuple[float, float] = (0.0, 0.0)
    lead: int = 0
    barred: bool = False

    @property
    def orderable(self) -> bool:
        """Whether it can be ordered at all."""
        return self.offer is not None and not self.barred

    @property
    def available(self) -> bool:
        """Whether there can be any."""
        return self.orderable or self.at_hand > 0

    @property
    def cost_of_use(self) -> int:
        """What using one costs, in hundredths: its price, or its value if it is at hand."""
        return self.price if self.orderable else self.value


def grams(weight: float) -> int:
    """Return a weight in kg in whole grams, in which the programs count.

    Examples
    --------
    >>> grams(0.7)
    700
    """
    return round(1000 * weight)


@dataclass(frozen=True)
class LeastOrder:
    """The least that can be ordered of an offer, if anything is.

    Parameters
    ----------
    sheets : int
        All its formats together.
    weight : float
        In kg, all its formats together.
    """

    sheets: int = 0
    weight: float = 0.0


def formats_of(offer: Offer, index: int, stock_value: float) -> list[Format]:
    """Return every format of an offer.

    Parameters
    ----------
    offer : Offer
        One format, or one width in many lengths.
    index : int
        Which of the offers it is.
    stock_value : float
        What a sheet in stock is worth: this share of its price.
    """
    formats = []
    for length in offer.lengths:
        price = offer.price(length)
        formats.append(
            Format(
                offer.title(length),
                price,
                int(price * stock_value),
                length * offer.width,
                offer.weight(length),
                index,
                offer.pack,
                size=(length, offer.width),
                lead=offer.lead_weeks,
            )
        )
    return formats


def holders(formats: Sequence[Format], form: int) -> list[int]:
    """Return which formats can hold what is cut from one: itself, and longer ones of its offer.

    Parameters
    ----------
    formats : sequence of Format
        Those of an offer stand together, the shortest first.
    form : int
        Index of the format.
    """
    offer = formats[form].offer
    longer = range(form, len(formats)) if offer is not None else [form]
    return [i for i in longer if formats[i].offer == offer]


def without(formats: Sequence[Format], names: Sequence[str]) -> list[Format]:
    """Return the formats, of which those of some names are not to be ordered."""
    return [replace(f, barred=f.barred or f.name in names) for f in formats]
