"""What ``plan.json`` says of a job: its metal and machine, parts and sheets."""

from __future__ import annotations

import hashlib
from dataclasses import asdict
from pathlib import Path
from typing import Any

from nestlib.model.job import Job
from nestlib.model.machine import Machine, Support
from nestlib.model.part import Part, Source
from nestlib.model.plan import Plan
from nestlib.model.sheet import Sheet
from nestlib.writing.plain_data import contour_record, number
from nestlib.writing.work_json import work_record


def job_record(job: Job) -> dict[str, Any]:
    """Return what ``plan.json`` says of a job beside its parts and sheets."""
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
                "least_feature": s.least_feature,
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


def part_record(plan: Plan, part: Part) -> dict[str, Any]:
    """Return what it says of a part, and of its pieces on all sheets."""
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
            "outer": contour_record(part.outer),
            "inners": [contour_record(c) for c in part.inners],
            "marks": [contour_record(c) for c in part.marks],
        },
        "source": None if part.source is None else _source(part.source),
        "work": plan.work
        and work_record(plan.work.parts[part.name], plan.work.part_costs[part.name]),
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


def sheet_record(sheet: Sheet) -> dict[str, Any]:
    """Return what it says of a kind of sheet."""
    return {
        "name": sheet.name,
        "outline": contour_record(sheet.outline),
        "holes": [contour_record(c) for c in sheet.holes],
        "keep_outs": [contour_record(c) for c in sheet.keep_outs],
        "quantity": sheet.quantity,
        "grain": sheet.grain,
        "cost": number(sheet.cost),
        "remnant": sheet.remnant,
        "heat": sheet.heat,
        "item": sheet.item,
    }
