"""Forecasts and past weeks: how many of a part, and when, as CSV or XLSX.

The first row holds the titles of the columns, in any order:

==============  ===========================================================================
column          what stands in it
==============  ===========================================================================
part            name of a part of the jobs
quantity        how many, a whole number of 0 or more; or:
low, high       the least and the most, every number between equally likely
week            optional: ``2030-W18`` (ISO 8601), or a whole number counted from anywhere
==============  ===========================================================================
"""

from __future__ import annotations

import re
from datetime import date
from pathlib import Path
from typing import Annotated, Any

from pydantic import AfterValidator, Field, model_validator

from nestlib.errors import JobError, Problem
from nestlib.jobs.entries import MOST
from nestlib.jobs.plain_list import read_plain_list
from nestlib.model import ForecastRow
from nestlib.validation import Table, fault, shown

_WHOLE = ("quantity", "low", "high")
_WEEK = re.compile(r"(\d{4})-W(\d{2})")


def _week(value: str) -> str:
    match = _WEEK.fullmatch(value)
    if match:
        try:
            date.fromisocalendar(int(match[1]), int(match[2]), 1)
        except ValueError:
            raise fault(f"{shown(value)} is no week of the calendar") from None
    elif not re.fullmatch(r"\d{1,6}", value):
        raise fault(f"{shown(value)} is not a week")
    return value


class ForecastEntry(Table):
    """A row of a forecast."""

    part: str = Field(min_length=1, description="the name of a part of the jobs")
    week: Annotated[str, AfterValidator(_week)] = Field(
        default="", description='the week as "2030-W18", or a whole number'
    )
    quantity: int | None = Field(
        default=None, ge=0, le=MOST, description="how many, for example 12"
    )
    low: int | None = Field(default=None, ge=0, le=MOST, description="the least, for example 8")
    high: int | None = Field(default=None, ge=0, le=MOST, description="the most, for example 16")

    @model_validator(mode="after")
    def _a_number_or_a_range(self) -> ForecastEntry:
        ranged = (self.low is not None, self.high is not None)
        if (self.quantity is None) != all(ranged) or (self.quantity is not None and any(ranged)):
            raise fault("the row needs a number", "Give quantity, or low and high")
        if self.low is not None and self.high is not None and self.low > self.high:
            raise fault(f"low {self.low} is more than high {self.high}", "Exchange them")
        return self


def read_forecast(path: str | Path) -> tuple[ForecastRow, ...]:
    """Return the rows of a forecast, or of a list of past weeks.

    Parameters
    ----------
    path : str or Path
        CSV or XLSX, as described above.

    Raises
    ------
    JobError
        With every problem of the list, each with its row and column.
    """
    lines = read_plain_list(path, ForecastEntry, _value)
    if not lines:
        raise JobError(Problem(str(path), "", "the list has no rows", "Add a row for each part"))
    kinds = {bool(_WEEK.fullmatch(line.entry.week)) for line in lines if line.entry.week}
    if len(kinds) > 1:
        remedy = "Write all of them as 2030-W18, or all as whole numbers"
        raise JobError(Problem(str(path), "", "weeks are written in two ways", remedy))
    return tuple(_row(line.entry, f"{path}: {line.place}") for line in lines)


def _row(entry: ForecastEntry, place: str) -> ForecastRow:
    low = entry.quantity if entry.low is None else entry.low
    high = entry.quantity if entry.high is None else entry.high
    return ForecastRow(entry.part, low or 0, high or 0, entry.week, place)


def _value(column: str, text: str) -> Any:
    whole = column in _WHOLE and re.fullmatch(r"[+-]?\d{1,15}", text)
    return int(text) if whole else text
