"""Job files and part lists of merged rows, as texts that `nestlib nest` reads."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from nestlib.input_files import seen_from
from nestlib.intake.mapping import Mapping
from nestlib.intake.merging import MergedJob, MergedPart
from nestlib.jobs.orders import orders_cell
from nestlib.metals import material

_COLUMNS = ("drawing", "name", "quantity", "due", "kit", "priority", "orders")


def job_files(
    name: str, jobs: Sequence[MergedJob], mapping: Mapping, folder: Path
) -> dict[str, str]:
    """Return the texts of all job files and part lists by their file names.

    Parameters
    ----------
    name : str
        Of the folder; all files begin with it, so that no two jobs have the same name.
    jobs : sequence of MergedJob
        From `by_metal`.
    mapping : Mapping
        Says what goes into each job as it is.
    folder : Path
        Where they will lie: paths in them are relative to it.
    """
    files: dict[str, str] = {}
    for job in jobs:
        stem = job_stem(name, job)
        parts = f"{stem}-parts.csv"
        files[f"{stem}.toml"] = _job_text(name, job, mapping, folder, parts)
        files[parts] = _list_text(job, folder)
    return files


def job_stem(name: str, job: MergedJob) -> str:
    """Return the name of a job's files: ``"orders-mild-steel-1.5mm"``."""
    plain = re.sub(r"[^\w.-]+", "-", name)
    return f"{plain}-{job.metal}-{job.thickness.replace(' ', '')}"


def _job_text(name: str, job: MergedJob, mapping: Mapping, folder: Path, parts: str) -> str:
    import tomlkit

    def seen(path: str) -> str:
        """A path of the mapping as seen from the folder of the jobs."""
        return seen_from(folder, Path(mapping.file).parent / path.replace("\\", "/"))

    own = dict(mapping.table.job)
    if str(own.get("machine", "")).lower().endswith(".toml"):
        own["machine"] = seen(own["machine"])
    sheets = mapping.sheets(job.metal, job.mm, material(job.metal).gauge)
    record: dict[str, Any] = {
        "title": own.pop("title", f"{name}, {job.metal} {job.thickness}"),
        "metal": job.metal,
        "thickness": job.thickness,
        "parts": parts,
        **own,
        "sheet": [{**s, "drawing": seen(s["drawing"])} if "drawing" in s else s for s in sheets],
    }
    # Tables come behind plain keys, or these would belong to them.
    ordered = sorted(record.items(), key=lambda pair: isinstance(pair[1], dict | list))
    head = "# Written by nestlib intake, which may replace it.\n"
    return head + tomlkit.dumps(dict(ordered))


def _list_text(job: MergedJob, folder: Path) -> str:
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(_COLUMNS)
    taken: set[tuple[Path, str]] = set()
    for part in job.parts:
        title = _free_name(part, taken)
        taken.add((part.drawing, title))
        due = part.due.isoformat() if part.due else ""
        orders = orders_cell((r.line, r.quantity, r.due) for r in part.rows)
        drawing = seen_from(folder, part.drawing)
        writer.writerow((drawing, title, part.quantity, due, part.kit, part.priority or "", orders))
    return text.getvalue()


def _free_name(part: MergedPart, taken: set[tuple[Path, str]]) -> str:
    """Name of a part; the same one for another kit or priority gets that behind it."""
    name = part.part
    for more in (part.kit, f"priority {part.priority}"):
        if (part.drawing, name) in taken and more:
            name = f"{name}, {more}"
    return name
