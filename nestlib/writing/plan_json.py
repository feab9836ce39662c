"""A plan as plain data: ``plan.json``, from which every output can be made again.

Lengths are in mm, areas in mm², angles in degrees counter-clockwise, weights in kg,
times in s. Numbers are written in full precision and are always finite; what is
unknown is null. Things of our own may be added in later versions, never taken away.
"""

from __future__ import annotations

import hashlib
import json
import math
import os
import platform
from collections.abc import Mapping, Sequence
from dataclasses import asdict
from functools import cache
from importlib import import_module, metadata
from pathlib import Path
from typing import Any

from nestlib.model.contour import Contour
from nestlib.model.job import Job
from nestlib.model.layout import Cut, Layout
from nestlib.model.machine import Machine, Support
from nestlib.model.part import Part, Source
from nestlib.model.plan import Plan, Verification
from nestlib.model.sheet import Sheet
from nestlib.model.work import Cost, Effort, Work
from nestlib.schemas import schema
from nestlib.writing.failures import write_text
from nestlib.writing.layers import layer_names

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
        "job": _job(plan.job),
        "units": "mm",
        "layers": layer_names(),
        "spacing": {
            "kerf": plan.job.spacing.kerf,
            "spacing": plan.job.spacing.spacing,
            "margin": plan.job.spacing.margin,
        },
        "parts": [_part(plan, p) for p in plan.job.parts],
        "kits": [
            {"name": kit, "parts": list(parts), "layouts": list(plan.layouts_with(*parts))}
            for kit, parts in plan.kits.items()
        ],
        "sheets": [_sheet(s) for s in plan.job.sheets],
        "layouts": [_layout(plan, i, name) for i, (_, name) in enumerate(layouts)],
        "unplaced": [
            {"part": u.part, "quantity": u.quantity, "reason": u.reason} for u in plan.unplaced
        ],
        "remnants": _remnants(plan.layouts),
        "utilisation": float(plan.utilisation),
        "weight": float(plan.weight),
        "cost": _number(plan.cost),
        "set_up_cost": _number(plan.set_up_cost),
        "remnant_value": _number(plan.remnant_value),
        "net_cost": _number(plan.net_cost),
        "bound": {
            "sheets": plan.bound.sheets,
            "cost": _number(plan.bound.cost),
            "method": plan.bound.method,
            "net_cost": _number(plan.bound.net_cost),
        },
        "verification": _verification(plan.verification),
        "work": None if plan.work is None else _whole_work(plan.work),
        "saved_by_sharing": _saved(plan),
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
        record["job"]["source"] = _relative(record["job"]["source"], folder)
    for part in record["parts"]:
        if part["source"]:
            part["source"]["file"] = _relative(part["source"]["file"], folder)
    return record


def _relative(file: str, folder: Path) -> str:
    try:
        return Path(os.path.relpath(file, folder)).as_posix()
    except ValueError:  # another drive
        return str(Path(file).absolute())


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


def _number(value: float | None) -> float | None:
    """A finite number, or None."""
    return float(value) if value is not None and math.isfinite(value) else None


def _contour(contour: Contour) -> dict[str, Any]:
    return {
        "points": contour.points.tolist(),
        "bulges": contour.bulges.tolist(),
        "closed": contour.closed,
    }


def _job(job: Job) -> dict[str, Any]:
    material = job.metal.material
    return {
        "source": job.source,
        "digest": job.digest,
        "currency": job.currency,
        "remnant_size": job.remnant_size,
        "money": {
            "set_up": job.money.set_up,
            "max_layouts": job.money.max_layouts,
            "remnant_worth": job.money.remnant_worth,
        },
        "holding": {
            "joints": job.holding.joints,
            "joint_width": job.holding.joint_width,
            "over_openings": job.holding.over_openings,
        },
        "heat": {
            "distance": job.heat_distance,
            "seconds": job.heat_seconds,
            "wait": job.heat_wait,
        },
        "unloading": asdict(job.unloading),
        "entry": asdict(job.entry),
        "metal": {
            "name": material.name,
            "family": material.family,
            "title": material.title,
            "thickness": job.metal.thickness,
            "gauge": job.metal.gauge,
            "density": material.density,
            "density_source": material.source,
            "gauge_table": material.gauge,
        },
        "machine": _machine(job.machine),
    }


