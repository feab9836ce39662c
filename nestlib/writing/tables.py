"""Lists for the office: ``parts.csv``, ``sheets.csv``, ``remnants.csv``, and the cuts of each
layout: ``path-001.csv`` and so on.

Each table is a mapping from the head of a column to the function that fills it.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Callable, Iterable, Mapping, Sequence
from pathlib import Path
from typing import TypeVar

from nestlib.model.layout import Cut, Layout, Remnant
from nestlib.model.part import Part
from nestlib.model.plan import Plan
from nestlib.model.work import Cost, Effort, Work
from nestlib.writing.failures import write_text

Cell = str | int | float | bool | None
T = TypeVar("T")

PartRow = tuple[Plan, Part]
LayoutRow = tuple[Plan, Layout, str, int]
RemnantRow = tuple[Plan, Layout, str, Remnant]
CutRow = tuple[Plan, Layout, int, Cut, Effort | None]

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
    "orders": lambda r: "; ".join(f"{o.line} = {o.quantity}" for o in r[1].orders),
    "drawing": lambda r: r[1].source.file if r[1].source else None,
    "cut_s": lambda r: _figure(r[0].work and r[0].work.parts[r[1].name], "cutting"),
    "mark_s": lambda r: _figure(r[0].work and r[0].work.parts[r[1].name], "marking"),
    "pierce_s": lambda r: _figure(r[0].work and r[0].work.parts[r[1].name], "piercing"),
    "gas_m3": lambda r: _figure(r[0].work and r[0].work.parts[r[1].name], "gas"),
    "cost": lambda r: _figure(r[0].work and r[0].work.part_costs[r[1].name], "amount"),
    "cost_each": lambda r: _each(r),
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
    "item": lambda r: r[1].sheet.item,
    "seconds": lambda r: _figure(r[0].work and r[0].work.layouts[r[3]], "seconds"),
    "cut_s": lambda r: _figure(r[0].work and r[0].work.layouts[r[3]], "cutting"),
    "pierce_s": lambda r: _figure(r[0].work and r[0].work.layouts[r[3]], "piercing"),
    "moving_s": lambda r: _figure(r[0].work and r[0].work.layouts[r[3]], "moving"),
    "gas_m3": lambda r: _figure(r[0].work and r[0].work.layouts[r[3]], "gas"),
    "cost_all_runs": lambda r: _figure(r[0].work and r[0].work.layout_costs[r[3]], "amount"),
    "shared_cuts": lambda r: r[1].path.shared,
    "saved_cut_mm": lambda r: _figure(r[0].saved(r[3]), "cut_length"),
    "saved_pierces": lambda r: _figure(r[0].saved(r[3]), "pierces"),
    "saved_s": lambda r: _figure(r[0].saved(r[3]), "seconds"),
    "skeleton_pieces": lambda r: len(r[1].path.skeleton) or None,
    "skeleton_heaviest_kg": lambda r: _heaviest(r[0], r[1]),
}

PATH: Mapping[str, Callable[[CutRow], Cell]] = {
    "order": lambda r: r[2],
    "part": lambda r: r[1].placements[r[3].placement].part if r[3].of_piece else None,
    "piece": lambda r: r[3].placement + 1 if r[3].of_piece else None,
    "contour": lambda r: r[3].index + 1,
    "kind": lambda r: r[3].role,
    "pierce_x_mm": lambda r: r[3].pierce[0],
    "pierce_y_mm": lambda r: r[3].pierce[1],
    "start_x_mm": lambda r: float(r[3].contour.points[0][0]),
    "start_y_mm": lambda r: float(r[3].contour.points[0][1]),
    "length_mm": lambda r: r[3].contour.length,
    "lead_mm": lambda r: r[3].lead_in.length if r[3].lead_in else 0.0,
    "lead_out_mm": lambda r: r[3].lead_out.length if r[3].lead_out else 0.0,
    "over_cut_mm": lambda r: r[3].over_cut,
    "end_gap_mm": lambda r: r[3].end_gap,
    "pierces": lambda r: _figure(r[4], "pierces"),
    "rapid_mm": lambda r: _figure(r[4], "rapid_length"),
    "moving_s": lambda r: _figure(r[4], "moving"),
    "beam_s": lambda r: _figure(r[4], "beam"),
    "gas_m3": lambda r: _figure(r[4], "gas"),
    "own_cost": lambda r: r[0].work.own_cost(r[4]) if r[0].work and r[4] else None,
    "sharing": lambda r: "; ".join(str(n + 1) for n in r[3].pieces),
    "wait_s": lambda r: r[3].wait,
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
_DECIMALS = {
    "_mm": 3, "_mm2": 3, "_kg": 3, "utilisation": 4, "_s": 3, "seconds": 3, "_m3": 6,
    "cost_each": 4, "own_cost": 4,
}  # fmt: skip


def write_tables(plan: Plan, folder: str | Path, files: Sequence[str] | None = None) -> None:
    """Write ``parts.csv``, ``sheets.csv``, ``remnants.csv`` and a ``path-NNN.csv`` a layout.

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
    numbered = enumerate(zip(plan.layouts, names, strict=True))
    layouts = [(plan, layout, file, number) for number, (layout, file) in numbered]
    remnants = [(*row[:3], remnant) for row in layouts for remnant in row[1].remnants]
    write_text(Path(folder) / "parts.csv", csv_text(PARTS, [(plan, p) for p in plan.job.parts]))
    write_text(Path(folder) / "sheets.csv", csv_text(SHEETS, layouts))
    write_text(Path(folder) / "remnants.csv", csv_text(REMNANTS, remnants))
    for number in range(len(plan.layouts)):
        path = Path(folder) / f"path-{number + 1:03d}.csv"
        write_text(path, csv_text(PATH, _cuts(plan, number)))


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


def _figure(of: Effort | Cost | Work | None, what: str) -> float | None:
    """A time, a volume or an amount; None if it was not worked out."""
    value: float | None = None if of is None else getattr(of, what)
    return value


def _each(row: PartRow) -> float | None:
    plan, part = row
    total = _figure(plan.work and plan.work.part_costs[part.name], "amount")
    return total / plan.placed[part.name] if total is not None and plan.placed[part.name] else None


def _cuts(plan: Plan, number: int) -> list[CutRow]:
    layout = plan.layouts[number]
    cuts = layout.path.cuts
    efforts = plan.work.cuts[number] if plan.work else [None] * len(cuts)
    rows = enumerate(zip(cuts, efforts, strict=True), start=1)
    return [(plan, layout, order, cut, effort) for order, (cut, effort) in rows]


def _heaviest(plan: Plan, layout: Layout) -> float | None:
    """Weight of the heaviest piece that the skeleton falls into."""
    areas = [piece.area for piece in layout.path.skeleton]
    return plan.job.metal.weight(max(areas)) if areas else None


def _utilisation(plan: Plan, layout: Layout) -> float:
    area = {p.name: p.area for p in plan.job.parts}
    return sum(area[name] * n for name, n in layout.counts.items()) / layout.sheet.area
