"""From an export and its mapping to a folder of jobs."""

from __future__ import annotations

import csv
import hashlib
import io
import json
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from nestlib.errors import InputError, JobError, Problem
from nestlib.intake.export import Export, read_export
from nestlib.intake.finding import DrawingIndex
from nestlib.intake.folder import holds, write_folder
from nestlib.intake.job_files import job_files, job_stem
from nestlib.intake.lines import RowError, RowReader, Wanted, texts_of
from nestlib.intake.mapping import Mapping, read_mapping
from nestlib.intake.merging import MergedJob, by_metal, each_line_once
from nestlib.intake.record import (
    FORMAT,
    RECORD_FILE,
    VERSION,
    aside_before,
    aside_key,
    not_taken_before,
    taken_before,
    unfit_before,
    wanted_record,
)
from nestlib.intake.titles import row_of_titles, titles_in
from nestlib.jobs.cells import Row
from nestlib.metals import material

ASIDE_FILE = "set-aside.csv"

#: Checks a drawing, given its unit if it says none; raises `InputError` if it cannot be cut.
CheckDrawing = Callable[[Path, str | None], object]


@dataclass(frozen=True)
class Intake:
    """What became of an export.

    Parameters
    ----------
    export : str
        Its path.
    folder : Path
        Where its jobs lie.
    rows : int
        Rows below the titles.
    taken : tuple of Wanted
        Rows that went into jobs.
    again : tuple of Wanted
        Rows that only say once more what another row of the export says.
    before : tuple of Wanted
        Rows that were taken in with another export.
    aside : tuple of (Row, str)
        Rows that were set aside, and why.
    jobs : tuple of MergedJob
        By metal and thickness.
    changed : bool
        Whether anything was written.
    unfit : tuple of (int, str)
        Rows, and why their drawings cannot be cut, that were taken in before without a check
        and stay so.
    """

    export: str
    folder: Path
    rows: int
    taken: tuple[Wanted, ...]
    again: tuple[Wanted, ...]
    before: tuple[Wanted, ...]
    aside: tuple[tuple[Row, str], ...]
    jobs: tuple[MergedJob, ...]
    changed: bool
    unfit: tuple[tuple[int, str], ...] = ()

    @property
    def either(self) -> list[Wanted]:
        """Rows whose quantity another decimal sign would make another number: ``"1.000"``."""
        return [row for row in self.taken if row.written]

    @property
    def job_files(self) -> list[Path]:
        """Paths of the job files."""
        name = self.folder.resolve().name
        return [self.folder / f"{job_stem(name, job)}.toml" for job in self.jobs]


def take_in(
    export: str | Path,
    mapping: str | Path,
    folder: str | Path,
    *,
    overwrite: bool = False,
    check: CheckDrawing | None = None,
) -> Intake:
    """Turn an export into jobs.

    Parameters
    ----------
    export : str or Path
        CSV, XLSX or JSON lines.
    mapping : str or Path
        What it means: see `nestlib.intake.mapping`.
    folder : str or Path
        Where the jobs go: whole or not at all; they are named after it. If the same export
        was taken in there before, nothing is written. Order lines that were taken in with
        other exports, in folders beside it, are left out; if no other is left, and no row
        is set aside that was not then, nothing is written either. Nor is anything if all that
        differs is whether drawings were checked.
    overwrite : bool
        Whether another export that was taken in there may be replaced.
    check : callable, optional
        Reads each drawing; rows whose drawing it refuses are set aside.

    Raises
    ------
    InputError
        If export or mapping cannot be used; a bad row is no reason.
    OutputError
        If the folder cannot be written.
    """
    known = read_mapping(mapping)
    if not known.table.confirmed:
        remedy = "Check it, then say confirmed = true in it, or run again with --confirm"
        raise JobError(Problem(str(mapping), "", "the mapping is not confirmed", remedy))
    text = known.table.file
    read = read_export(export, text.encoding, text.letter)
    head, rows = _below_titles(read, known)
    index = DrawingIndex(known.folders())
    reader = RowReader(known, titles_in(head), index)
    wanted, aside = _read_rows(reader, rows)
    once, again, contradicting = each_line_once(wanted)
    here = Path(folder).resolve()
    before = taken_before(here) if known.table.columns.line else {}
    new, old, altered = not_taken_before(once, before)
    unlike = {row.row: reason for row, reason in (*contradicting, *altered)}

    def settled(unfit: dict[int, str]) -> tuple[Intake, dict[str, str], list[Any]]:
        """What it is if the drawings of these rows cannot be cut, as files, and what is aside."""
        reasons = unlike | unfit
        out = aside + [(row, reasons[row.number]) for row in rows if row.number in reasons]
        good, out = _with_sheets([r for r in new if r.row not in unfit], out, known, rows)
        out.sort(key=lambda pair: pair[0].number)
        done = _intake(read, Path(folder), rows, good, again, old, out)
        named = [{"row": r.number, "reason": why, **reader.named(r)} for r, why in done.aside]
        return done, _files(done, known, read, head, here, named, sorted(unfit)), named

    unfit = _unfit(new, check, known.table.job.get("units"))
    done, files, named = settled(unfit)
    told = {aside_key(row) for row in named} <= aside_before(here)
    if done.before and not done.taken and told and not here.exists():
        return done  # the same lines once more, under another name
    if not overwrite:
        otherwise, there, _ = settled({} if check else unfit_before(here))
        if holds(here, there):
            return replace(otherwise, unfit=tuple(unfit.items()) if there != files else ())
    changed = write_folder(here, files, overwrite=overwrite)
    return replace(done, changed=changed)