def _machine(machine: Machine) -> dict[str, Any]:
    return {
        "name": machine.name,
        "title": machine.title,
        "beam": machine.beam,
        "power": machine.power,
        "bed": list(machine.bed),
        "settings": [
            {
                "family": s.family,
                "thickness": s.thickness,
                "gas": s.gas,
                "kerf": s.kerf,
                "feed": s.feed,
                "pierce": s.pierce,
                "gas_flow": s.gas_flow,
            }
            for s in machine.settings
        ],
        "rapid": machine.rapid,
        "mark_feed": machine.mark_feed,
        "hourly_rate": machine.hourly_rate,
        "source": machine.source,
        "acceleration": machine.acceleration,
        "rapid_acceleration": machine.rapid_acceleration,
        "jerk": machine.jerk,
        "rapid_jerk": machine.rapid_jerk,
        "corner_jump": machine.corner_jump,
        "corner_deviation": machine.corner_deviation,
        "lift": machine.lift,
        "gas_prices": dict(machine.gas_prices),
        "assumed": list(machine.assumed),
        "support": None if machine.support is None else _support(machine.support),
    }


def _support(support: Support) -> dict[str, Any]:
    return {
        "kind": support.kind,
        "pitch": list(support.pitch),
        "offset": None if support.offset is None else list(support.offset),
        "along": support.along,
    }


def _part(plan: Plan, part: Part) -> dict[str, Any]:
    return {
        "name": part.name,
        "quantity": part.quantity,
        "placed": plan.placed[part.name],
        "area": float(part.area),
        "rotations": None if part.rotations is None else list(part.rotations),
        "flip": part.flip,
        "grain": part.grain,
        "priority": part.priority,
        "filler": part.filler,
        "need": float(part.need),
        "due": None if part.due is None else part.due.isoformat(),
        "last_layout": max(plan.layouts_with(part.name), default=None),
        "most_per_sheet": part.most_per_sheet,
        "apart": list(part.apart),
        "kit": part.kit,
        "joints": part.joints,
        "critical": list(part.critical),
        "orders": [
            {
                "line": o.line,
                "quantity": o.quantity,
                "due": None if o.due is None else o.due.isoformat(),
                "each": o.each,
            }
            for o in part.orders
        ],
        "common_lines": part.common_lines,
        "contours": {
            "outer": _contour(part.outer),
            "inners": [_contour(c) for c in part.inners],
            "marks": [_contour(c) for c in part.marks],
        },
        "source": None if part.source is None else _source(part.source),
        "work": plan.work and _work(plan.work.parts[part.name], plan.work.part_costs[part.name]),
    }


def _source(source: Source) -> dict[str, Any]:
    return {
        "file": source.file,
        "index": source.index,
        "origin": list(source.origin),
        "units": source.units,
        "sha256": source.sha256 or _digest(source.file),
        "join": source.join,
    }


def _digest(file: str) -> str | None:
    """SHA-256 of the drawing, so that a later check knows whether it has changed."""
    try:
        return hashlib.sha256(Path(file).read_bytes()).hexdigest()
    except (OSError, ValueError):
        return None


def _sheet(sheet: Sheet) -> dict[str, Any]:
    return {
        "name": sheet.name,
        "outline": _contour(sheet.outline),
        "holes": [_contour(c) for c in sheet.holes],
        "keep_outs": [_contour(c) for c in sheet.keep_outs],
        "quantity": sheet.quantity,
        "grain": sheet.grain,
        "cost": _number(sheet.cost),
        "remnant": sheet.remnant,
        "heat": sheet.heat,
        "item": sheet.item,
    }


