"""What a long search tells its caller while it runs."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Progress:
    """A glance at a running search.

    Parameters
    ----------
    seconds : float
        Since the search began.
    phase : str
        What is being done, in a few words.
    utilisation : float, or None
        Of the best layouts so far, 0 to 1; None before there are any.
    sheets : int, or None
        Sheets that the best layouts so far use.
    placed, wanted : int
        Pieces placed so far and pieces to place.
    bound : float, or None
        Utilisation that no layout can exceed, 0 to 1, where one is known.
    cost : float, or None
        Of the sheets of the best layouts so far; None if one of them has no price.
    gap : float, or None
        How much more they cost than any plan has to, as a share of their cost, 0 to 1; where
        there are no prices, how many more sheets they are. None as long as nothing is proved
        or a piece that has to be placed is missing.
    left : float, or None
        Most seconds that the search may still take; None if no time is set.
    """

    seconds: float
    phase: str
    utilisation: float | None = None
    sheets: int | None = None
    placed: int = 0
    wanted: int = 0
    bound: float | None = None
    cost: float | None = None
    gap: float | None = None
    left: float | None = None

    def __str__(self) -> str:
        figures = [f"{self.seconds:6.1f} s", self.phase, f"{self.placed} of {self.wanted} placed"]
        if self.utilisation is not None:
            sheets = "1 sheet" if self.sheets == 1 else f"{self.sheets} sheets"
            figures.append(f"{sheets}, {self.utilisation:.1%} used")
        if self.cost is not None:
            figures.append(f"cost {self.cost:.2f}")
        if self.gap is not None:
            figures.append(f"{self.gap:.1%} above the bound")
        return " · ".join(figures)
