"""An export as rows of cells, whatever kind of file it is."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from nestlib.errors import JobError, Problem
from nestlib.input_files import read_bytes
from nestlib.intake.texts import decoded, guess_delimiter, guess_encoding, split_rows
from nestlib.jobs.cells import BadCell, Cell, Row, read_rows

_WORKBOOK = (b"PK\x03\x04", b"\xd0\xcf\x11\xe0")


@dataclass(frozen=True)
class Export:
    """Rows of an export that are not blank.

    Parameters
    ----------
    file : str
        Path as the user gave it.
    data : bytes
        What is in the file.
    kind : str
        ``"text"``, ``"workbook"`` or ``"lines"`` (JSON).
    rows : tuple of Row
        With their numbers, counted from 1. Of JSON lines the first holds the keys.
    encoding, delimiter : str
        Of a text; empty for the others.
    """

    file: str
    data: bytes
    kind: str
    rows: tuple[Row, ...]
    encoding: str = ""
    delimiter: str = ""


def read_export(path: str | Path, encoding: str = "", delimiter: str = "") -> Export:
    """Read a CSV file, a workbook (first worksheet) or JSON lines.

    What the file is shows in its content, not in its name.

    Parameters
    ----------
    path : str or Path
        The export.
    encoding, delimiter : str
        Of a text; told from the content if empty.

    Raises
    ------
    JobError
        If it cannot be read, or is empty.
    """
    file, data = str(path), read_bytes(path)
    if data.startswith(_WORKBOOK) or Path(path).suffix.lower() in (".xlsx", ".xlsm"):
        return Export(file, data, "workbook", tuple(read_rows(path, lambda _: False)))
    encoding = encoding or guess_encoding(data)
    text = decoded(file, data, encoding)
    if text.lstrip().startswith("{"):
        return Export(file, data, "lines", tuple(_json_rows(file, text)), encoding)
    delimiter = delimiter or guess_delimiter(text)
    rows = [Row(number, cells) for number, cells in split_rows(file, text, delimiter)]
    return Export(file, data, "text", tuple(r for r in rows if any(r.cells)), encoding, delimiter)


def _json_rows(file: str, text: str) -> list[Row]:
    """Turn JSON lines into a table: a column for each key, in the order of their first use."""
    records = [
        (number, _record(file, number, line))
        for number, line in enumerate(text.splitlines(), start=1)
        if line.strip()
    ]
    keys = list(dict.fromkeys(key for _, record in records for key in record))
    rows = [Row(n, tuple(record.get(key) for key in keys)) for n, record in records]
    return [Row(0, tuple(keys)), *rows]


def _record(file: str, number: int, line: str) -> dict[str, Cell]:
    """Cells of one line by their keys; tables in it are spread out as ``key.key``."""
    try:
        found = json.loads(line)
    except (ValueError, RecursionError):
        found = None
    if not isinstance(found, dict):
        remedy = 'Each line is one record, such as {"part": "A-1", "quantity": 2}'
        raise JobError(Problem(file, f"line {number}", "this is no record of JSON lines", remedy))
    return dict(_spread(found))


def _spread(record: Mapping[str, object], before: str = "") -> list[tuple[str, Cell]]:
    cells: list[tuple[str, Cell]] = []
    for key, value in record.items():
        if isinstance(value, dict):
            cells += _spread(value, f"{before}{key}.")
        elif value is None or isinstance(value, str | int | float | bool):
            cells.append((before + key, value.strip() if isinstance(value, str) else value))
        else:
            cells.append((before + key, BadCell("a list stands here", "Give one value")))
    return cells
