"""Time, weight and cost of a plan, shared by its order lines so that they add up exactly.

A part has its own machine time with the beam on, and by the area of the pieces on each sheet
its share of rapids and lifts; its cost is that of the plan. All pieces of a part count the
same. Figures are rounded once for the whole plan and handed down by largest remainders.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from nestlib.model import Plan
from nestlib.orders.allotting import Allotment
from nestlib.shares import largest_remainders


@dataclass(frozen=True)
class Burden:
    """What the pieces of an order line take.

    Parameters
    ----------
    minutes : int, or None
        Machine time, in thousandths of a minute; None if it is not known.
    weight : int
        In g.
    cost : int, or None
        In hundredths of the currency; None if it is not stated.
    """

    minutes: int | None
    weight: int
    cost: int | None


def burdens(plan: Plan, allotted: Sequence[Allotment]) -> list[Burden]:
    """Return what each allotment takes; together what the whole plan does.

    Parameters
    ----------
    plan : Plan
        With its work; without it, times and costs are None.
    allotted : sequence of Allotment
        As `allotments` returns them for the plan.
    """
    seconds = _seconds(plan)
    areas = [Fraction(p.area) * plan.placed[p.name] for p in plan.job.parts]
    minutes = None if seconds is None else _handed_down(seconds, Fraction(1000, 60))
    weights = largest_remainders(round(plan.weight * 1000), areas)
    costs = [_cost(plan, part.name) for part in plan.job.parts]
    found: list[Burden] = []
    for i, part in enumerate(plan.job.parts):
        pieces = [Fraction(a.pieces) for a in allotted if a.part is part]
        found += [
            Burden(*shares)  # type: ignore[arg-type]
            for shares in zip(
                _shared(minutes[i] if minutes else None, pieces),
                _shared(weights[i], pieces),
                _shared(costs[i], pieces),
                strict=True,
            )
        ]
    return found


def _cost(plan: Plan, part: str) -> int | None:
    """Hundredths that a part costs; None if nothing is stated: no set-up cost is no price."""
    if plan.work is None:
        return None
    whole = plan.work.cost
    prices = (whole.sheets, whole.cutting, whole.moving, whole.gas, whole.set_ups or None)
    if all(price is None for price in prices):
        return None
    return plan.work.part_costs[part].total


def _shared(total: int | None, pieces: Sequence[Fraction]) -> list[int | None]:
    """Shares by pieces; None where the total is not known."""
    if total is None:
        return [None] * len(pieces)
    return [*largest_remainders(total, pieces)] if pieces else []


def _handed_down(exact: Sequence[Fraction], unit: Fraction) -> list[int]:
    return largest_remainders(round(sum(exact) * unit), exact)


def _seconds(plan: Plan) -> list[Fraction] | None:
    """Machine time of all pieces of each part; None if it is not known."""
    work = plan.work
    if work is None or work.total.seconds is None:
        return None
    found = {p.name: Fraction(work.parts[p.name].beam or 0.0) for p in plan.job.parts}
    area = {p.name: Fraction(p.area) for p in plan.job.parts}
    for layout, effort in zip(plan.layouts, work.layouts, strict=True):
        moving = Fraction(effort.moving or 0.0) * layout.runs
        whole = sum(area[name] * n for name, n in layout.counts.items())
        for name, n in layout.counts.items():
            found[name] += moving * area[name] * n / whole
    return [found[p.name] for p in plan.job.parts]
