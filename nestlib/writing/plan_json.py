"""A plan as plain data: ``plan.json``, from which every output can be made again.

Lengths are in mm, areas in mm², angles in degrees counter-clockwise, weights in kg,
times in s. Numbers are written in full precision and are always finite; what is
unknown is null. Things of our own may be added in later versions, never taken away.
"""

from __future__ import annotations

import json
import platform
from collections.abc import Mapping, Sequence
from functools import cache
from importlib import import_module, metadata
from pathlib import Path
from typing import Any

from nestlib.input_files import seen_from
from nestlib.model.plan import Plan, Verification
from nestlib.schemas import schema
from nestlib.writing.failures import write_text
from nestlib.writing.job_json import job_record, part_record, sheet_record
from nestlib.writing.layers import layer_names
from nestlib.writing.layout_json import layout_record, remnant_records
from nestlib.writing.plain_data import number
from nestlib.writing.work_json import saved_record, whole_work

#: File by which a plan folder is known.
PLAN_FILE = "plan.json"

FORMAT = "nestlib-plan"
VERSION = 1

_LIBRARIES = ("numpy", "shapely", "pyclipper", "numba", "ortools", "ezdxf")


def plan_record(
    plan: Plan, files: Sequence[str], program: Mapping[str, Any] | None = None
) -> dict[str, Any]:
    """Return a plan as plain data, as `plan_schema` describes it.

    Parameters
    ----------
    plan : Plan
        With or without its verification.
    files : sequence of str
        Name of the DXF file of each layout, in the same order.
    program : mapping, optional
        What `nestlib.writing.program_record` says of the machine programs, if there are any.

    Returns
    -------
    dict
        Nothing but dicts, lists, strings, finite numbers, booleans and None.

    Raises
    ------
    ValueError
        If there is not one file name for each layout.
    """
    layouts = list(zip(plan.layouts, files, strict=True))
    return {
        "format": FORMAT,
        "version": VERSION,
        "title": plan.job.title,
        "job": job_record(plan.job),
        "units": "mm",
        "layers": layer_names(),
        "spacing": {
            "kerf": plan.job.spacing.kerf,
            "spacing": plan.job.spacing.spacing,
            "margin": plan.job.spacing.margin,
        },
        "parts": [part_record(plan, p) for p in plan.job.parts],
        "kits": [
            {"name": kit, "parts": list(parts), "layouts": list(plan.layouts_with(*parts))}
            for kit, parts in plan.kits.items()
        ],
        "sheets": [sheet_record(s) for s in plan.job.sheets],
        "layouts": [layout_record(plan, i, name) for i, (_, name) in enumerate(layouts)],
        "unplaced": [
            {"part": u.part, "quantity": u.quantity, "reason": u.reason} for u in plan.unplaced
        ],
        "remnants": remnant_records(plan.layouts),
        "utilisation": float(plan.utilisation),
        "weight": float(plan.weight),
        "cost": number(plan.cost),
        "set_up_cost": number(plan.set_up_cost),
        "remnant_value": number(plan.remnant_value),
        "net_cost": number(plan.net_cost),
        "bound": {
            "sheets": plan.bound.sheets,
            "cost": number(plan.bound.cost),
            "method": plan.bound.method,
            "net_cost": number(plan.bound.net_cost),
        },
        "verification": _verification(plan.verification),
        "work": None if plan.work is None else whole_work(plan.work),
        "saved_by_sharing": saved_record(plan),
        "program": program,
        "hold": plan.hold,
        "cautions": list(plan.cautions),
        "stopped": plan.stopped,
        "seed": plan.seed,
        "seconds": float(plan.seconds),
        "versions": versions(),
    }


def write_plan_record(
    plan: Plan, files: Sequence[str], folder: str | Path, program: Mapping[str, Any] | None = None
) -> None:
    """Write ``plan.json``; the job and the drawings are named as seen from the folder.

    Parameters
    ----------
    plan : Plan
        With or without its verification.
    files : sequence of str
        Name of the DXF file of each layout.
    folder : str or Path
        Where to; the file is replaced if it exists.
    program : mapping, optional
        As in `plan_record`.

    Raises
    ------
    OutputError
        If the file cannot be written.
    """
    record = _seen_from(Path(folder), plan_record(plan, files, program))
    text = json.dumps(record, ensure_ascii=False, allow_nan=False, indent=1)
    write_text(Path(folder) / PLAN_FILE, text + "\n")


def _seen_from(folder: Path, record: dict[str, Any]) -> dict[str, Any]:
    """Name files by their way from the folder, so that they are found from anywhere."""
    if record["job"]["source"]:
        record["job"]["source"] = seen_from(folder, record["job"]["source"])
    for part in record["parts"]:
        if part["source"]:
            part["source"]["file"] = seen_from(folder, part["source"]["file"])
    return record


def plan_schema() -> dict[str, Any]:
    """Return the JSON Schema (draft 2020-12) of ``plan.json``.

    Examples
    --------
    >>> plan_schema()["properties"]["units"]["const"]
    'mm'
    """
    return schema("plan")


@cache
def _versions() -> tuple[tuple[str, str], ...]:
    known = [
        ("nestlib", import_module("nestlib").__version__),
        ("python", platform.python_version()),
    ]
    for name in _LIBRARIES:
        try:
            known.append((name, metadata.version(name)))
        except metadata.PackageNotFoundError:
            continue
    return tuple(known)


def versions() -> dict[str, str]:
    """Return the versions of Python, of this library and of those it rests on."""
    return dict(_versions())


def _verification(found: Verification | None) -> dict[str, Any] | None:
    if found is None:
        return None
    return {
        "passed": found.passed,
        "violations": [
            {
                "code": v.code,
                "layout": v.layout,
                "message": v.message,
                "place": None if v.place is None else [float(v.place[0]), float(v.place[1])],
            }
            for v in found.violations
        ],
        "between_parts": number(found.between_parts),
        "to_edge": number(found.to_edge),
        "largest_deviation": float(found.largest_deviation),
        "pieces": found.pieces,
        "notes": list(found.notes),
    }
