"""What to order and to cut: what every question about an order is answered with."""

from __future__ import annotations

from dataclasses import dataclass

from nestlib.buying.columns import Column

#: Layouts to cut, and how often.
Runs = tuple[tuple[Column, int], ...]


@dataclass(frozen=True)
class Choice:
    """What to order and to cut.

    Parameters
    ----------
    packs : tuple of int
        Packs to order of each format.
    runs : tuple of (Column, int)
        Layouts to cut, and how often.
    used : tuple of int
        Sheets to cut of each format.
    paid : int
        For all that is ordered, with the delivery, in hundredths.
    cost : int
        What is paid, less what the stock gains or more what it loses, in hundredths.
    exact : bool
        Whether no choice of these columns costs less.
    """

    packs: tuple[int, ...]
    runs: Runs
    used: tuple[int, ...]
    paid: int
    cost: int
    exact: bool
