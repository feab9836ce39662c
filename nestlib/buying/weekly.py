"""What to order and cut in which week: parts pulled forward to fill sheets, or not.

Pieces that are cut before their week are kept at a price for their weight, sheets too; each
week in which anything arrives has the price of a delivery. For one part with one layout
this is the lot-sizing problem of H. M. Wagner and T. M. Whitin, "Dynamic version of the
economic lot size model", Management Science 5 (1958) 89-96; with layouts of several parts on
sheets in packs it is an integer program over the same columns as a single order.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TypeAlias

from ortools.sat.python import cp_model

from nestlib.buying.choosing import Case, keep_least_orders, most_packs, solver_of, use_sheets
from nestlib.buying.columns import Column, promising, usable

#: Effort of one program, in the solver's own deterministic unit, and columns offered to it.
EFFORT, OFFERED = 6.0, 80

#: Storage is counted in this part of a hundredth, since a kilogram in a week costs little.
_FINE = 100

Var: TypeAlias = cp_model.IntVar


@dataclass(frozen=True)
class Weeks:
    """What is wanted week by week, and what keeping it costs.

    Parameters
    ----------
    wanted : tuple of tuple of int
        For each week, pieces of each part.
    part_weights : tuple of float
        Weight of a piece of each part, in kg.
    storage : float
        Price of keeping a kilogram for a week, in hundredths.
    first_order : int
        Orders can be made from this week on, counted from the first in which anything is
        wanted; below 0 before it. What is ordered arrives its lead later.
    """

    wanted: tuple[tuple[int, ...], ...]
    part_weights: tuple[float, ...]
    storage: float = 0.0
    first_order: int = -520


@dataclass(frozen=True)
class WeekPlan:
    """What is done week by week.

    Parameters
    ----------
    packs : tuple of tuple of int
        For each week, packs of each format that arrive.
    used : tuple of tuple of int
        For each week, sheets of each format that are cut.
    made : tuple of tuple of int
        For each week, pieces of each part that are cut and wanted.
    cost : int
        Purchase, deliveries and storage, less what is left in stock, in hundredths.
    paid, deliveries, storage : int
        Parts of it, in hundredths.
    exact : bool
        Whether no plan of these columns costs less.
    """

    packs: tuple[tuple[int, ...], ...]
    used: tuple[tuple[int, ...], ...]
    made: tuple[tuple[int, ...], ...]
    cost: int
    paid: int
    deliveries: int
    storage: int
    exact: bool


def plan_weeks(
    case: Case, weeks: Weeks, *, pull_forward: bool = True, seed: int = 0, effort: float = EFFORT
) -> WeekPlan | None:
    """Plan orders and cutting at least cost.

    Parameters
    ----------
    case : Case
        Formats, columns and terms; its number of pieces and its bound do not count.
    weeks : Weeks
        What is wanted when.
    pull_forward : bool
        Whether pieces may be cut before the week in which they are wanted.
    seed : int
        Of the solver.
    effort : float
        When the solver gives up, in its own deterministic unit.

    Returns
    -------
    WeekPlan or None
        None if there is none: something cannot be made, or not in time.
    """
    wanted = [sum(row[p] for row in weeks.wanted) for p in range(len(weeks.part_weights))]
    possible = usable(case.columns, case.formats)
    columns = promising(possible, case.formats, wanted, OFFERED)
    program = _Program(case, weeks, columns, wanted, pull_forward)
    solver = solver_of(seed, effort)
    status = solver.solve(program.model)
    if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        return None
    return program.plan(solver, status == cp_model.OPTIMAL and len(columns) == len(possible))


class _Program:
    """The integer program of all weeks."""

    def __init__(
        self,
        case: Case,
        weeks: Weeks,
        columns: Sequence[Column],
        wanted: Sequence[int],
        pull_forward: bool,
    ) -> None:
        self.case, self.weeks, self.columns, self.wanted = case, weeks, columns, wanted
        self.model = cp_model.CpModel()
        self.number = len(weeks.wanted)
        self.most = max(1, sum(wanted))
        self.packs = [self._packs(t) for t in range(self.number)]
        self.used = [self._whole(len(case.formats), self.most) for _ in range(self.number)]
        self.made = [self._made(t) for t in range(self.number)]
        self.deliveries = [self._delivery(packs) for packs in self.packs]
        self.parts_kept = self._keep_parts(pull_forward)
        self.sheets_kept = self._keep_sheets()
        self.model.minimize(self._total())

    def _whole(self, number: int, most: int) -> list[Var]:
        return [self.model.new_int_var(0, most, "") for _ in range(number)]

    def _packs(self, week: int) -> list[Var]:
        """Packs that arrive in a week, of what can be ordered in time for it."""
        packs = []
        for form in self.case.formats:
            in_time = form.orderable and week - form.lead >= self.weeks.first_order
            most = max(self.most, most_packs(self.case, form) * form.pack)
            packs.append(self.model.new_int_var(0, -(-most // form.pack) if in_time else 0, ""))
        keep_least_orders(self.model, self.case, packs)
        return packs

    def _made(self, week: int) -> list[Var]:
        """Pieces cut in a week: no more than lie on the layouts that are cut in it."""
        runs = self._whole(len(self.columns), self.most)
        use_sheets(self.model, self.case.formats, self.columns, runs, self.used[week])
        made = [self.model.new_int_var(0, n, "") for n in self.wanted]
        for part, m in enumerate(made):
            on = [c.counts[part] * r for c, r in zip(self.columns, runs, strict=True)]
            self.model.add(m <= sum(on))
        return made

    def _delivery(self, packs: Sequence[Var]) -> Var:
        anything = self.model.new_bool_var("")
        for p in packs:
            self.model.add(p == 0).only_enforce_if(~anything)
        return anything

    def _keep_parts(self, pull_forward: bool) -> list[list[Var]]:
        """Pieces that stay after each week; after the last none does."""
        kept: list[list[Var]] = []
        before: Sequence[Var | int] = [0] * len(self.wanted)
        for t, needed in enumerate(self.weeks.wanted):
            last = t == self.number - 1 or not pull_forward
            after = [self.model.new_int_var(0, 0 if last else n, "") for n in self.wanted]
            for p, need in enumerate(needed):
                self.model.add(before[p] + self.made[t][p] == need + after[p])
            kept.append(after)
            before = after
        return kept

    def _keep_sheets(self) -> list[list[Var]]:
        """Sheets that stay after each week."""
        kept: list[list[Var]] = []
        before: Sequence[Var | int] = [f.at_hand for f in self.case.formats]
        for t in range(self.number):
            after = self._whole(len(self.case.formats), _MANY)
            for f, form in enumerate(self.case.formats):
                arrive = form.pack * self.packs[t][f]
                self.model.add(after[f] == before[f] + arrive - self.used[t][f])
            kept.append(after)
            before = after
        return kept

    def _total(self) -> cp_model.LinearExpr:
        """Everything, in fine parts of a hundredth."""
        case, total = self.case, self._keeping()
        for f, form in enumerate(case.formats):
            bought = sum(packs[f] for packs in self.packs) * form.pack
            total += _FINE * (form.price - form.value) * bought
            total += _FINE * form.value * sum(used[f] for used in self.used)
        return total + _FINE * case.delivery * sum(self.deliveries)

    def _keeping(self) -> cp_model.LinearExpr:
        """Storage from each week to the next, in fine parts of a hundredth."""
        total = 0
        for f, form in enumerate(self.case.formats):
            total += self._storage(form.weight) * sum(row[f] for row in self.sheets_kept[:-1])
        for p, weight in enumerate(self.weeks.part_weights):
            total += self._storage(weight) * sum(row[p] for row in self.parts_kept)
        return total

    def _storage(self, weight: float) -> int:
        return round(_FINE * self.weeks.storage * weight)

    def plan(self, solver: cp_model.CpSolver, exact: bool) -> WeekPlan:
        """What a solver found."""

        def values(rows: Sequence[Sequence[Var]]) -> tuple[tuple[int, ...], ...]:
            return tuple(tuple(solver.value(v) for v in row) for row in rows)

        packs = values(self.packs)
        forms = self.case.formats
        return WeekPlan(
            packs,
            values(self.used),
            values(self.made),
            cost=round(solver.objective_value / _FINE),
            paid=sum(
                f.price * f.pack * n for row in packs for f, n in zip(forms, row, strict=True)
            ),
            deliveries=self.case.delivery * sum(solver.value(d) for d in self.deliveries),
            storage=round(solver.value(self._keeping()) / _FINE),
            exact=exact,
        )


#: More sheets than this are never kept.
_MANY = 10**7
