"""The cells of a CSV file or of a workbook, whatever their encoding and delimiter."""

from __future__ import annotations

import codecs
import csv
import io
import re
import warnings
import zipfile
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import datetime, time
from pathlib import Path

from nestlib.errors import JobError, Problem
from nestlib.input_files import read_bytes

_ZIP = b"PK\x03\x04"
_OLE = b"\xd0\xcf\x11\xe0"
_DELIMITERS = (";", "\t", ",")
#: Larger workbooks are refused, unpacked, in bytes: a small file can hold a flood.
_LARGEST = 200_000_000
_RESAVE = "Open it in a spreadsheet program and save it again as XLSX or CSV"


@dataclass(frozen=True)
class BadCell:
    """A cell whose value cannot be used.

    Parameters
    ----------
    problem, remedy : str
        What is wrong with it and what to do.
    """

    problem: str
    remedy: str


Cell = str | int | float | bool | BadCell | None


@dataclass(frozen=True)
class Row:
    """One row that is not blank.

    Parameters
    ----------
    number : int
        Counted from 1, as a spreadsheet program or an editor counts.
    cells : tuple
        From left to right.
    workbook : bool
        Whether it comes from a workbook, where cells have names such as ``C4``.
    """

    number: int
    cells: tuple[Cell, ...]
    workbook: bool = False


def read_rows(path: str | Path, known: Callable[[str], bool]) -> list[Row]:
    """Return the rows of a list that are not blank.

    What the file is shows in its content, not in its name. The first worksheet counts.

    Parameters
    ----------
    path : str or Path
        A CSV file (UTF-8, UTF-16 or Windows-1252; separated by semicolons, tabs or
        commas) or an XLSX workbook.
    known : callable
        Whether a text is the title of a column; the delimiter is the one with which
        most titles in the first row are.

    Raises
    ------
    JobError
        If the file cannot be read as a list.
    """
    data = read_bytes(path)
    if data.startswith(_OLE):
        problem = "this is a workbook in an old form, or one with a password"
        raise JobError(Problem(str(path), "", problem, _RESAVE))
    if data.startswith(_ZIP):
        rows = list(_workbook_rows(str(path), data))
    elif Path(path).suffix.lower() in (".xlsx", ".xlsm"):
        raise JobError(Problem(str(path), "", "this is not a workbook", _RESAVE))
    else:
        rows = list(_text_rows(str(path), decoded(str(path), data), known))
    return [row for row in rows if any(c not in (None, "") for c in row.cells)]


def decoded(file: str, data: bytes) -> str:
    """Return the text of a file in UTF-8, UTF-16 or Windows-1252.

    Raises
    ------
    JobError
        If it is none of them.

    Examples
    --------
    >>> decoded("", "Größe".encode("cp1252")), decoded("", "Größe".encode("utf-16"))
    ('Größe', 'Größe')
    """
    encodings = ["utf-8-sig", "cp1252"]
    if data.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        encodings = ["utf-16"]
    elif b"\0" in data[:200]:
        encodings = ["utf-16-le" if data[1:2] == b"\0" else "utf-16-be"]
    for encoding in encodings:
        try:
            text = data.decode(encoding)
        except UnicodeDecodeError:
            continue
        if "\0" not in text:
            return text
    raise JobError(Problem(file, "", "this is neither a text nor a workbook", _RESAVE))


def _text_rows(file: str, text: str, known: Callable[[str], bool]) -> Iterator[Row]:
    lines = text.splitlines()
    first = next((line for line in lines if line.strip()), "")
    reader = csv.reader(
        io.StringIO(text, newline=""), delimiter=_delimiter(first, known), strict=True
    )
    number = 1
    try:
        for cells in reader:
            yield Row(number, tuple(cell.strip() for cell in cells))
            number = reader.line_num + 1
    except csv.Error as error:
        remedy = 'A cell that holds the delimiter or a line break stands in "quotes"'
        problem = f"the row cannot be split into cells ({error})"
        raise JobError(Problem(file, f"row {number}", problem, remedy)) from None


def _delimiter(line: str, known: Callable[[str], bool]) -> str:
    def titles(delimiter: str) -> int:
        return sum(known(cell.strip().strip('"')) for cell in line.split(delimiter))

    return max(_DELIMITERS, key=lambda d: (titles(d), line.count(d)))


def _workbook_rows(file: str, data: bytes) -> Iterator[Row]:
    import openpyxl

    _refuse_flood(file, data)
    try:
        with warnings.catch_warnings():
            # It warns of decorations that it does not know; they do not matter here.
            warnings.simplefilter("ignore")
            worked_out = openpyxl.load_workbook(io.BytesIO(data), data_only=True).worksheets[0]
            said = worked_out  # reading a workbook takes long, so only once if that tells all
            if _has_formulas(data):
                said = openpyxl.load_workbook(io.BytesIO(data)).worksheets[0]
    except Exception as error:  # a damaged workbook makes it raise whatever it meets first
        problem = f"the workbook cannot be read ({type(error).__name__})"
        raise JobError(Problem(file, "", problem, _RESAVE)) from None
    for row, values in zip(said.iter_rows(), worked_out.iter_rows(values_only=True), strict=True):
        cells = tuple(
            _cell(cell.data_type, cell.value, value)
            for cell, value in zip(row, values, strict=True)
        )
        yield Row(row[0].row, cells, workbook=True)


def _has_formulas(data: bytes) -> bool:
    archive = zipfile.ZipFile(io.BytesIO(data))
    sheets = (name for name in archive.namelist() if name.startswith("xl/worksheets/"))
    # The tag may have a prefix: <f>, <f t="shared" ...>, <x:f>.
    return any(re.search(rb"<(\w+:)?f[\s/>]", archive.read(name)) for name in sheets)


def _refuse_flood(file: str, data: bytes) -> None:
    try:
        size = sum(entry.file_size for entry in zipfile.ZipFile(io.BytesIO(data)).infolist())
    except zipfile.BadZipFile:
        return  # the reader says so in its own way
    if size > _LARGEST:
        limit = f"{_LARGEST // 1_000_000} MB is the limit"
        problem = f"the workbook unpacks to {size // 1_000_000} MB, and {limit}"
        raise JobError(Problem(file, "", problem, "Save the list alone in a new workbook"))


def _cell(kind: str, said: object, value: object) -> Cell:
    """Value of a cell: of a formula, the result that was saved with it."""
    if kind == "f" and value is None:
        return BadCell(
            f"the formula {said} was saved without its result",
            "Open and save the workbook in a spreadsheet program, or type the value",
        )
    if kind == "e" or (isinstance(value, str) and kind == "f" and value.startswith("#")):
        return BadCell(f"the cell shows the error {value}", "Correct the formula or the value")
    if isinstance(value, str):
        return value.strip()
    if isinstance(value, datetime):
        return value.date().isoformat() if value.time() == time() else str(value)
    if value is None or isinstance(value, bool | int | float):
        return value
    return str(value)
