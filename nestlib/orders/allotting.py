"""Which pieces of a plan are for which order line.

The rule, part by part: pieces are counted in the order in which their layouts are cut; order
lines take them by due date, those without a date last, and lines of the same date in the
order of the job. Whatever is left is for nobody.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date

from nestlib.model import OrderLine, Part, Plan


@dataclass(frozen=True)
class Allotment:
    """Pieces of a part that an order line gets.

    Parameters
    ----------
    part : Part
        The part.
    order : OrderLine, or None
        Who gets them; None for pieces that nobody ordered.
    on_layouts : tuple of (int, int)
        Numbers of layouts, counted from 1, and how many of the pieces are cut with each.
    """

    part: Part
    order: OrderLine | None
    on_layouts: tuple[tuple[int, int], ...]

    @property
    def pieces(self) -> int:
        """How many pieces it gets."""
        return sum(number for _, number in self.on_layouts)


def allotments(plan: Plan) -> list[Allotment]:
    """Return who gets the pieces of a plan, in the order of the job's parts and lines.

    Parameters
    ----------
    plan : Plan
        With parts that know their orders.

    Returns
    -------
    list of Allotment
        One for each order line of each part, also if it gets nothing, and one for pieces
        that nobody ordered, if there are any. Together they hold every piece of the plan.
    """
    return [allotment for part in plan.job.parts for allotment in _of_part(plan, part)]


def _of_part(plan: Plan, part: Part) -> Iterator[Allotment]:
    left = [
        (number, layout.counts[part.name] * layout.runs)
        for number, layout in enumerate(plan.layouts, start=1)
        if part.name in layout.counts
    ]
    got: dict[int, tuple[tuple[int, int], ...]] = {}
    for at in sorted(range(len(part.orders)), key=lambda i: (part.orders[i].due or date.max, i)):
        got[at], left = _take(left, part.orders[at].quantity)
    yield from (Allotment(part, order, got[i]) for i, order in enumerate(part.orders))
    if left:
        yield Allotment(part, None, tuple(left))


def _take(
    left: list[tuple[int, int]], wanted: int
) -> tuple[tuple[tuple[int, int], ...], list[tuple[int, int]]]:
    """What is taken from the first layouts, and what is left."""
    taken, rest = list[tuple[int, int]](), list[tuple[int, int]]()
    for number, there in left:
        n = min(there, wanted)
        wanted -= n
        if n:
            taken.append((number, n))
        if there > n:
            rest.append((number, there - n))
    return tuple(taken), rest
