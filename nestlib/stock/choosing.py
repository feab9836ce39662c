"""Which items of the rack a nest is offered, and in which order.

1. Fit: the smallest part has to go into the bounding box, and a sheet has to lie on the bed.
2. Remnants come before full sheets, whatever they cost.
3. Value and age: the lowest cost of taking a usable square metre comes first (`Terms.cost`,
   which falls with age); what has no price counts as free; then the oldest, then the smallest.
4. No more than `MOST_REMNANTS` and `MOST_SHEETS` items, so that a full rack does not slow
   the search down.

Which of them are used, the nest decides by cost. A rule of the trade: use up what is old and
cheap (common practice, no source).
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date

from nestlib.stock.item import Stocked
from nestlib.stock.worth import Terms

MOST_REMNANTS = 40
MOST_SHEETS = 20


def choose(
    items: Iterable[Stocked],
    smallest: tuple[float, float],
    bed: tuple[float, float],
    terms: Terms,
    day: date,
) -> list[Stocked]:
    """Return the items that a nest is offered, remnants first.

    Parameters
    ----------
    items : iterable of Stocked
        Of the right metal, with free pieces.
    smallest : (float, float)
        Size of the smallest part, in mm.
    bed : (float, float)
        Size of the bed, in mm.
    terms : Terms
        What remnants are worth.
    day : datetime.date
        On which day.

    Returns
    -------
    list of Stocked
    """
    fit = [i for i in items if _into(smallest, (i.width, i.height)) and _into(_size(i), bed)]
    ranked = sorted(fit, key=lambda i: (_rate(i, terms, day), i.since, i.area, i.id))
    remnants = [item for item in ranked if item.remnant][:MOST_REMNANTS]
    return remnants + [item for item in ranked if not item.remnant][:MOST_SHEETS]


def _size(item: Stocked) -> tuple[float, float]:
    return item.width - 1.0, item.height - 1.0  # inch sizes are often rounded


def _into(size: Sequence[float], room: Sequence[float]) -> bool:
    """Whether a rectangle goes into another one, in either turn."""
    return max(size) <= max(room) and min(size) <= min(room)


def _rate(item: Stocked, terms: Terms, day: date) -> float:
    """What taking a usable square metre costs."""
    return (terms.cost(item, day) or 0.0) / max(item.usable, 1.0) * 1e6
