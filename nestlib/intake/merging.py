"""From rows to jobs: what comes twice counts once, equal parts become one, by metal and
thickness.

- Rows that name the same order line and say the same are one row, exported twice.
- Rows that name the same order line and say different things: the first counts, the others
  are set aside.
- Equal part, drawing, kit and priority in the same metal and thickness: one part, with the
  sum of the quantities, due when the first of its order lines is.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path

from nestlib.intake.lines import Wanted


@dataclass(frozen=True)
class MergedPart:
    """One part of a job, and the rows that want it.

    Parameters
    ----------
    part, kit : str
        Part number; assembly.
    drawing : Path
        Its drawing.
    priority : int
        As in job files.
    rows : tuple of Wanted
        In the order of the export.
    """

    part: str
    drawing: Path
    kit: str
    priority: int
    rows: tuple[Wanted, ...]

    @property
    def quantity(self) -> int:
        """Pieces of all rows."""
        return sum(row.quantity for row in self.rows)

    @property
    def due(self) -> date | None:
        """The earliest day on which one of the rows is due."""
        return min((row.due for row in self.rows if row.due), default=None)


@dataclass(frozen=True)
class MergedJob:
    """All parts of one metal in one thickness.

    Parameters
    ----------
    metal, thickness : str
        As job files write them; the thickness as its first row does.
    mm : float
        Thickness in mm.
    parts : tuple of MergedPart
        In the order of the export.
    """

    metal: str
    thickness: str
    mm: float
    parts: tuple[MergedPart, ...]


def each_line_once(
    rows: Iterable[Wanted],
) -> tuple[list[Wanted], list[Wanted], list[tuple[Wanted, str]]]:
    """Return rows that count, rows that only say the same again, and rows that contradict.

    Returns
    -------
    once, again, contradicting : list
        The last ones with the reason in plain words.
    """
    first: dict[str, Wanted] = {}
    once, again = list[Wanted](), list[Wanted]()
    contradicting = list[tuple[Wanted, str]]()
    for row in rows:
        known = first.setdefault(row.line, row)
        if known is row:
            once.append(row)
        elif replace(row, row=known.row) == known:
            again.append(row)
        else:
            differs = ", ".join(_differences(known, row))
            reason = f"order line {row.line} stands in row {known.row} with another {differs}"
            contradicting.append((row, reason))
    return once, again, contradicting


def by_metal(rows: Iterable[Wanted]) -> list[MergedJob]:
    """Return the jobs, sorted by metal and thickness."""
    groups: dict[tuple[str, float], list[Wanted]] = {}
    for row in rows:
        groups.setdefault((row.metal, row.mm), []).append(row)
    return [
        MergedJob(metal, some[0].thickness, mm, tuple(_parts(some)))
        for (metal, mm), some in sorted(groups.items())
    ]


def _parts(rows: Iterable[Wanted]) -> list[MergedPart]:
    equal: dict[tuple[str, Path, str, int], list[Wanted]] = {}
    for row in rows:
        equal.setdefault((row.part, row.drawing, row.kit, row.priority), []).append(row)
    return [
        MergedPart(part, drawing, kit, priority, tuple(some))
        for (part, drawing, kit, priority), some in equal.items()
    ]


def _differences(one: Wanted, other: Wanted) -> list[str]:
    named = ("part", "quantity", "metal", "thickness", "drawing", "due", "kit", "priority")
    return [name for name in named if getattr(one, name) != getattr(other, name)]
