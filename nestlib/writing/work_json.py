"""What ``plan.json`` says of times and costs."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

from nestlib.model.plan import Plan
from nestlib.model.work import Cost, Effort, Work


def whole_work(work: Work) -> dict[str, Any]:
    """Return times and costs of a whole plan, and what is missing for them."""
    return {
        **work_record(work.total, work.cost),
        "not_stated": list(work.not_stated),
        "basis": work.basis,
        "second_price": work.second_price,
        "gas_price": work.gas_price,
    }


def work_record(effort: Effort, cost: Cost) -> dict[str, Any]:
    """Return times and costs of a part, a layout or a plan."""
    return {"effort": effort_record(effort), "cost": {**asdict(cost), "total": cost.total}}


def effort_record(effort: Effort) -> dict[str, Any]:
    """Return what some cuts take."""
    return {**asdict(effort), "seconds": effort.seconds}


def saved_record(plan: Plan) -> dict[str, Any] | None:
    """Return what cuts that pieces share save on all sheets; None without any."""
    saved = plan.saved_in_all
    if saved is None:
        return None
    return {
        "shared_cuts": plan.shared_cuts,
        "cut_length": float(saved.cut_length),
        "pierces": saved.pierces,
        "seconds": saved.seconds,
    }
