"""One row of an export: what it wants, or why it cannot be taken."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path
from typing import Any

from nestlib.errors import InputError
from nestlib.intake.days import parse_day
from nestlib.intake.finding import DrawingIndex, find_drawing
from nestlib.intake.mapping import Mapping as IntakeMapping
from nestlib.intake.numbers import may_be_either, parse_quantity
from nestlib.intake.sizes import millimetres, split_metal, written_thickness
from nestlib.jobs.cells import BadCell, Cell, Row
from nestlib.jobs.entries import MOST
from nestlib.jobs.orders import orders_cell, orders_of
from nestlib.metals import material


@dataclass(frozen=True)
class Wanted:
    """What a row wants.

    Parameters
    ----------
    row : int
        Number of the row.
    line : str
        How the order names it; ``"row 12"`` if the export has no such column.
    part : str
        Part number.
    quantity : int
        How many.
    metal : str
        One of the materials.
    thickness : str
        As job files write it, for example ``"16 ga"``.
    mm : float
        The same in mm, to a ten-thousandth.
    drawing : Path
        Its drawing.
    due : datetime.date, or None
        When.
    kit : str
        Assembly; empty if none.
    priority : int
        0 if none.
    written : str
        The quantity as the export writes it, if another decimal sign would make it another
        number; empty otherwise.
    """

    row: int
    line: str
    part: str
    quantity: int
    metal: str
    thickness: str
    mm: float
    drawing: Path
    due: date | None = None
    kit: str = ""
    priority: int = 0
    written: str = field(default="", compare=False)


class RowError(Exception):
    """A row cannot be taken; the message says why in plain words."""


class RowReader:
    """Reads rows as a mapping says.

    Parameters
    ----------
    mapping : Mapping
        What the columns mean.
    titles : tuple of str
        Titles of the columns, from left to right.
    index : DrawingIndex
        The drawings that there are.
    """

    def __init__(
        self, mapping: IntakeMapping, titles: tuple[str, ...], index: DrawingIndex
    ) -> None:
        self._mapping, self._table = mapping, mapping.table
        self._at = {title: i for i, title in reversed(list(enumerate(titles))) if title}
        self._titles, self._index = titles, index

    def read(self, row: Row) -> Wanted:
        """Return what a row wants.

        Raises
        ------
        RowError
            With everything that is wrong with it.
        """
        cells = _Cells(row, self._at)
        columns = self._table.columns
        wrong: list[str] = []
        part = cells.text(columns.part)
        if not part:
            wrong.append(f'"{columns.part}" is empty')
        values: dict[str, Any] = {
            name: _noted(wrong, read)
            for name, read in (
                ("quantity", lambda: self._quantity(cells)),
                ("metal", lambda: self._metal(cells)),
                ("drawing", lambda: self._drawing(cells)),
                ("due", lambda: self._due(cells)),
                ("priority", lambda: self._priority(cells)),
                ("line", lambda: self._line(cells, row)),
            )
        }
        if wrong:
            raise RowError("; ".join(wrong))
        metal, thickness, mm = values.pop("metal")
        values["kit"], cell = cells.text(columns.kit), cells.cell(columns.quantity)
        if may_be_either(cell, self._table.file.decimal):
            values["written"] = _text(cell)
        return Wanted(row.number, part=part, metal=metal, thickness=thickness, mm=mm, **values)

    def named(self, row: Row) -> dict[str, Any]:
        """Return line, part and quantity of a row as far as they can be read, None otherwise."""
        cells, wrong = _Cells(row, self._at), list[str]()
        columns = self._table.columns
        return {
            "line": _noted(wrong, lambda: self._line(cells, row)) if columns.line else None,
            "part": _noted(wrong, lambda: cells.text(columns.part)) or None,
            "quantity": _noted(wrong, lambda: self._quantity(cells)),
        }

    def is_titles(self, row: Row) -> bool:
        """Return whether a row is the titles once more, as on the next page of a print."""
        named = self._table.columns.titles
        return all(_text(_cell(row, self._at[t])) == t for t in named if t in self._at)

    def _line(self, cells: _Cells, row: Row) -> str:
        titles = self._table.columns.line
        if not titles:
            return f"row {row.number}"
        texts = [cells.text(title) for title in titles]
        if not all(texts):
            raise RowError(f'"{titles[texts.index("")]}" is empty')
        line = "/".join(texts)
        if orders_of(orders_cell([(line, 1, None)])) != [{"line": line, "quantity": 1}]:
            raise RowError(f'order line "{line}" holds signs that part lists use themselves')
        return line

    def _quantity(self, cells: _Cells) -> int:
        title = self._table.columns.quantity
        try:
            quantity = parse_quantity(cells.cell(title), self._table.file.decimal)
        except ValueError as error:
            raise RowError(f"{title}: {error}") from None
        if quantity > MOST:
            raise RowError(f"{title}: {quantity} is more than {MOST}")
        return quantity

    def _metal(self, cells: _Cells) -> tuple[str, str, float]:
        columns = self._table.columns
        text = cells.text(columns.metal)
        size: Cell = cells.cell(columns.thickness) if columns.thickness else None
        if size in (None, ""):
            text, size = split_metal(text)
        if not text:
            raise RowError(f'"{columns.metal}" is empty')
        name = self._mapping.metal(text)
        if not name:
            raise RowError(f'metal "{text}" does not stand under [metals] in the mapping')
        if size in (None, ""):
            raise RowError(f'no thickness is said for "{text}"')
        try:
            thickness = written_thickness(size, self._table.thickness.unit)
            return name, thickness, millimetres(thickness, material(name).gauge)
        except ValueError:
            raise RowError(f'"{size}" is not a thickness') from None
        except InputError as error:
            raise RowError(str(error).rstrip(".")) from None

    def _drawing(self, cells: _Cells) -> Path:
        columns = self._table.columns
        named = {"part": columns.part, "drawing": columns.drawing, "kit": columns.kit}
        try:
            return find_drawing(
                self._index,
                self._table.drawings.patterns,
                lambda name: cells.text(named.get(name, name)),
            )
        except ValueError as error:
            raise RowError(str(error)) from None

    def _due(self, cells: _Cells) -> date | None:
        title = self._table.columns.due
        cell = cells.cell(title) if title else None
        if cell in (None, ""):
            return None
        try:
            return parse_day(cell, self._table.file.days)
        except ValueError:
            raise RowError(f'{title}: "{cell}" is no day ({self._table.file.days})') from None

    def _priority(self, cells: _Cells) -> int:
        text = cells.text(self._table.columns.priority)
        if not text:
            return 0
        try:
            number = int(text)
        except ValueError:
            raise RowError(f'priority "{text}" is no whole number') from None
        if abs(number) > 1000:
            raise RowError(f"priority {number} lies beyond 1000")
        return number


@dataclass(frozen=True)
class _Cells:
    """Cells of a row by the titles of their columns."""

    row: Row
    at: Mapping[str, int]

    def cell(self, title: str) -> Cell:
        cell = _cell(self.row, self.at[title]) if title in self.at else None
        if isinstance(cell, BadCell):
            raise RowError(f'"{title}": {cell.problem}')
        return cell

    def text(self, title: str) -> str:
        return _text(self.cell(title)) if title else ""


def _cell(row: Row, index: int) -> Cell:
    return row.cells[index] if index < len(row.cells) else None


def _text(cell: Cell) -> str:
    """Text of a cell on one line; a whole number has no decimals."""
    if isinstance(cell, float) and cell.is_integer():
        return str(int(cell))
    return "" if cell is None else " ".join(str(cell).split())


def _noted(wrong: list[str], read: Callable[[], object]) -> object:
    """What is read; None, and why, if it cannot be."""
    try:
        return read()
    except RowError as error:
        if str(error) not in wrong:
            wrong.append(str(error))
        return None


def texts_of(row: Row) -> Iterator[str]:
    """Return the texts of a row, as they stand in the file of rows set aside."""
    for cell in row.cells:
        yield cell.problem if isinstance(cell, BadCell) else _text(cell)
