"""What is due first comes first: on the first sheets, and where the stock is short.

Common practice, no source: what leaves the house first is cut first (earliest due date),
and what is worth more to somebody comes first among what is due on the same day.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from nestlib.model import Part
from nestlib.packing import PackedSheet, Shape
from nestlib.packing.score import first_due


def due_ranks(parts: Sequence[Part]) -> dict[date, int]:
    """Return the due dates of some parts with their ranks, the earliest 0.

    Parameters
    ----------
    parts : sequence of Part
        With or without due dates.
    """
    return {day: rank for rank, day in enumerate(sorted({p.due for p in parts if p.due}))}


def placing_levels(parts: Sequence[Part]) -> list[int]:
    """Return for each part a number; those with a higher one are placed first.

    Parameters
    ----------
    parts : sequence of Part
        An earlier due date counts before a later one, any date before none, and the
        priority among parts of the same date. Without any dates it is the priority itself.

    Returns
    -------
    list of int

    Examples
    --------
    >>> from nestlib.model import Contour
    >>> square = Contour.rectangle(1, 1)
    >>> day = date(2030, 5, 1)
    >>> placing_levels([Part("a", square, priority=9), Part("b", square, due=day)])
    [0, 1]
    """
    if not any(part.due for part in parts):
        return [part.priority for part in parts]
    keys = [(-(part.due or date.max).toordinal(), part.priority) for part in parts]
    levels = {key: level for level, key in enumerate(sorted(set(keys)))}
    return [levels[key] for key in keys]


def by_due(sheets: Sequence[PackedSheet], shapes: Sequence[Shape]) -> list[PackedSheet]:
    """Return sheets by the earliest due date that each serves; else as they were.

    Parameters
    ----------
    sheets : sequence of PackedSheet
        In any order.
    shapes : sequence of Shape
        Those that lie on them.
    """
    return sorted(sheets, key=lambda sheet: first_due(shapes, sheet))
