"""Lists for the office: ``parts.csv``, ``sheets.csv`` and ``remnants.csv``.

Each table is a mapping from the head of a column to the function that fills it.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Callable, Iterable, Mapping, Sequence
from pathlib import Path
from typing import TypeVar

from nestlib.model.layout import Layout, Remnant
from nestlib.model.part import Part
from nestlib.model.plan import Plan
from nestlib.writing.failures import write_text

Cell = str | int | float | bool | None
T = TypeVar("T")

PartRow = tuple[Plan, Part]
LayoutRow = tuple[Plan, Layout, str]
RemnantRow = tuple[Plan, Layout, str, Remnant]

PARTS: Mapping[str, Callable[[PartRow], Cell]] = {
    "part": lambda r: r[1].name,
    "quantity": lambda r: r[1].quantity,
    "placed": lambda r: r[0].placed[r[1].name],
    "missing": lambda r: sum(u.quantity for u in r[0].unplaced if u.part == r[1].name),
    "width_mm": lambda r: r[1].size[0],
    "height_mm": lambda r: r[1].size[1],
    "area_mm2": lambda r: r[1].area,
    "weight_kg": lambda r: r[0].job.metal.weight(r[1].area),
    "cut_length_mm": lambda r: r[1].cut_length,
    "pierces": lambda r: r[1].pierces,
    "rotations": lambda r: _turns(r[1].rotations),
    "flip": lambda r: r[1].flip,
    "grain": lambda r: r[1].grain,
    "priority": lambda r: r[1].priority,
    "filler": lambda r: r[1].filler,
    "need": lambda r: r[1].need if r[1].filler else None,
    "due": lambda r: None if r[1].due is None else r[1].due.isoformat(),
    "last_layout": lambda r: max(r[0].layouts_with(r[1].name), default=None),
    "most_per_sheet": lambda r: r[1].most_per_sheet,
    "apart": lambda r: "; ".join(r[1].apart),
    "kit": lambda r: r[1].kit,
    "drawing": lambda r: r[1].source.file if r[1].source else None,
}

SHEETS: Mapping[str, Callable[[LayoutRow], Cell]] = {
    "layout": lambda r: r[2],
    "sheet": lambda r: r[1].sheet.name,
    "runs": lambda r: r[1].runs,
    "pieces": lambda r: len(r[1].placements),
    "width_mm": lambda r: r[1].sheet.size[0],
    "height_mm": lambda r: r[1].sheet.size[1],
    "area_mm2": lambda r: r[1].sheet.area,
    "utilisation": lambda r: _utilisation(r[0], r[1]),
    "cut_length_mm": lambda r: r[1].path.cut_length,
    "mark_length_mm": lambda r: r[1].path.mark_length,
    "rapid_length_mm": lambda r: r[1].path.rapid_length,
    "pierces": lambda r: r[1].path.pierces,
    "cost_each": lambda r: r[1].sheet.cost,
    "remnant": lambda r: r[1].sheet.remnant,
    "heat": lambda r: r[1].sheet.heat,
}

REMNANTS: Mapping[str, Callable[[RemnantRow], Cell]] = {
    "remnant": lambda r: r[3].name,
    "layout": lambda r: r[2],
    "sheet": lambda r: r[1].sheet.name,
    "runs": lambda r: r[1].runs,
    "width_mm": lambda r: r[3].outline.bounds[2] - r[3].outline.bounds[0],
    "height_mm": lambda r: r[3].outline.bounds[3] - r[3].outline.bounds[1],
    "area_mm2": lambda r: r[3].area,
    "weight_kg": lambda r: r[0].job.metal.weight(r[3].area),
    "heat": lambda r: r[1].sheet.heat,
}

#: Decimals by the end of a column's name: people read these, and plan.json has every digit.
_DECIMALS = {"_mm": 3, "_mm2": 3, "_kg": 3, "utilisation": 4}


def write_tables(plan: Plan, folder: str | Path, files: Sequence[str] | None = None) -> None:
    """Write ``parts.csv``, ``sheets.csv`` and ``remnants.csv``.

    UTF-8, commas, decimal points; a text that a spreadsheet would take for a formula
    begins with an apostrophe.

    Parameters
    ----------
    plan : Plan
        What to list.
    folder : str or Path
        Where to; the files are replaced if they exist.
    files : sequence of str, optional
        Name of the DXF file of each layout; those of `layout_files` by default.

    Raises
    ------
    OutputError
        If a file cannot be written.
    """
    names = layout_files(plan) if files is None else files
    layouts = [(plan, lay, file) for lay, file in zip(plan.layouts, names, strict=True)]
    remnants = [(*row, remnant) for row in layouts for remnant in row[1].remnants]
    write_text(Path(folder) / "parts.csv", csv_text(PARTS, [(plan, p) for p in plan.job.parts]))
    write_text(Path(folder) / "sheets.csv", csv_text(SHEETS, layouts))
    write_text(Path(folder) / "remnants.csv", csv_text(REMNANTS, remnants))


def layout_files(plan: Plan) -> list[str]:
    """Return the usual name of the DXF file of each layout: ``sheet-001.dxf`` and so on."""
    return [f"sheet-{n:03d}.dxf" for n in range(1, len(plan.layouts) + 1)]


def csv_text(columns: Mapping[str, Callable[[T], Cell]], rows: Iterable[T]) -> str:
    """Return a table as CSV text (RFC 4180), safe to open in a spreadsheet.

    Parameters
    ----------
    columns : mapping of str to callable
        Head of each column and what it takes from a row.
    rows : iterable
        What the columns are taken from.

    Returns
    -------
    str

    Examples
    --------
    >>> csv_text({"n": lambda n: n, "text": lambda n: "=" * n}, [1])
    "n,text\\r\\n1,'=\\r\\n"
    """
    text = io.StringIO()
    writer = csv.writer(text)
    writer.writerow(columns)
    writer.writerows(
        [_spelt(_rounded(name, cell(row))) for name, cell in columns.items()] for row in rows
    )
    return text.getvalue()


def _rounded(column: str, cell: Cell) -> Cell:
    decimals = next((n for end, n in _DECIMALS.items() if column.endswith(end)), None)
    return cell if decimals is None or not isinstance(cell, float) else round(cell, decimals)


def _spelt(cell: Cell) -> str:
    """A cell's text, formulas disarmed."""
    if cell is None:
        return ""
    if isinstance(cell, bool):
        return "yes" if cell else "no"
    if isinstance(cell, str):
        return f"'{cell}" if cell.startswith(("=", "+", "-", "@", "\t", "\r")) else cell
    return repr(float(cell)) if isinstance(cell, float) else str(cell)


def _turns(rotations: Sequence[float] | None) -> str:
    return "any" if rotations is None else " ".join(f"{r:g}" for r in rotations)


def _utilisation(plan: Plan, layout: Layout) -> float:
    area = {p.name: p.area for p in plan.job.parts}
    return sum(area[name] * n for name, n in layout.counts.items()) / layout.sheet.area
