"""From what people write to a job: job files, part lists, drawings, metals and machines."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import fields, replace
from pathlib import Path

from nestlib.drawings.rules import rules_from
from nestlib.drawings.units import unit_name
from nestlib.errors import InputError, JobError, LimitError, Problem
from nestlib.from_drawings import Drawings, drawn_sheet, off_sheet, parts_of, sheet_of, unique
from nestlib.gathering import Gathering
from nestlib.jobs import (
    JobFile,
    LookUps,
    PartLine,
    ReadJobFile,
    SheetEntry,
    read_job_file,
    read_part_list,
    repeated,
    resolve,
)
from nestlib.metals import gauge_tables, material, parse_size, parse_thickness, why_not
from nestlib.metals import machine as find_machine
from nestlib.metals import metal as find_metal
from nestlib.model import Entry, Holding, Job, Machine, Metal, Money, Sheet, Spacing, Unloading
from nestlib.validation import Location, validate

#: A sheet may be longer than the bed by this much, in mm: inch sizes are often rounded.
_BED_SLACK = 1.0


def read_job(path: str | Path, *, force: bool = False) -> Job:
    """Return the job that a job file describes, with all its drawings read.

    Parameters
    ----------
    path : str or Path
        A ``job.toml``, as `nestlib.jobs.job_file` describes it. Paths in it are relative
        to it.
    force : bool
        Whether to go on beyond the limits of the machine.

    Returns
    -------
    Job
        A drawing that shows several parts, or a part several times, counts with all of
        them for each piece of the quantity.

    Raises
    ------
    JobError
        With everything that is wrong with the job file, or with what it refers to.
    DrawingError
        If only drawings are at fault.
    LimitError
        If the machine cannot cut the metal or hold a sheet.
    """
    folder = Path(path).parent
    read = read_job_file(path, _look_ups(folder))
    return replace(_job(read, folder, force), source=str(path))


def job_from_list(
    path: str | Path,
    *,
    metal: str,
    thickness: str | float,
    sheets: Sequence[str],
    machine: str | Path | None = None,
    kerf: float | None = None,
    spacing: float | None = None,
    margin: float | None = None,
    units: str | None = None,
    join: float | None = None,
    title: str | None = None,
    force: bool = False,
) -> Job:
    """Return the job that a part list and a few words describe.

    Parameters
    ----------
    path : str or Path
        CSV or XLSX, as `nestlib.jobs.part_list` describes it.
    metal : str
        A material, for example ``"mild-steel"``.
    thickness : str or float
        For example ``"1.5 mm"`` or ``"16 ga"``; a number is in mm.
    sheets : sequence of str
        Sizes of the sheets, for example ``["3000x1500"]``; as many as needed of each.
    machine : str or Path, optional
        A machine's name, or the path of its file; that of job files by default.
    kerf, spacing, margin : float, optional
        As in `Spacing`, in mm; the kerf is by default that of the machine for this metal.
    units : str, optional
        Unit of drawings that give none.
    join : float, optional
        Ends of lines closer than this are joined, in mm; 0.05 by default.
    title : str, optional
        By default the name of the file.
    force : bool
        Whether to go on beyond the limits of the machine.

    Raises
    ------
    InputError
        With everything that is wrong, as for `read_job`.
    """
    distances = {"kerf": kerf, "spacing": spacing, "margin": margin}
    given = {
        "title": title,
        "metal": metal,
        "thickness": thickness,
        "machine": None if machine is None else str(machine),
        "units": units,
        "join": join,
        "parts": str(path),
        "spacing": {k: v for k, v in distances.items() if v is not None},
        "sheet": [{"size": size} for size in sheets],
    }
    words = {k: v for k, v in given.items() if v is not None}
    table = validate(JobFile, words, "", _argument, _look_ups(Path()))
    return replace(_job(ReadJobFile("", table, _argument), Path(), force), source=str(path))


def _argument(location: Location) -> str:
    """Where something stands that was said in a few words: the word for it."""
    keys = [step for step in location if isinstance(step, str) and step != "size"]
    return keys[-1] if keys else ""


def _look_ups(folder: Path) -> LookUps:
    """How the names in a file of that folder are checked while it is read."""
    return LookUps(
        folder=folder,
        metal=material,
        thickness=_check_thickness,
        machine=lambda name: _machine(folder, name),
        size=parse_size,
        units=_unit,
        parts=lambda text: _listed(folder, text),
    )


def _check_thickness(text: str, metal: str) -> None:
    """Refuse a bad thickness; without a metal, one that is bad for every metal."""
    if metal:
        find_metal(metal, text)
        return
    refusals = []
    for table in gauge_tables():
        try:
            parse_thickness(text, table)
        except InputError as error:
            refusals.append(error)
        else:
            return
    raise refusals[0]


def _machine(folder: Path, name: str) -> Machine:
    return find_machine(resolve(folder, name) if name.lower().endswith(".toml") else name)


def _unit(text: str) -> str:
    try:
        return unit_name(text)
    except ValueError as error:
        raise JobError(Problem("", "", str(error), 'Give a unit such as "mm" or "in"')) from None


def _listed(folder: Path, text: str) -> list[PartLine]:
    path = resolve(folder, text)
    return read_part_list(path, LookUps(path.parent, units=_unit))


def _job(read: ReadJobFile, folder: Path, force: bool) -> Job:
    """Read everything that a job file refers to."""
    table = read.table
    listed = read.lines + (_listed(folder, table.parts) if table.parts else [])
    lines = [_with_job_wide(line, table) for line in listed]
    metal = find_metal(table.metal, table.thickness, table.density)
    machine = _machine(folder, table.machine)
    gathering = Gathering()
    gathering.add(JobError, repeated(lines))
    rules = rules_from(table.rules, file=read.file)
    drawings = Drawings(table.units, rules, table.join, gathering)
    parts = parts_of(lines, drawings)
    sheets = _sheets(read, folder, drawings)
    if not force:
        gathering.add(LimitError, _limits(read, metal, machine, sheets))
    gathering.finish()
    return Job(
        title=table.title or Path(read.file or table.parts or "").stem,
        parts=parts,
        sheets=tuple(sheet for sheet in sheets if sheet),
        metal=metal,
        machine=machine,
        spacing=_spacing(table, machine, metal),
        currency=table.currency,
        remnant_size=table.remnant_size,
        money=Money(table.set_up_cost, table.max_layouts, table.remnant_worth),
        holding=Holding(table.joints, table.joint_width, table.over_openings),
        cut_order=table.cut_order,
        heat_distance=table.heat_distance,
        heat_seconds=table.heat_seconds,
        heat_wait=table.heat_wait,
        unloading=Unloading(
            table.cut_off, table.skeleton_weight, table.skeleton_size, table.edge_overrun
        ),
        entry=Entry(**{f.name: getattr(table, f.name) for f in fields(Entry)}),
        cautions=drawings.cautions,
    )


def _with_job_wide(line: PartLine, table: JobFile) -> PartLine:
    """The entry, with what the job says for all parts where it says nothing itself."""
    if line.entry.common_lines is not None:
        return line
    return replace(line, entry=line.entry.model_copy(update={"common_lines": table.common_lines}))


def _spacing(table: JobFile, machine: Machine, metal: Metal) -> Spacing:
    """Distances to keep; the kerf is the machine's unless the job has its own."""
    given = table.spacing
    return Spacing(
        _kerf(machine, metal) if given.kerf is None else given.kerf, given.spacing, given.margin
    )


