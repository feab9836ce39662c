"""What comes of nesting, for scripts: records, exit code, and what is said however quiet."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from .failures import STOPPED

if TYPE_CHECKING:
    from nestlib import Plan


def tell_what_is_left(jobs: Sequence[Path]) -> None:
    """After Ctrl-C, say which jobs were not begun."""
    click.echo("Stopped; the best so far was written.", err=True)
    if jobs:
        click.echo(f"Not nested: {', '.join(map(str, jobs))}", err=True)


def tell_what_is_missing(folder: Path, plan: Plan) -> None:
    """Say, however quiet it shall be, why the command fails."""
    for u in plan.unplaced:
        click.echo(f"{folder}: {u.quantity} x {u.part} not placed: {u.reason}", err=True)


def summary(folder: Path, plan: Plan) -> dict[str, Any]:
    """Return what a script wants to know without opening the plan."""
    check = plan.verification
    return {
        "job": plan.job.title,
        "folder": str(folder),
        "sheets": plan.sheets_used,
        "layouts": len(plan.layouts),
        "placed": sum(plan.placed.values()),
        "unplaced": [
            {"part": u.part, "quantity": u.quantity, "reason": u.reason} for u in plan.unplaced
        ],
        "utilisation": plan.utilisation,
        "weight": plan.weight,
        "cost": plan.cost,
        "net_cost": plan.net_cost,
        "machine_seconds": plan.work and plan.work.total.seconds,
        "saved_by_sharing": _saved(plan),
        "gas": plan.work and plan.work.total.gas,
        "cost_of_all_stated": plan.work and plan.work.cost.amount,
        "currency": plan.job.currency,
        "bound": {
            "sheets": plan.bound.sheets,
            "cost": plan.bound.cost,
            "net_cost": plan.bound.net_cost,
        },
        "verified": check is not None and check.passed,
        "hold": plan.hold,
        "stopped": plan.stopped,
        "seconds": plan.seconds,
    }


def _saved(plan: Plan) -> dict[str, Any] | None:
    """What cuts that pieces share save; None if none is shared."""
    saved = plan.saved_in_all
    if saved is None:
        return None
    return {
        "cut_length": saved.cut_length,
        "pierces": saved.pierces,
        "seconds": saved.seconds,
    }


def exit_code(plans: Iterable[Plan]) -> int:
    """Return what `nestlib nest` exits with: stopped, not whole or not verified, or all well."""
    done = list(plans)
    if any(plan.stopped for plan in done):
        return STOPPED
    verified = all(plan.verification and plan.verification.passed for plan in done)
    return 0 if verified and all(plan.complete for plan in done) else 1
