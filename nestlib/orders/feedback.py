"""What plans mean for each order line, as plain data for the ERP: JSON and CSV."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Iterable, Mapping
from pathlib import Path
from typing import Any

from nestlib.model import Plan
from nestlib.orders.allotting import Allotment, allotments
from nestlib.orders.burdens import Burden, burdens
from nestlib.orders.unplanned import Record, unplanned
from nestlib.schemas import schema

FORMAT, VERSION = "nestlib-feedback", 1

Row = dict[str, Any]

#: Columns of the list: their heads and what they take from a row.
COLUMNS: Mapping[str, Callable[[Row], Any]] = {
    "order_line": lambda r: r["line"],
    "part": lambda r: r["part"],
    "ordered": lambda r: r["ordered"],
    "planned": lambda r: r["planned"],
    "missing": lambda r: r["missing"],
    "due": lambda r: r["due"],
    "pieces": lambda r: r["pieces"],
    "pieces_each": lambda r: r["pieces_each"],
    "layouts": lambda r: "; ".join(f"{on['layout']} ({on['pieces']})" for on in r["layouts"]),
    "sheets": lambda r: "; ".join(dict.fromkeys(on["sheet"] for on in r["layouts"])),
    "machine_min": lambda r: r["minutes"],
    "weight_kg": lambda r: r["kg"],
    "cost": lambda r: r["cost"],
    "currency": lambda r: r["currency"],
    "metal": lambda r: r["metal"],
    "thickness_mm": lambda r: r["thickness"],
    "plan": lambda r: r["plan"],
    "folder": lambda r: r["folder"],
    "verified": lambda r: r["verified"],
    "reason": lambda r: r["reason"],
}


def order_feedback(
    plans: Iterable[tuple[str, Plan]], intakes: Mapping[str, Record] | None = None
) -> dict[str, Any]:
    """Return what plans mean for each order line, as `feedback_schema` describes it.

    Parameters
    ----------
    plans : iterable of (str, Plan)
        Name of the plan's folder, as it shall be told, and the plan.
    intakes : mapping, optional
        Records of intakes (``intake.json``) by the names of their folders: their lines that
        no plan holds get rows, too.

    Returns
    -------
    dict
        ``lines`` holds a row for each order line of each part, and one without a line for
        pieces that nobody ordered, so that pieces, minutes, kg and cost add up to those
        under ``plans``. Lines that no plan holds stand last, with the reason.
    """
    read = list(plans)
    return {
        "format": FORMAT,
        "version": VERSION,
        "plans": [_plan(folder, plan) for folder, plan in read],
        "lines": [
            *(row for folder, plan in read for row in _rows(folder, plan)),
            *map(_without_plan, unplanned(intakes or {}, (plan for _, plan in read))),
        ],
    }


def feedback_schema() -> dict[str, Any]:
    """Return the JSON Schema (draft 2020-12) of ``feedback.json``.

    Examples
    --------
    >>> feedback_schema()["properties"]["format"]["const"]
    'nestlib-feedback'
    """
    return schema("feedback")


def plan_id(plan: Plan) -> str:
    """Return a name for what a plan says: equal placements of an equal job have the same.

    It does not change when a plan is verified again or gets machine programs.
    """
    said = [
        plan.job.title,
        [(part.name, part.quantity) for part in plan.job.parts],
        [
            [layout.sheet.name, layout.runs]
            + [[p.part, p.rotation, p.flip, p.x, p.y] for p in layout.placements]
            for layout in plan.layouts
        ],
    ]
    return hashlib.sha256(json.dumps(said).encode()).hexdigest()[:16]


def _plan(folder: str, plan: Plan) -> Row:
    allotted = allotments(plan)
    shares = burdens(plan, allotted)
    return {
        "plan": plan_id(plan),
        "folder": folder,
        "job": plan.job.title,
        "source": Path(plan.job.source).name,
        "verified": _verified(plan),
        "sheets": plan.sheets_used,
        "pieces": sum(allotment.pieces for allotment in allotted),
        "minutes": _sum((s.minutes for s in shares), 1000),
        "kg": _sum((s.weight for s in shares), 1000),
        "cost": _sum((s.cost for s in shares), 100),
        "currency": plan.job.currency,
        "not_stated": [] if plan.work is None else list(plan.work.not_stated),
    }


def _rows(folder: str, plan: Plan) -> list[Row]:
    allotted = allotments(plan)
    return [
        _row(folder, plan, allotment, burden)
        for allotment, burden in zip(allotted, burdens(plan, allotted), strict=True)
    ]


def _row(folder: str, plan: Plan, allotment: Allotment, burden: Burden) -> Row:
    order, metal = allotment.order, plan.job.metal
    each = order.each if order else 1
    ordered = order.quantity // each if order else 0
    planned = allotment.pieces // each
    return {
        "line": order.line if order else None,
        "part": allotment.part.name,
        "ordered": ordered,
        "planned": planned,
        "missing": max(ordered - planned, 0),
        "due": order.due.isoformat() if order and order.due else None,
        "pieces": allotment.pieces,
        "pieces_each": each,
        "layouts": [
            {
                "layout": number,
                "dxf": f"sheet-{number:03d}.dxf",
                "sheet": plan.layouts[number - 1].sheet.name,
                "pieces": pieces,
            }
            for number, pieces in allotment.on_layouts
        ],
        "minutes": _scaled(burden.minutes, 1000),
        "kg": burden.weight / 1000,
        "cost": _scaled(burden.cost, 100),
        "currency": plan.job.currency,
        "metal": metal.material.name,
        "thickness": metal.thickness,
        "plan": plan_id(plan),
        "folder": folder,
        "verified": _verified(plan),
        "reason": None,
    }


def _without_plan(wanted: Row) -> Row:
    return {
        "line": wanted["line"],
        "part": wanted["part"],
        "ordered": wanted["quantity"],
        "planned": 0,
        "missing": wanted["quantity"],
        "due": wanted["due"],
        "pieces": 0,
        "pieces_each": 1,
        "layouts": [],
        "minutes": None,
        "kg": 0.0,
        "cost": None,
        "currency": "",
        "metal": wanted["metal"],
        "thickness": wanted["mm"],
        "plan": None,
        "folder": None,
        "verified": False,
        "reason": wanted["reason"],
    }


def _verified(plan: Plan) -> bool:
    return plan.verification is not None and plan.verification.passed


def _scaled(value: int | None, unit: int) -> float | None:
    return None if value is None else value / unit


def _sum(values: Iterable[int | None], unit: int) -> float | None:
    """Sum of all; None if one of them is not known."""
    all_of_them = list(values)
    known = [v for v in all_of_them if v is not None]
    return sum(known) / unit if len(known) == len(all_of_them) else None
