"""What to order: an integer program over layouts, packs and least orders.

For every column a number of runs, for every format a number of packs; what is cut is at hand
or ordered, what is ordered and not cut goes to the stock at its stated value. The program is
the cutting-stock problem with several stock lengths of P. C. Gilmore and R. E. Gomory, "A
linear programming approach to the cutting-stock problem, part II", Operations Research 11
(1963) 863-888, with whole packs. CP-SAT solves it exactly over the columns it is given.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from ortools.sat.python import cp_model

from nestlib.buying.beginning import beginning
from nestlib.buying.choice import Choice, Runs
from nestlib.buying.columns import Column, promising, usable
from nestlib.buying.formats import Format, LeastOrder, grams, holders

#: Effort of one program, in the solver's own deterministic unit (of about a second).
EFFORT = 1.0


@dataclass(frozen=True)
class Case:
    """What is wanted, and from what it can be made.

    Parameters
    ----------
    wanted : tuple of int
        Pieces of each part.
    formats : tuple of Format
        What there is and what can be ordered.
    columns : tuple of Column
        Layouts.
    least : tuple of LeastOrder
        For each offer.
    delivery : int
        Price of ordering anything at all, in hundredths.
    bound : int
        No choice costs less, in hundredths: proved by other means.
    plans : tuple of tuple
        Plans to begin with, as layouts and how often each is cut: no choice costs more than
        the cheapest of them that may be ordered.
    """

    wanted: tuple[int, ...]
    formats: tuple[Format, ...]
    columns: tuple[Column, ...]
    least: tuple[LeastOrder, ...] = ()
    delivery: int = 0
    bound: int = 0
    plans: tuple[Runs, ...] = ()


def choose(
    case: Case, *, most_formats: int | None = None, seed: int = 0, effort: float = EFFORT
) -> Choice | None:
    """Choose what to order at least cost.

    Parameters
    ----------
    case : Case
        What is wanted, and from what it can be made.
    most_formats : int, optional
        So many formats are ordered at most; any number by default.
    seed : int
        Of the solver.
    effort : float
        When the solver gives up proving, in its own deterministic unit.

    Returns
    -------
    Choice or None
        None if the columns cannot make all that is wanted.

    Examples
    --------
    Five pieces; four lie on a large sheet for 30.00 and one on a small one for 10.00:

    >>> formats = Format("large", 3000, 0, 4.0, 4.0, 0), Format("small", 1000, 0, 1.0, 1.0, 1)
    >>> case = Case((5,), formats, (Column(0, (4,)), Column(1, (1,))))
    >>> choose(case).packs, choose(case).cost
    ((1, 1), 4000)
    """
    possible = usable(case.columns, case.formats)
    columns = promising(possible, case.formats, case.wanted)
    all_offered = len(columns) == len(possible)
    begin = beginning(
        case.plans, case.wanted, case.formats, case.least, most_formats, case.delivery
    )
    if begin is not None:
        columns = list(dict.fromkeys([*columns, *(column for column, _ in begin.runs)]))
    program = Program(case, columns)
    if begin is not None:
        program.begin(begin)
    if most_formats is not None:
        program.model.add(sum(program.opened()) <= most_formats)
    program.model.minimize(program.cost)
    solver = solver_of(seed, effort)
    status = solver.solve(program.model)
    if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        return begin and replace(begin, exact=begin.cost <= case.bound)
    exact = status == cp_model.OPTIMAL and all_offered
    reached = solver.objective_value <= case.bound
    return program.choice(solver, exact or reached)


class Order:
    """The integer program of an order, whatever it is for: packs, sheets used and the cost.

    Parameters
    ----------
    case : Case
        Formats and terms; how many pieces are wanted tells how many sheets are enough.
    """

    def __init__(self, case: Case) -> None:
        self.case = case
        self.model = model = cp_model.CpModel()
        most = [most_packs(case, f) for f in case.formats]
        self.packs = [model.new_int_var(0, n, "") for n in most]
        self.used = [
            model.new_int_var(0, f.at_hand + f.pack * n, "")
            for f, n in zip(case.formats, most, strict=True)
        ]
        for form, packs, used in zip(case.formats, self.packs, self.used, strict=True):
            model.add(used <= form.at_hand + form.pack * packs)
        keep_least_orders(model, case, self.packs)
        self.cost = self._cost()
        model.add(self.cost >= case.bound)

    def opened(self) -> list[cp_model.IntVar]:
        """Return whether each format is ordered."""
        opened = []
        for packs in self.packs:
            any_packs = self.model.new_bool_var("")
            self.model.add(packs == 0).only_enforce_if(~any_packs)
            opened.append(any_packs)
        return opened

    def _cost(self) -> cp_model.LinearExpr:
        """What is paid, less what the stock gains or more what it loses."""
        case, total = self.case, 0
        for form, packs, used in zip(case.formats, self.packs, self.used, strict=True):
            total += (form.price - form.value) * form.pack * packs + form.value * used
        if case.delivery:
            anything = self.model.new_bool_var("")
            for packs in self.packs:
                self.model.add(packs == 0).only_enforce_if(~anything)
            total += case.delivery * anything
        cost = self.model.new_int_var(0, _MOST_COST, "cost")
        self.model.add(cost == total)
        return cost


class Program(Order):
    """The same for given layouts: what is used holds them, and they make all that is wanted.

    Parameters
    ----------
    case : Case
        What is wanted, and from what it can be made.
    columns : sequence of Column
        Those of the case that are offered.
    """

    def __init__(self, case: Case, columns: Sequence[Column]) -> None:
        super().__init__(case)
        self.columns = columns
        self.runs = [self.model.new_int_var(0, _most_runs(case, c), "") for c in columns]
        use_sheets(self.model, case.formats, columns, self.runs, self.used)
        for part, wanted in enumerate(case.wanted):
            made = [c.counts[part] * r for c, r in zip(columns, self.runs, strict=True)]
            self.model.add(sum(made) >= wanted)

    def begin(self, plan: Choice) -> None:
        """Let the solver begin with a plan of these columns, and do no worse."""
        self.model.add(self.cost <= plan.cost)
        cut = dict(plan.runs)
        values = [*(cut.get(c, 0) for c in self.columns), *plan.packs, *plan.used]
        for variable, value in zip([*self.runs, *self.packs, *self.used], values, strict=True):
            self.model.add_hint(variable, value)

    def choice(self, solver: cp_model.CpSolver, exact: bool) -> Choice:
        """Return what a solver found."""
        packs = tuple(solver.value(p) for p in self.packs)
        runs = [(c, solver.value(r)) for c, r in zip(self.columns, self.runs, strict=True)]
        paid = sum(
            f.price * f.pack * n for f, n in zip(self.case.formats, packs, strict=True)
        ) + self.case.delivery * any(packs)
        cost = solver.value(self.cost)
        used = tuple(solver.value(u) for u in self.used)
        return Choice(packs, tuple((c, n) for c, n in runs if n), used, paid, cost, exact)


#: In hundredths.
_MOST_COST = 10**13


def use_sheets(
    model: cp_model.CpModel,
    formats: Sequence[Format],
    columns: Sequence[Column],
    runs: Sequence[cp_model.IntVar],
    used: Sequence[cp_model.IntVar],
) -> None:
    """Demand that the sheets used hold the layouts cut: each its own format, or a longer one.

    Sheets of an offer are as good as the layouts from any length on are not more than the
    sheets from that length on.

    Parameters
    ----------
    model : cp_model.CpModel
        The program.
    formats : sequence of Format
        Those of an offer stand together, the shortest first.
    columns : sequence of Column
        Layouts.
    runs : sequence of cp_model.IntVar
        How often each is cut.
    used : sequence of cp_model.IntVar
        Sheets of each format that are cut.
    """
    cut_from = [
        [r for c, r in zip(columns, runs, strict=True) if c.format == f]
        for f in range(len(formats))
    ]
    for f in range(len(formats)):
        longer = holders(formats, f)
        model.add(sum(r for h in longer for r in cut_from[h]) <= sum(used[h] for h in longer))


def keep_least_orders(
    model: cp_model.CpModel, case: Case, packs: Sequence[cp_model.IntVar]
) -> None:
    """Demand that of each offer either nothing is ordered or the least order.

    Parameters
    ----------
    model : cp_model.CpModel
        The program.
    case : Case
        Formats and least orders.
    packs : sequence of cp_model.IntVar
        How many packs of each format are ordered at a time.
    """
    for offer, least in enumerate(case.least):
        own = [(f, p) for f, p in zip(case.formats, packs, strict=True) if f.offer == offer]
        if not own or not (least.sheets or least.weight):
            continue
        ordered = model.new_bool_var("")
        for _, p in own:
            model.add(p == 0).only_enforce_if(~ordered)
        model.add(sum(f.pack * p for f, p in own) >= least.sheets).only_enforce_if(ordered)
        heavy = [(grams(f.weight * f.pack), p) for f, p in own]
        needed = grams(least.weight)
        model.add(sum(g * p for g, p in heavy) >= needed).only_enforce_if(ordered)


def solver_of(seed: int, effort: float) -> cp_model.CpSolver:
    """Return a solver that gives the same result on every run.

    Parameters
    ----------
    seed : int
        Of its chance.
    effort : float
        When it gives up, in its own deterministic unit.
    """
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    solver.parameters.random_seed = seed % 2**31
    solver.parameters.max_deterministic_time = effort
    # Its own handler would stay behind and end the whole program at the next Ctrl-C.
    solver.parameters.catch_sigint_signal = False
    return solver


def _most_runs(case: Case, column: Column) -> int:
    """No more than make all that is wanted of the part it makes slowest."""
    often = [-(-w // n) for w, n in zip(case.wanted, column.counts, strict=True) if n]
    return max(often, default=0)


def most_packs(case: Case, form: Format) -> int:
    """Return how many packs of a format are enough: for every piece, and for a least order."""
    if form.offer is None or form.barred:
        return 0
    least = case.least[form.offer] if form.offer < len(case.least) else LeastOrder()
    by_weight = -(-grams(least.weight) // max(1, grams(form.weight)))
    return -(-max(sum(case.wanted), least.sheets, by_weight) // form.pack)
