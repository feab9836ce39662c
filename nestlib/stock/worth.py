"""What a remnant is worth, and what keeping it costs: all of it in one place.

A remnant is worth a `share` of its price for the part of its area that is away from the
edges; half of that is left after every `half_life` days. Whoever leaves it on the rack pays
`keeping` for a square metre and a year, and it lies there for another `stay` days. Taking it
costs what leaving it would be worth: its worth less the keeping, and never less than nothing.

There is no published rule for this: the values to begin with are common practice, without a
source, and every shop sets its own with ``nestlib stock money``.
"""

from __future__ import annotations

from dataclasses import asdict, dataclass, fields
from datetime import date
from math import isfinite

from sqlalchemy import Connection, select

from nestlib.errors import Problem, StockError
from nestlib.stock.item import Stocked
from nestlib.stock.tables import terms as table


@dataclass(frozen=True)
class Terms:
    """What remnants are worth.

    Parameters
    ----------
    share : float
        Of the price, on the day on which a remnant is made; 0 to 1.
    half_life : float
        Days after which half of that is left.
    keeping : float
        Price of keeping a square metre on the rack for a year.
    stay : float
        Days for which a remnant lies there, as a rule.
    """

    share: float = 0.7
    half_life: float = 365.0
    keeping: float = 0.0
    stay: float = 90.0

    def worth(self, item: Stocked, day: date) -> float | None:
        """Return what one piece is worth on a day; None if its price is not known.

        Full sheets are worth their price.

        Examples
        --------
        >>> half = Stocked(1, True, "mild-steel", 2.0, 1000.0, 500.0, 5e5, 4e5, 0.0, "", 30.0,
        ...     "EUR", "", "", "", "2030-01-01", None, 1, 0)
        >>> Terms(share=0.5, half_life=365).worth(half, date(2031, 1, 1))
        6.0
        """
        if item.price is None or not item.remnant:
            return item.price
        days = max(0, (day - date.fromisoformat(item.since)).days)
        left = float(0.5 ** (days / self.half_life))
        return item.price * self.share * item.usable / item.area * left

    def cost(self, item: Stocked, day: date) -> float | None:
        """Return what taking one piece costs: its worth less what keeping it would cost."""
        worth = self.worth(item, day)
        if worth is None or not item.remnant:
            return worth
        return max(0.0, worth - self.keeping_of(item.area))

    def keeping_of(self, area: float) -> float:
        """Return what keeping an area in mm² costs for as long as a remnant stays.

        Examples
        --------
        >>> Terms(keeping=73.0, stay=5).keeping_of(1e6)
        1.0
        """
        return self.keeping * area * 1e-6 * self.stay / 365

    def share_of(self, price: float, area: float) -> float:
        """Return which share of its price a remnant is worth when it is made, 0 to 1.

        Less what keeping it will cost; for a sheet of this price and area in mm².

        Examples
        --------
        >>> Terms(share=0.7, keeping=73.0, stay=5).share_of(price=10.0, area=1e6)
        0.6
        """
        if price <= 0:
            return 0.0
        return round(max(0.0, self.share - self.keeping_of(area) / price), 12)


def read_terms(connection: Connection) -> Terms:
    """Return the terms of a rack; what was never set is as usual."""
    return Terms(**{row.name: row.value for row in connection.execute(select(table))})


def write_terms(connection: Connection, terms: Terms) -> None:
    """Set the terms of a rack.

    Raises
    ------
    StockError
        If a value makes no sense.
    """
    for field in fields(terms):
        value = getattr(terms, field.name)
        most = 1.0 if field.name == "share" else float("inf")
        least_open = field.name == "half_life"
        if not isfinite(value) or not 0 <= value <= most or (least_open and value == 0):
            remedy = "Give a share from 0 to 1, a half-life above 0, and the others from 0"
            raise StockError(Problem("", "", f"{field.name} is {value:g}", remedy))
    connection.execute(table.delete())
    rows = [{"name": name, "value": float(value)} for name, value in asdict(terms).items()]
    connection.execute(table.insert(), rows)
