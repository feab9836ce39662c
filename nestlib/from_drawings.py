"""Parts and sheets from drawings, as the entries of a job ask for them."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from pathlib import Path

from shapely import make_valid

from nestlib.apart import kept_apart
from nestlib.drawings import read_drawing
from nestlib.drawings.rules import Rules
from nestlib.errors import DrawingError, JobError, Problem
from nestlib.gathering import Gathering
from nestlib.geometry import moved, region
from nestlib.jobs import PartEntry, PartLine, SheetEntry
from nestlib.model import Contour, Drawing, Finding, OrderLine, Part, Sheet


class Drawings:
    """Reads each drawing once, and gathers what is wrong with it.

    Parameters
    ----------
    units : str, or None
        Unit of drawings that give none.
    rules : Rules
        What is cut, etched and ignored.
    join : float
        Ends of lines closer than this are joined, in mm.
    gathering : Gathering
        Gets the problems.
    """

    def __init__(self, units: str | None, rules: Rules, join: float, gathering: Gathering) -> None:
        self._units = units
        self._rules = rules
        self._join = join
        self._gathering = gathering
        self._read: dict[tuple[Path, str | None], Drawing | None] = {}

    def read(self, path: Path, units: str | None) -> Drawing | None:
        """Return a drawing; None if it cannot be read, which is then gathered."""
        if (path, units) not in self._read:
            self._read[path, units] = None
            with self._gathering.going_on():
                self._read[path, units] = read_drawing(
                    path,
                    units=units,
                    fallback_units=self._units,
                    rules=self._rules,
                    join=self._join,
                )
        return self._read[path, units]

    @property
    def cautions(self) -> tuple[str, ...]:
        """What has to be told of drawings that can be cut: units other than the file's."""
        return tuple(
            f"{drawing.file}: {found.message}. {found.remedy}."
            for drawing in self._read.values()
            if drawing is not None
            for found in drawing.findings
            if found.code == "units-overruled"
        )

    def refuse(self, problems: Iterable[Problem]) -> None:
        """Gather what is wrong with a drawing."""
        self._gathering.add(DrawingError, problems)

    def refuse_entry(self, problem: Problem) -> None:
        """Gather what is wrong with what an entry asks of a drawing."""
        self._gathering.add(JobError, [problem])


def parts_of(lines: Sequence[PartLine], drawings: Drawings) -> tuple[Part, ...]:
    """Return the parts that entries ask for, each under a name of its own."""
    found = [(line, _parts_of(line, drawings)) for line in lines]
    names = iter(unique([part.name for _, parts in found for part in parts]))
    named = [(line, [replace(p, name=next(names)) for p in parts]) for line, parts in found]
    return kept_apart(named, drawings.refuse_entry)


def sheet_of(entry: SheetEntry, size: tuple[float, float]) -> Sheet:
    """Return a rectangular sheet, not yet named.

    Parameters
    ----------
    entry : SheetEntry
        What is said about it.
    size : (float, float)
        Length along x and along y, in mm.
    """
    return _sheet(entry, Contour.rectangle(*size), ())


def drawn_sheet(entry: SheetEntry, path: Path, drawings: Drawings, place: Problem) -> Sheet | None:
    """Return a sheet whose outline and holes are drawn, not yet named.

    Parameters
    ----------
    entry : SheetEntry
        What is said about it.
    path : Path
        Its drawing.
    drawings : Drawings
        Reads it.
    place : Problem
        Whose file and place say where the entry stands.

    Returns
    -------
    Sheet, or None
        None if the drawing is no sheet, which is then gathered.
    """
    drawing = drawings.read(path, entry.units)
    if drawing is None:
        return None
    drawings.refuse(errors_in(drawing, drawing.parts))
    if len(drawing.parts) == 1 and drawing.parts[0].quantity == 1:
        part = drawing.parts[0]
        return _sheet(entry, part.outer, part.inners)
    drawn = sum(part.quantity for part in drawing.parts)
    if drawn:
        problem = f"{path} shows {drawn} outlines, and a sheet has one"
        remedy = "Leave one outline with its holes in the drawing"
        drawings.refuse_entry(replace(place, problem=problem, remedy=remedy))
    return None