def _layout(plan: Plan, number: int, file: str) -> dict[str, Any]:
    layout, work = plan.layouts[number], plan.work
    area = sum(plan.job.part(name).area * n for name, n in layout.counts.items())
    cuts = layout.path.cuts
    efforts = [None] * len(cuts) if work is None else work.cuts[number]
    return {
        "sheet": layout.sheet.name,
        "runs": layout.runs,
        "dxf": file,
        "utilisation": float(area / layout.sheet.area),
        "placements": [
            {
                "part": p.part,
                "rotation": float(p.rotation),
                "flip": p.flip,
                "x": float(p.x),
                "y": float(p.y),
            }
            for p in layout.placements
        ],
        "path": [
            _cut(cut, order, effort)
            for order, (cut, effort) in enumerate(zip(cuts, efforts, strict=True), start=1)
        ],
        "cut_length": float(layout.path.cut_length),
        "mark_length": float(layout.path.mark_length),
        "rapid_length": float(layout.path.rapid_length),
        "pierces": int(layout.path.pierces),
        "joints": int(layout.path.joints),
        "lifts": int(layout.path.lifts),
        "lifted_length": float(layout.path.lifted_length),
        "skeleton": [
            {
                "area": float(piece.area),
                "weight": float(plan.job.metal.weight(piece.area)),
                "size": [float(side) for side in piece.size],
            }
            for piece in layout.path.skeleton
        ],
        "warnings": list(layout.path.warnings),
        "work": work and _work(work.layouts[number], work.layout_costs[number]),
        "singly": layout.singly and _effort(layout.singly),
    }


def _lead(lead: Contour) -> dict[str, Any]:
    return {"points": lead.points.tolist(), "bulges": lead.bulges.tolist()}


def _cut(cut: Cut, order: int, effort: Effort | None) -> dict[str, Any]:
    return {
        "order": order,
        "placement": cut.placement if cut.of_piece else None,
        "role": cut.role,
        "index": cut.index,
        "start": cut.contour.points[0].tolist(),
        "pierce": list(cut.pierce),
        "lead": None if cut.lead_in is None else _lead(cut.lead_in),
        "length": float(cut.length),
        "contour": _contour(cut.contour),
        "work": effort and _effort(effort),
        "joints": [
            {"at": float(j.at), "width": float(j.width), "gap": float(j.gap)} for j in cut.joints
        ],
        "fate": cut.fate,
        "lifted": cut.lifted,
        "via": [[float(x), float(y)] for x, y in cut.via],
        "lead_out": None if cut.lead_out is None else _lead(cut.lead_out),
        "over_cut": float(cut.over_cut),
        "end_gap": float(cut.end_gap),
        "pieces": list(cut.pieces),
        "wait": float(cut.wait),
    }


def _saved(plan: Plan) -> dict[str, Any] | None:
    """What cuts that pieces share save on all sheets."""
    saved = plan.saved_in_all
    if saved is None:
        return None
    return {
        "shared_cuts": plan.shared_cuts,
        "cut_length": float(saved.cut_length),
        "pierces": saved.pierces,
        "seconds": saved.seconds,
    }


def _whole_work(work: Work) -> dict[str, Any]:
    return {
        **_work(work.total, work.cost),
        "not_stated": list(work.not_stated),
        "basis": work.basis,
        "second_price": work.second_price,
        "gas_price": work.gas_price,
    }


def _work(effort: Effort, cost: Cost) -> dict[str, Any]:
    return {"effort": _effort(effort), "cost": {**asdict(cost), "total": cost.total}}


def _effort(effort: Effort) -> dict[str, Any]:
    return {**asdict(effort), "seconds": effort.seconds}


def _remnants(layouts: Sequence[Layout]) -> list[dict[str, Any]]:
    return [
        {
            "name": remnant.name,
            "layout": number,
            "sheet": layout.sheet.name,
            "runs": layout.runs,
            "outline": _contour(remnant.outline),
            "area": float(remnant.area),
        }
        for number, layout in enumerate(layouts)
        for remnant in layout.remnants
    ]


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
        "between_parts": _number(found.between_parts),
        "to_edge": _number(found.to_edge),
        "largest_deviation": float(found.largest_deviation),
        "pieces": found.pieces,
        "notes": list(found.notes),
    }
