"""How many pieces to buy for, and when: of jobs, of a forecast, of past weeks."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from nestlib.buying.demand import Whole, enough, from_past, from_ranges, with_scrap
from nestlib.buying.simulating import SAMPLES
from nestlib.errors import InputError, Problem
from nestlib.model import ForecastRow
from nestlib.model.forecast import week_number
from nestlib.one_metal import OneMetal
from nestlib.suggesting import did_you_mean

#: Chances with which each part suffices, for which a price is always told.
LEVELS = (0.5, 0.8, 0.9, 0.95, 0.99)


@dataclass(frozen=True, eq=False)
class Wanted:
    """What may be wanted of the parts of one metal.

    Parameters
    ----------
    weeks : tuple of str
        In their order; one without a name if there are none.
    low, high : ndarray of int, shape (weeks, parts)
        Least and most pieces in each week.
    past : ndarray of int, shape (past weeks, parts), or None
        What was wanted before; then the ranges only say in which weeks it is wanted.
    """

    weeks: tuple[str, ...]
    low: Whole
    high: Whole
    past: Whole | None = None

    @property
    def certain(self) -> bool:
        """Whether nothing is left to chance."""
        return self.past is None and bool((self.low == self.high).all())

    @property
    def first_week(self) -> str:
        """The first week in which anything may be wanted."""
        return next(
            (week for week, most in zip(self.weeks, self.high, strict=True) if most.any()), ""
        )

    def drawn(self, seed: int) -> Whole:
        """Return random demands for all weeks together, shape (samples, parts)."""
        chance = np.random.default_rng(seed)
        if self.past is not None:
            return from_past(self.past, len(self.weeks), SAMPLES, chance)
        low, high = self.low.ravel().tolist(), self.high.ravel().tolist()
        every = from_ranges(low, high, SAMPLES, chance)
        total: Whole = every.reshape(SAMPLES, *self.low.shape).sum(axis=1)
        return total

    def to_cut(self, demands: Whole, level: float, scrap: float) -> tuple[int, ...]:
        """Return pieces of each part to cut, so that they suffice with a chance."""
        good = self.low.sum(axis=0).tolist() if self.certain else enough(demands, level)
        return tuple(with_scrap(int(n), scrap, level) for n in good)

    def by_week(self, total: Sequence[int]) -> tuple[tuple[int, ...], ...]:
        """Return when pieces are wanted: as usual, and all beyond that from the first week on.

        Parameters
        ----------
        total : sequence of int
            Pieces of each part in all weeks together.
        """
        usual = (self.low + self.high) // 2
        rows = usual.copy()
        for part, number in enumerate(total):
            left = number
            # Fewer than usual: the last weeks go without.
            for week in range(len(rows)):
                rows[week, part] = min(left, rows[week, part])
                left -= int(rows[week, part])
            needed = np.flatnonzero(usual[:, part])
            rows[int(needed[0]) if len(needed) else 0, part] += left
        return tuple(tuple(int(n) for n in row) for row in rows)


def wanted_of(
    metal: OneMetal, forecast: Sequence[ForecastRow], past: Sequence[ForecastRow]
) -> Wanted:
    """Return what may be wanted of a metal.

    Parameters
    ----------
    metal : OneMetal
        Its parts; without a forecast also how many are due when.
    forecast : sequence of ForecastRow
        Takes the place of the quantities of the jobs.
    past : sequence of ForecastRow
        Weeks that are over: each of the weeks to come may be like any of them.
    """
    names = [part.name for part in metal.job.parts]
    rows = list(forecast) or _of_jobs(metal)
    weeks, low, high = _table(rows, names)
    if not past:
        return Wanted(weeks, low, high)
    _, before, _ = _table(past, names)
    if not forecast:
        weeks = weeks[:1]
        low = high = np.rint(before.mean(axis=0, keepdims=True)).astype(np.int64)
    return Wanted(weeks, low, high, before)


def demand_known(metals: Sequence[OneMetal], rows: Sequence[ForecastRow]) -> None:
    """Refuse rows about parts that are in no job.

    Raises
    ------
    InputError
        With all of them.
    """
    known = [part.name for metal in metals for part in metal.job.parts]
    strange = [row for row in rows if row.part not in known]
    problems = [
        Problem("", r.place, f'no part "{r.part}" in the jobs', did_you_mean(r.part, known))
        for r in strange
    ]
    if problems:
        raise InputError(problems)


def _of_jobs(metal: OneMetal) -> list[ForecastRow]:
    """When the pieces of jobs are due; those without a day in the last week."""
    rows = []
    days = [day for due in metal.due for day in due if day is not None]
    for part, due in zip(metal.job.parts, metal.due, strict=True):
        for day, number in due.items():
            when = day or max(days, default=None)
            iso = when.isocalendar() if when else None
            week = f"{iso.year}-W{iso.week:02d}" if iso else ""
            rows.append(ForecastRow(part.name, number, number, week))
    return rows


def _table(
    rows: Sequence[ForecastRow], names: Sequence[str]
) -> tuple[tuple[str, ...], Whole, Whole]:
    """Weeks, and the least and the most of each part in each of them."""
    weeks = sorted({row.week for row in rows}, key=week_number) or [""]
    low = np.zeros((len(weeks), len(names)), np.int64)
    high = low.copy()
    for row in rows:
        if row.part in names:
            where = weeks.index(row.week), names.index(row.part)
            low[where] += row.low
            high[where] += row.high
    return tuple(weeks), low, high
