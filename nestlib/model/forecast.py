"""What may be wanted of a part in a week."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class ForecastRow:
    """Pieces of one part in one week, a number or a range.

    Parameters
    ----------
    part : str
        Name of the part.
    low, high : int
        Least and most pieces, both possible; equal if the number is known.
    week : str
        As somebody wrote it: ``"2030-W18"`` (ISO 8601) or a whole number; empty if it is not
        said.
    place : str
        Where it stands: ``"forecast.csv: row 4"``.
    """

    part: str
    low: int
    high: int
    week: str = ""
    place: str = ""

    @property
    def usual(self) -> int:
        """The middle of the range, rounded down."""
        return (self.low + self.high) // 2


def week_number(week: str) -> tuple[int, int]:
    """Return what weeks are sorted by: year and week; no year for a whole number.

    Examples
    --------
    >>> week_number("2030-W18"), week_number("7"), week_number("")
    ((2030, 18), (0, 7), (0, 0))
    """
    year, _, number = week.rpartition("-W")
    return int(year or 0), int(number or 0)