def _kerf(machine: Machine, metal: Metal) -> float:
    """Kerf of the row for a metal; of the nearest one if a limit was overruled."""
    family = metal.material.family
    setting = machine.setting(family, metal.thickness)
    rows = [s for s in machine.settings if s.family == family] or list(machine.settings)
    thickest = max(rows, key=lambda s: s.thickness, default=None)
    row = setting or thickest
    return row.kerf if row else Spacing.kerf


def _sheets(read: ReadJobFile, folder: Path, drawings: Drawings) -> list[Sheet | None]:
    """All sheets in the order of the file; None for those that cannot be used."""
    entries = read.table.sheet
    names = unique([entry.name or _usual_name(entry) for entry in entries])
    sheets: list[Sheet | None] = []
    for i, (entry, name) in enumerate(zip(entries, names, strict=True)):
        place = Problem(read.file, read.place(("sheet", i, "drawing")), "", "")
        sheet = _sheet(entry, folder, drawings, place)
        if sheet is not None:
            sheet = replace(sheet, name=name)
            _refuse_off_sheet(read, i, sheet, drawings)
        sheets.append(sheet)
    return sheets


def _refuse_off_sheet(read: ReadJobFile, index: int, sheet: Sheet, drawings: Drawings) -> None:
    """Gather the keep-out zones that lie wholly off a sheet: they would keep nothing free."""
    x0, y0, x1, y1 = sheet.outline.bounds
    reach = f"sheet {sheet.name} lies between ({x0:g}, {y0:g}) and ({x1:g}, {y1:g})"
    remedy = f"Give [x, y, width, height] in mm; {reach}"
    for i in off_sheet(sheet):
        zone = ", ".join(f"{value:g}" for value in read.table.sheet[index].keep_outs[i])
        place = read.place(("sheet", index, "keep_outs", i))
        problem = f"keep-out zone [{zone}] lies off the sheet"
        drawings.refuse_entry(Problem(read.file, place, problem, remedy))


def _sheet(entry: SheetEntry, folder: Path, drawings: Drawings, place: Problem) -> Sheet | None:
    if entry.drawing is not None:
        return drawn_sheet(entry, resolve(folder, entry.drawing), drawings, place)
    if entry.size is not None:
        return sheet_of(entry, parse_size(entry.size))
    return sheet_of(entry, (entry.width or 0.0, entry.height or 0.0))


def _usual_name(entry: SheetEntry) -> str:
    if entry.drawing is not None:
        return resolve(Path(), entry.drawing).stem
    return entry.size or f"{entry.width:g}x{entry.height:g}"


def _limits(
    read: ReadJobFile, metal: Metal, machine: Machine, sheets: Sequence[Sheet | None]
) -> list[Problem]:
    """What of the job the machine cannot do, each with the limit."""
    overrule = "; or overrule the limit with --force"
    problems = []
    refusal = why_not(machine, metal)
    if refusal:
        place, remedy = read.place(("thickness",)), refusal.remedy + overrule
        problems.append(replace(refusal, file=read.file, place=place, remedy=remedy))
    longest, shortest = max(machine.bed), min(machine.bed)
    for i, sheet in enumerate(sheets):
        if sheet is None:
            continue
        length, width = max(sheet.size), min(sheet.size)
        if length > longest + _BED_SLACK or width > shortest + _BED_SLACK:
            problem = (
                f"sheet {sheet.name} is {length:g} x {width:g} mm, and {machine.name} holds up"
                f" to {longest:g} x {shortest:g} mm"
            )
            remedy = f"Choose a smaller sheet or another machine{overrule}"
            problems.append(Problem(read.file, read.place(("sheet", i)), problem, remedy))
    return problems