def _below_titles(export: Export, mapping: Mapping) -> tuple[Row, list[Row]]:
    """The row of the titles and the rows below it."""
    wanted = mapping.table.columns.titles
    head = row_of_titles(export.rows, wanted)
    if head is None:
        near = max(export.rows, key=lambda row: len(wanted & set(titles_in(row))), default=None)
        missing = sorted(wanted - set(titles_in(near) if near else ()))
        problem = f"no row holds all titles of {mapping.file}; missing: {', '.join(missing)}"
        remedy = "Correct [columns] in the mapping, or remove it to have a new one drafted"
        raise JobError(Problem(export.file, f"row {near.number}" if near else "", problem, remedy))
    return head, [row for row in export.rows if row.number > head.number]


def _read_rows(
    reader: RowReader, rows: Iterable[Row]
) -> tuple[list[Wanted], list[tuple[Row, str]]]:
    """What the rows want, and the rows that cannot be taken."""
    wanted, aside = list[Wanted](), list[tuple[Row, str]]()
    for row in rows:
        if reader.is_titles(row):
            continue
        try:
            wanted.append(reader.read(row))
        except RowError as error:
            aside.append((row, str(error)))
    return wanted, aside


def _unfit(rows: list[Wanted], check: CheckDrawing | None, units: str | None) -> dict[int, str]:
    """Rows whose drawings cannot be cut, and why; each drawing is read once."""
    if check is None:
        return {}
    paths = dict.fromkeys(row.drawing for row in rows)
    faults = {path: _fault(path, check, units) for path in paths}
    return {row.row: faults[row.drawing] for row in rows if faults[row.drawing]}


def _fault(path: Path, check: CheckDrawing, units: str | None) -> str:
    try:
        check(path, units)
    except InputError as error:
        return " ".join(str(error).split())
    return ""


def _with_sheets(
    rows: list[Wanted], aside: list[tuple[Row, str]], mapping: Mapping, all_rows: Sequence[Row]
) -> tuple[list[Wanted], list[tuple[Row, str]]]:
    """Set rows aside for which the mapping has no sheet."""
    lacking = {
        row.row: f"the mapping has no sheet for {job.metal} {job.thickness}"
        for job in by_metal(rows)
        if not mapping.sheets(job.metal, job.mm, material(job.metal).gauge)
        for part in job.parts
        for row in part.rows
    }
    more = [(row, lacking[row.number]) for row in all_rows if row.number in lacking]
    return [row for row in rows if row.row not in lacking], aside + more


def _intake(
    export: Export,
    folder: Path,
    rows: Sequence[Row],
    taken: Sequence[Wanted],
    again: Sequence[Wanted],
    before: Sequence[Wanted],
    aside: Sequence[tuple[Row, str]],
) -> Intake:
    return Intake(
        export=export.file,
        folder=folder,
        rows=len(rows),
        taken=tuple(taken),
        again=tuple(again),
        before=tuple(before),
        aside=tuple(aside),
        jobs=tuple(by_metal(taken)),
        changed=False,
    )


def _files(
    done: Intake,
    mapping: Mapping,
    export: Export,
    head: Row,
    folder: Path,
    aside: list[Any],
    unfit: list[int],
) -> dict[str, str]:
    """All files of the folder by their names."""
    files = job_files(folder.name, done.jobs, mapping, folder)
    if done.aside:
        files[ASIDE_FILE] = _aside_text(done, head)
    record = intake_record(done, mapping)
    record["set_aside"] = aside
    if unfit:  # by which the same without a check is known again
        record["unfit"] = unfit
    record["export_sha256"] = hashlib.sha256(export.data).hexdigest()
    record["files"] = sorted(files)
    files[RECORD_FILE] = json.dumps(record, ensure_ascii=False, indent=1) + "\n"
    return files


def _aside_text(done: Intake, head: Row) -> str:
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(["row", "reason", *titles_in(head)])
    for row, reason in done.aside:
        writer.writerow([row.number, reason, *texts_of(row)])
    return text.getvalue()


def intake_record(done: Intake, mapping: Mapping) -> dict[str, Any]:
    """Return what was taken in as plain data."""
    return {
        "format": FORMAT,
        "version": VERSION,
        "export": Path(done.export).name,
        "mapping": Path(mapping.file).name,
        "rows": done.rows,
        "jobs": jobs_record(done, [file.name for file in done.job_files]),
        "lines": [wanted_record(row) for row in done.taken],
        "again": [row.row for row in done.again],
        "before": [row.row for row in done.before],
        **told_record(done),
    }


def jobs_record(done: Intake, files: Sequence[str]) -> list[dict[str, Any]]:
    """Return the jobs of an intake as plain data, with what their files shall be called."""
    return [
        {
            "file": file,
            "metal": job.metal,
            "thickness": job.thickness,
            "parts": len(job.parts),
            "pieces": sum(part.quantity for part in job.parts),
        }
        for file, job in zip(files, done.jobs, strict=True)
    ]


def told_record(done: Intake) -> dict[str, Any]:
    """Return what somebody has to look at as plain data."""
    return {
        "read_as": [
            {"row": row.row, "written": row.written, "quantity": row.quantity}
            for row in done.either
        ],
        "set_aside": [{"row": row.number, "reason": reason} for row, reason in done.aside],
    }
