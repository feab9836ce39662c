"""Orders and cutting week by week, in the words of a purchaser."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date

from nestlib.buying.choosing import Case
from nestlib.buying.weekly import WeekPlan, Weeks, plan_weeks
from nestlib.model import Job, PriceList, Schedule, WeekRow
from nestlib.model.forecast import week_later, week_number

#: Orders can be made so many weeks before the first week, where nobody says from when on.
_EARLY = 520


def schedule_of(
    case: Case,
    job: Job,
    labels: Sequence[str],
    wanted: Sequence[Sequence[int]],
    prices: PriceList,
    order_from: str,
    seed: int,
) -> Schedule | None:
    """Plan orders and cutting at least cost.

    Parameters
    ----------
    case : Case
        Formats and layouts.
    job : Job
        Its parts.
    labels : sequence of str
        The weeks in which anything is wanted, in their order.
    wanted : sequence of sequence of int
        For each of them, pieces of each part.
    prices : PriceList
        Storage and deliveries.
    order_from : str
        Week of the first order; empty for early enough.
    seed : int
        Of the solver.

    Returns
    -------
    Schedule or None
        None if there is no such plan.
    """
    names, rows = _every_week(labels, wanted, len(job.parts))
    weights = tuple(job.metal.weight(part.area) for part in job.parts)
    first = _between(names[0], order_from) if order_from and names[0] else -_EARLY
    weeks = Weeks(rows, weights, 100 * prices.storage, first)
    plan = plan_weeks(case, weeks, seed=seed)
    if plan is None:
        return None
    plain = plan_weeks(case, weeks, pull_forward=False, seed=seed)
    if plain is not None and plain.cost < plan.cost:
        plan = replace(plain, exact=False)
    return Schedule(
        _rows(case, job, names, rows, plan, weights),
        plan.cost,
        plan.paid,
        plan.deliveries,
        plan.storage,
        None if plain is None else plain.cost,
        plan.exact,
    )


def _every_week(
    labels: Sequence[str], wanted: Sequence[Sequence[int]], parts: int
) -> tuple[list[str], tuple[tuple[int, ...], ...]]:
    """All weeks from the first to the last, those in which nothing is wanted among them."""
    named = dict(zip(labels, (tuple(row) for row in wanted), strict=True))
    names = [week_later(labels[0], i) for i in range(_between(labels[0], labels[-1]) + 1)]
    return names, tuple(named.get(name, (0,) * parts) for name in names)


def _between(first: str, last: str) -> int:
    """Weeks from one to another."""
    return _count(last) - _count(first)


def _count(week: str) -> int:
    year, number = week_number(week)
    return date.fromisocalendar(year, number, 1).toordinal() // 7 if year else number


def _rows(
    case: Case,
    job: Job,
    names: Sequence[str],
    wanted: Sequence[Sequence[int]],
    plan: WeekPlan,
    weights: Sequence[float],
) -> tuple[WeekRow, ...]:
    """Orders in the weeks in which they have to be made, and what is done in each week."""
    earliest = min((t - f.lead for t, row in enumerate(plan.packs)
                    for f, n in zip(case.formats, row, strict=True) if n), default=0)  # fmt: skip
    rows = []
    kept = [0] * len(weights)
    sheets = [f.at_hand for f in case.formats]
    for t in range(min(earliest, 0), len(names)):
        ordered = tuple(
            (f.name, f.pack * plan.packs[t + f.lead][i])
            for i, f in enumerate(case.formats)
            if 0 <= t + f.lead < len(names) and plan.packs[t + f.lead][i]
        )
        if t < 0:
            rows.append(WeekRow(week_later(names[0], t), ordered, (), {}, {}, 0.0, 0.0))
            continue
        kept = [k + m - w for k, m, w in zip(kept, plan.made[t], wanted[t], strict=True)]
        sheets = [
            s + f.pack * n - u
            for s, f, n, u in zip(sheets, case.formats, plan.packs[t], plan.used[t], strict=True)
        ]
        cut = tuple((f.name, u) for f, u in zip(case.formats, plan.used[t], strict=True) if u)
        rows.append(
            WeekRow(
                names[t],
                ordered,
                cut,
                _named(job, wanted[t]),
                _named(job, plan.made[t]),
                sum(k * w for k, w in zip(kept, weights, strict=True)),
                sum(s * f.weight for s, f in zip(sheets, case.formats, strict=True)),
            )
        )
    return tuple(rows)


def _named(job: Job, numbers: Sequence[int]) -> dict[str, int]:
    return {part.name: n for part, n in zip(job.parts, numbers, strict=True) if n}
