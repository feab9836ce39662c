"""Part lists: which drawings to cut and how many of each, as CSV or XLSX.

The first row holds the titles of the columns, in any order:

==============  ===========================================================================
column          what stands in it
==============  ===========================================================================
drawing         path of the drawing, relative to the list; ``file`` and ``part`` mean the same
quantity        how many, a whole number of 1 or more; ``qty`` means the same
name            optional: name of the part; ``part`` means this if there is a column drawing
index           optional: which part of the drawing, counted from 1
rotations       optional: ``any``, ``grain`` or angles such as ``0 90 180 270``
step            optional, in place of rotations: angle between two allowed turns
grain           optional: direction in degrees that runs along the grain of the sheet
flip            optional: ``yes`` if the part may lie face down
priority        optional: parts with a higher number are placed first
filler          optional: ``yes`` if the part only fills room that is left
due             optional: day it is due, as ``2030-05-01``; earlier ones are placed first
most_per_sheet  optional: how many may lie on one sheet
kit             optional: assembly that the part belongs to
apart           optional: parts that never lie on the same sheet, with ``;``, ``,`` or ``|`` between
need            optional: what a filler is worth for its area
joints          optional: what is held by joints: ``none``, ``tipping`` or ``all``
critical        optional: edges without joints, with ``;``, ``,`` or ``|`` between
common_lines    optional: ``yes`` if its pieces may share the cut between them
orders          optional: who wants them, such as ``4711/10 = 5 @ 2030-05-01; 4712/10 = 2``
units           optional: unit of the drawing, whatever it says; a caution tells if it says another
==============  ===========================================================================

Empty cells mean the default. Numbers may have a decimal comma.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

from pydantic import Field

from nestlib.errors import JobError, Problem
from nestlib.jobs.cells import BadCell, Cell, Row, read_rows
from nestlib.jobs.entries import MOST, LookUps, PartEntry, PartLine, repeated
from nestlib.suggesting import did_you_mean
from nestlib.validation import Location, validate

_ALIASES = {"file": "drawing", "qty": "quantity"}
_WHOLE = ("quantity", "index", "priority", "most_per_sheet")
_REAL = ("step", "grain", "need")
_YES_NO = ("flip", "filler", "common_lines")
_WORDS = {"yes": True, "y": True, "true": True, "x": True, "1": True}
_WORDS |= {"no": False, "n": False, "false": False, "0": False, "-": False}


class ListedPart(PartEntry):
    """A row of a part list: here the quantity must be said."""

    quantity: int = Field(ge=1, le=MOST, description="how many are wanted, for example 12")


def read_part_list(path: str | Path, look_ups: LookUps | None = None) -> list[PartLine]:
    """Return the rows of a part list.

    Parameters
    ----------
    path : str or Path
        CSV or XLSX, as described above.
    look_ups : LookUps, optional
        How to check names that other packages know; the file's folder by default.

    Raises
    ------
    JobError
        With every problem of the list, each with its row and column.
    """
    file = str(path)
    look_ups = look_ups or LookUps(Path(path).parent)
    found = read_rows(path, lambda title: _column(title) in _columns())
    if not found:
        raise JobError(Problem(file, "", "the list is empty", "Check that it was saved"))
    head, *rows = found
    columns, problems = _titles(file, head)
    if not rows:
        remedy = "Add a row for each part below the titles"
        problems.append(Problem(file, "", "the list has no parts", remedy))
    if problems:
        raise JobError(problems)
    lines: list[PartLine] = []
    for row in rows:
        try:
            lines.append(_line(file, row, columns, look_ups))
        except JobError as error:
            problems += error.problems
    problems += repeated(lines)
    if problems:
        raise JobError(problems)
    return lines


def _columns() -> list[str]:
    return ["part", *_ALIASES, *PartEntry.model_fields]


def _column(title: Cell) -> str:
    return re.sub(r"[\s-]+", "_", str(title or "").strip().lower())


def _titles(file: str, head: Row) -> tuple[list[str], list[Problem]]:
    """Fields that the columns stand for, and what is wrong with their titles."""
    titles = [_ALIASES.get(_column(cell), _column(cell)) for cell in head.cells]
    part = "name" if "drawing" in titles else "drawing"
    titles = [part if title == "part" else title for title in titles]
    place = f"row {head.number}"
    problems = []
    for title, cell in zip(titles, head.cells, strict=True):
        if title and title not in PartEntry.model_fields:
            remedy = did_you_mean(title, PartEntry.model_fields)
            problems.append(Problem(file, place, f'unknown column "{cell}"', remedy))
    for title in dict.fromkeys(titles):
        if title and titles.count(title) > 1:
            problem = f'there are {titles.count(title)} columns for "{title}"'
            problems.append(Problem(file, place, problem, "Keep one of them"))
    for title in ("drawing", "quantity"):
        if title not in titles:
            remedy = "The first row holds the titles of the columns; add it"
            problems.append(Problem(file, place, f'there is no column "{title}"', remedy))
    return titles, problems


def _line(file: str, row: Row, columns: list[str], look_ups: LookUps) -> PartLine:
    """Turn a row into an entry, or raise `JobError` with all that is wrong with it."""
    place = _placing(row, columns)
    stray = next(
        (i for i, c in enumerate(row.cells) if not _blank(c) and not _in(columns, i)), None
    )
    if stray is not None:
        remedy = "Give the column a title, or put a cell that holds the delimiter in quotes"
        problem = f"cell {stray + 1} of the row stands under no title"
        raise JobError(Problem(file, f"row {row.number}", problem, remedy))
    pairs = {c: v for c, v in zip(columns, row.cells, strict=False) if c and not _blank(v)}
    bad = {c: v for c, v in pairs.items() if isinstance(v, BadCell)}
    problems = [Problem(file, place((c,)), v.problem, v.remedy) for c, v in bad.items()]
    raw = {c: _value(c, v) for c, v in pairs.items() if c not in bad}
    try:
        entry = validate(ListedPart, raw, file, place, look_ups)
    except JobError as error:
        known = {p.place for p in problems}
        problems += [p for p in error.problems if p.place not in known]
    if problems:
        raise JobError(problems)
    return PartLine(entry, file, lambda key: place((key,)))


def _blank(cell: Cell) -> bool:
    return cell is None or cell == ""


def _in(columns: list[str], index: int) -> bool:
    return index < len(columns) and bool(columns[index])


def _placing(row: Row, columns: list[str]) -> Callable[[Location], str]:
    def place(location: Location) -> str:
        column = str(location[0]) if location else ""
        if not column:
            return f"row {row.number}"
        letter = _letter(columns.index(column)) if column in columns and row.workbook else ""
        cell = f" (cell {letter}{row.number})" if letter else ""
        return f"row {row.number}, column {column}{cell}"

    return place


def _letter(index: int) -> str:
    """Letter of a column, counted from 0.

    Examples
    --------
    >>> _letter(0), _letter(27)
    ('A', 'AB')
    """
    return (_letter(index // 26 - 1) if index >= 26 else "") + chr(ord("A") + index % 26)


def _value(column: str, cell: Cell) -> Any:
    """What a cell means; what cannot be understood is left for the validator to refuse."""
    if column in _YES_NO:
        return _WORDS.get(_plain(cell).lower(), cell)
    if column in _WHOLE:
        text = _plain(cell)
        return int(text) if re.fullmatch(r"[+-]?\d{1,15}", text) else cell
    if column in _REAL:
        text = _plain(cell).replace(",", ".")
        return float(text) if re.fullmatch(r"[+-]?(\d+\.?\d*|\.\d+)", text) else cell
    if column in ("apart", "critical"):
        return [name for name in re.split(r"\s*[;,|]\s*", _plain(cell)) if name]
    return cell if column == "rotations" else _plain(cell)


def _plain(cell: Cell) -> str:
    """Text of a cell; a whole number has no decimals, whatever the spreadsheet thinks."""
    if isinstance(cell, float) and cell.is_integer():
        return str(int(cell))
    text = str(cell)
    return re.sub(r"[.,]0$", "", text) if re.fullmatch(r"[+-]?\d+[.,]0", text) else text
