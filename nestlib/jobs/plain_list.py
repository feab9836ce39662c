"""Lists with one title row and one entry a row, as CSV or XLSX, for any kind of entry."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Generic, TypeVar

from nestlib.errors import JobError, Problem
from nestlib.jobs.cells import BadCell, Cell, Row, read_rows
from nestlib.suggesting import did_you_mean
from nestlib.validation import Location, Table, validate

Entry = TypeVar("Entry", bound=Table)


@dataclass(frozen=True)
class ListLine(Generic[Entry]):
    """A row of a list.

    Parameters
    ----------
    entry : Table
        What it says.
    place : str
        For example ``"row 4"``.
    """

    entry: Entry
    place: str


def read_plain_list(
    path: str | Path,
    model: type[Entry],
    value: Callable[[str, str], Any],
    context: object = None,
) -> list[ListLine[Entry]]:
    """Return the rows of a list.

    Parameters
    ----------
    path : str or Path
        CSV or XLSX; the first row holds the titles of the columns, which are the fields of
        the model, in any order. Empty cells mean the default.
    model : type
        What a row must look like.
    value : callable
        From the name of a column and the text of a cell to what it means.
    context : object
        Handed to the model's validators.

    Raises
    ------
    JobError
        With every problem of the list, each with its row and column.
    """
    file, fields = str(path), list(model.model_fields)
    rows = read_rows(path, lambda title: _column(title) in fields)
    head, *rest = rows or [Row(1, ())]
    columns = [_column(cell) for cell in head.cells]
    problems = _wrong_titles(file, head, columns, fields)
    if problems:
        raise JobError(problems)
    lines: list[ListLine[Entry]] = []
    for row in rest:
        try:
            raw = _raw(file, row, columns, value)
            entry = validate(model, raw, file, _placing(row), context)
        except JobError as error:
            problems += error.problems
        else:
            lines.append(ListLine(entry, f"row {row.number}"))
    if problems:
        raise JobError(problems)
    return lines


def _column(title: Cell) -> str:
    return re.sub(r"[\s-]+", "_", str(title or "").strip().lower())


def _wrong_titles(file: str, head: Row, columns: list[str], fields: list[str]) -> list[Problem]:
    place = f"row {head.number}"
    unknown = [c for c in dict.fromkeys(columns) if c and c not in fields]
    twice = [c for c in dict.fromkeys(columns) if c and columns.count(c) > 1]
    return [
        *(Problem(file, place, f'unknown column "{c}"', did_you_mean(c, fields)) for c in unknown),
        *(Problem(file, place, f'two columns are called "{c}"', "Keep one") for c in twice),
    ]


def _placing(row: Row) -> Callable[[Location], str]:
    def place(location: Location) -> str:
        return f"row {row.number}" + (f", column {location[0]}" if location else "")

    return place


def _raw(
    file: str, row: Row, columns: list[str], value: Callable[[str, str], Any]
) -> dict[str, Any]:
    """The cells of a row that say anything, by column."""
    raw: dict[str, Any] = {}
    for i, cell in enumerate(row.cells):
        if cell in (None, ""):
            continue
        column = columns[i] if i < len(columns) else ""
        place = f"row {row.number}, " + (f"column {column}" if column else f"cell {i + 1}")
        if isinstance(cell, BadCell):
            raise JobError(Problem(file, place, cell.problem, cell.remedy))
        if not column:
            remedy = "Give the column a title, or put a cell that holds the delimiter in quotes"
            raise JobError(Problem(file, place, "the cell stands under no title", remedy))
        raw[column] = value(column, _plain(cell))
    return raw


def _plain(cell: Cell) -> str:
    """Text of a cell; a whole number has no decimals, whatever the spreadsheet thinks."""
    whole = isinstance(cell, float) and cell.is_integer()
    return str(int(cell)) if whole else str(cell)  # type: ignore[arg-type]
