"""Who wants a part."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date


@dataclass(frozen=True)
class OrderLine:
    """A line of an order that some pieces of a part are for.

    Parameters
    ----------
    line : str
        How the order names it, for example ``"4711/10"``.
    quantity : int
        Pieces of the part that it wants.
    due : datetime.date, or None
        When it has to be ready; None if no date is set.
    each : int
        Pieces of the part that make one ordered: a drawing may show several.
    """

    line: str
    quantity: int
    due: date | None = None
    each: int = 1