def off_sheet(sheet: Sheet) -> list[int]:
    """Return which keep-out zones, counted from 0, lie wholly off a sheet."""
    if not sheet.keep_outs:
        return []
    metal = make_valid(region(sheet.outline))
    zones = enumerate(sheet.keep_outs)
    return [i for i, zone in zones if not metal.intersection(region(zone)).area]


def errors_in(drawing: Drawing, parts: Sequence[Part]) -> list[Problem]:
    """Return a problem for each error in a drawing that concerns some of its parts."""
    wanted = {part.name for part in parts}
    found = [
        f
        for f in drawing.findings
        if f.level == "error" and (len(parts) == len(drawing.parts) or f.part in {*wanted, ""})
    ]
    problems = [Problem(drawing.file, _place(f), f.message, f.remedy) for f in found]
    if not problems and not drawing.parts:
        remedy = "Check that the contours are closed and on layers that are cut"
        problems.append(Problem(drawing.file, "", "there is nothing to cut in it", remedy))
    return problems


def demand_fit(path: Path, units: str | None = None) -> None:
    """Refuse a drawing from which nothing can be cut.

    Parameters
    ----------
    path : Path
        The drawing.
    units : str, optional
        Its unit if it gives none.

    Raises
    ------
    DrawingError
        With everything that is wrong with it.
    """
    drawing = read_drawing(path, fallback_units=units)
    problems = errors_in(drawing, drawing.parts)
    if problems:
        raise DrawingError(problems)


def unique(names: Sequence[str]) -> list[str]:
    """Return the names, with a number behind each that was there before.

    Examples
    --------
    >>> unique(["a", "b", "a", "a-2"])
    ['a', 'b', 'a-3', 'a-2']
    """
    taken, made = set(names), list[str]()
    for name in names:
        number, free = 1, name
        while free in made or (number > 1 and free in taken):
            number += 1
            free = f"{name}-{number}"
        made.append(free)
    return made


def _parts_of(line: PartLine, drawings: Drawings) -> list[Part]:
    entry = line.entry
    drawing = drawings.read(line.drawing, entry.units)
    if drawing is None:
        return []
    drawn = drawing.parts if entry.index is None else drawing.parts[entry.index - 1 : entry.index]
    if drawing.parts and not drawn:
        problem = f"{line.drawing} has no part {entry.index}, only {len(drawing.parts)}"
        drawings.refuse_entry(line.problem("index", problem, "Count its parts from 1"))
        return []
    drawings.refuse(errors_in(drawing, drawn))
    return [
        replace(
            part,
            name=_name(line, part, number, len(drawn)),
            quantity=part.quantity * entry.quantity,
            rotations=entry.turns,
            flip=entry.flip,
            grain=entry.along_grain,
            priority=entry.priority,
            filler=entry.filler,
            due=entry.due,
            most_per_sheet=entry.most_per_sheet,
            apart=entry.apart,
            kit=entry.kit,
            need=entry.need,
            joints=entry.joints,
            critical=entry.critical,
            orders=_orders(entry, part.quantity),
            common_lines=bool(entry.common_lines),
        )
        for number, part in enumerate(drawn, start=1)
    ]


def _orders(entry: PartEntry, each: int) -> tuple[OrderLine, ...]:
    """Order lines of a part that is drawn so many times."""
    return tuple(OrderLine(o.line, o.quantity * each, o.due, each) for o in entry.orders)


def _name(line: PartLine, part: Part, number: int, count: int) -> str:
    if not line.entry.name:
        return part.name
    return line.entry.name if count == 1 else f"{line.entry.name}-{number}"


def _sheet(entry: SheetEntry, outline: Contour, holes: tuple[Contour, ...]) -> Sheet:
    return Sheet(
        name=entry.name,
        outline=outline,
        holes=holes,
        keep_outs=tuple(moved(Contour.rectangle(w, h), x, y) for x, y, w, h in entry.keep_outs),
        quantity=entry.on_hand,
        grain=entry.grain,
        cost=entry.cost,
        remnant=entry.remnant,
        heat=entry.heat,
    )


def _place(finding: Finding) -> str:
    where = [f"at ({x:.2f}, {y:.2f}) mm" for x, y in finding.places[:2]]
    words = [f"part {finding.part}" if finding.part else "", " and ".join(where)]
    words.append(f"layer {finding.layer}" if finding.layer else "")
    return ", ".join(word for word in words if word)
