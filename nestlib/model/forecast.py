"""What may be wanted of a part in a week."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date


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


def week_later(week: str, by: int) -> str:
    """Return the week so many weeks later, or earlier; of no week, no week.

    Examples
    --------
    >>> week_later("2030-W01", -2), week_later("7", 2), week_later("", 1)
    ('2029-W51', '9', '')
    """
    year, number = week_number(week)
    if not year:
        return str(number + by) if week else week
    monday = date.fromordinal(date.fromisocalendar(year, number, 1).toordinal() + 7 * by)
    iso = monday.isocalendar()
    return f"{iso.year}-W{iso.week:02d}"
