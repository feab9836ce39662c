"""Anytime improvement: several independent streams, merged in order.

What is wanted often is laid out periodically first, and these layouts are made denser in each
round. Some streams change recipes, others make the sheets of a plan denser one by one; new
layouts are made at the prices of the pieces, and the solver combines all that were found.
Where there are many pieces, so that filling all sheets again takes long, groups of sheets are
filled anew instead. A round is one task for each stream or group. Streams, groups and the work
in a task depend on the problem and the seed only, so the number of workers does not change
the result.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import Executor, Future, wait
from dataclasses import replace
from typing import TypeVar

import numpy as np

from nestlib.model import Bound
from nestlib.packing.boxes import are_boxes, box_layouts
from nestlib.packing.cutting_often import RunsTask, cut_often
from nestlib.packing.denser import DenseTask, PricedTask, lay_out, make_denser
from nestlib.packing.filling import Filling, Recipe, fill, with_fillers
from nestlib.packing.interface import PackedPlacement, PackedSheet
from nestlib.packing.order import first_recipes, recipe_of
from nestlib.packing.problem import Problem
from nestlib.packing.recreating import Group, Refill, dealt, gathered, recreated, refilled
from nestlib.packing.repeats import (
    ColumnTask,
    RepeatTask,
    grow,
    lay_out_repeats,
    planned,
    repeated_shapes,
)
from nestlib.packing.runs import Runs, run_lists
from nestlib.packing.score import excess_layouts, missing, must, net_cost
from nestlib.packing.sheets import Patterns, choose_containers, choose_layouts, prices
from nestlib.packing.squeezing import Sheets, without_fillers
from nestlib.packing.stopping import SearchState, StoppingRule
from nestlib.packing.streams import OverError, Step, Task, attempt, step_of
from nestlib.packing.tiling import is_tight, tile

#: Independent streams of changed recipes, and of sheets made denser.
STREAMS, PLANS = 4, 2

#: How many plans of layouts that are cut often are made in one round.
RUNS = 4

#: Rounds between two exchanges of the best result, and between two choices of layouts.
EXCHANGE, CHOICE = 12, 4

#: Work of one task: about this many trapezoids are placed; a piece counts for some more.
_TASK, _PIECE = 10_000, 10

#: Where one filling places more trapezoids than this, single sheets are filled anew instead.
_LARGE = 300_000

#: How much fuller than the best plan containers have to be that are aimed at.
_TIGHTER = np.array([0.006, 0.012, 0.02, 0.03])

#: Where cost is proved least, the search ends after so many rounds that brought nothing.
_SETTLED = 6

#: Effort for sheets without waste.
_TILING = 20_000

AnyTask = TypeVar("AnyTask")
Result = TypeVar("Result")


class Search:
    """Improves a first result until a rule says stop.

    Parameters
    ----------
    problem : Problem
        What is to be placed where.
    stop : StoppingRule
        When to stop.
    seed : int
        Of all chance.
    executor : concurrent.futures.Executor, optional
        Does the tasks of a round at the same time.
    clock : callable
        Seconds since the search began.
    report : callable
        Told the best sheets so far, now and then.
    prove : callable
        Returns what no plan can beat; asked once, after the first round.
    """

    def __init__(
        self,
        problem: Problem,
        stop: StoppingRule,
        seed: int,
        executor: Executor | None,
        clock: Callable[[], float],
        report: Callable[[Sequence[PackedSheet]], None],
        prove: Callable[[], Bound | None] = lambda: None,
    ) -> None:
        self.problem, self.stop, self.seed, self.executor = problem, stop, seed, executor
        self.clock, self.report, self.prove = clock, report, prove
        self.bound: Bound | None = None
        self.state = SearchState()
        self.patterns = Patterns(problem)
        self.columns: list[PackedSheet] = []
        self.boxes = are_boxes(problem)
        self.best: Step | None = None
        self.aimed: Sheets = ()

    def run(self, first: Filling) -> None:
        """Improve; the result is in `best`, also if this is interrupted."""
        self.rules = recipes = first_recipes(self.problem)
        start = step_of(self.problem, recipes[0], first.sheets)
        self.best = start
        self.patterns.add(first.tried)
        work = _work(self.problem)
        self.trials = max(1, min(32, _TASK // work))
        self.large = work > _LARGE and not self._wants_few_layouts()
        if self._over():
            return
        try:
            self.streams = list(self._starts(start, recipes))
            self.bests = list(self.streams)
            self._find_repeats()
            if self.boxes:
                self._start_from_boxes()
            if is_tight(self.problem):
                self._start_without_waste()
            self.plans = [without_fillers(self.problem, self.best.sheets)] * PLANS
            while not self._over() and not (self._is_proved() and self._is_settled()):
                self._round()
                if self.state.iterations == 1:
                    self.bound = self.prove()
        except OverError:
            pass

    def _is_proved(self) -> bool:
        """Whether nothing is missing, and no plan has a lower net cost, or fewer sheets."""
        assert self.best is not None
        problem, sheets = self.problem, self.best.sheets
        if self.bound is None or any(missing(problem, sheets)) or excess_layouts(problem, sheets):
            return False
        if any(c.cost is None for c in problem.containers):
            few = sum(s.runs for s in sheets) <= self.bound.sheets
            return few and not (problem.aims.set_up or problem.aims.worth)
        return net_cost(problem, sheets) <= self.bound.net_cost * (1 + 1e-9)

    def _is_settled(self) -> bool:
        """Whether what is left at the end has not grown for some rounds."""
        return self.state.stalled >= _SETTLED

    def _over(self) -> bool:
        self.state = replace(self.state, seconds=self.clock())
        return self.stop(self.state)

    def _tick(self, _: int) -> None:
        assert self.best is not None
        self.report(self.best.sheets)
        if self._over():
            raise OverError

    def _starts(self, start: Step, recipes: Sequence[Recipe]) -> Iterator[Step]:
        """Each stream begins with a plain rule of its own, and containers chosen by area."""
        yield start
        ratio = _fill_ratio(self.problem, start.sheets)
        for k, recipe in enumerate(recipes[1:STREAMS], 1):
            if len(self.problem.containers) > 1:
                asked = choose_containers(self.problem, min(0.99, ratio + 0.03 * k), self.seed)
                recipe = replace(recipe, containers=asked[:50])
            filling = fill(self.problem, recipe, tick=self._tick)
            self.patterns.add(filling.tried)
            step = step_of(self.problem, recipe, filling.sheets)
            self._keep(step)
            yield step

    def _find_repeats(self) -> None:
        """Lay out shapes of which many pieces are wanted periodically."""
        tasks = [
            RepeatTask(s, self._recipe(), self.seed, self.stop, self.state)
            for s in repeated_shapes(self.problem)
        ]
        self.columns = [s for found in self._outcomes(lay_out_repeats, tasks) for s in found]
        self.patterns.add(self.columns)
        self._plan_repeats()

    def _plan_repeats(self) -> bool:
        """Begin layouts with what is repeated."""
        if not self.columns:
            return False
        recipe = self._recipe()
        plan = planned(self.problem, recipe, self.columns, self._tick)
        self.patterns.add(plan)
        filled = with_fillers(self.problem, recipe, plan, self._tick)
        return self._keep(step_of(self.problem, recipe, filled))

    def _grow_repeats(self) -> bool:
        """Make two periodic layouts denser, and plan anew if there are more pieces in them."""
        first, last = self.state.iterations * PLANS, len(self.columns)
        chosen = [k % last for k in range(first, first + min(PLANS, last))]
        tasks = [
            ColumnTask(
                self.columns[k], (self.seed, k, self.state.iterations), self.stop, self.state
            )
            for k in chosen
        ]
        old = list(self.columns)
        for k, column in zip(chosen, self._outcomes(grow, tasks), strict=True):
            self.columns[k] = column
        grown = self.columns != old
        self.patterns.add(self.columns if grown else ())
        return grown and self._plan_repeats()

    def _recipe(self) -> Recipe:
        assert self.best is not None
        return self.best.recipe

    def _start_from_boxes(self) -> None:
        """Let a layout by the solver replace the worst start, if it is better."""
        assert self.best is not None
        if not self.best.sheets:
            return
        first = self.best.sheets[0].container
        layouts = box_layouts(self.problem, self.problem.areas, self.seed, first)
        self.patterns.add(layouts)
        for sheet in (s for s in layouts if s.container == first):
            recipe = recipe_of(self.problem, [sheet])
            filling = fill(self.problem, recipe, tick=self._tick)
            as_it_is = with_fillers(self.problem, recipe, [sheet], self._tick)
            for found in (filling.sheets, as_it_is):
                self._replace_worst(step_of(self.problem, recipe, found))

    def _start_without_waste(self) -> None:
        """Let sheets that are filled completely replace the worst start, if that is better."""
        tiling = tile(self.problem, effort=_TILING, seed=self.seed, over=self._over)
        self.patterns.add(tiling.found)
        if tiling.plan:
            recipe = recipe_of(self.problem, tiling.plan)
            filled = with_fillers(self.problem, recipe, tiling.plan, self._tick)
            self._replace_worst(step_of(self.problem, recipe, filled))

    def _replace_worst(self, step: Step) -> bool:
        """Let a result replace the worst stream, if it is better; tell whether it is the best."""
        worst = max(range(STREAMS), key=lambda k: self.bests[k].score)
        if step.score < self.bests[worst].score:
            self.streams[worst] = self.bests[worst] = step
        return self._keep(step)

    def _keep(self, step: Step) -> bool:
        assert self.best is not None
        better = step.score < self.best.score
        if better:
            self.best = step
        return better

    def _round(self) -> None:
        self._tick(0)
        done = self.state.iterations + 1
        better = self._recreate() if self.large else self._change_recipes()
        if self._wants_few_layouts():
            better |= self._cut_often()
        # The engine needs more time for a large problem, and gains less there.
        if not self.large or done % EXCHANGE == 0:
            better |= self._make_denser()
            better |= self._grow_repeats()
            self._lay_out_more()
        if done % CHOICE == 1:
            better |= self._choose_layouts()
        if done % EXCHANGE == 0:
            worst = max(range(len(self.bests)), key=lambda k: self.bests[k].score)
            self.streams[worst] = self.bests[worst] = min(self.bests, key=lambda s: s.score)
        self.state = SearchState(self.clock(), done, 0 if better else self.state.stalled + 1)

    def _lay_out_more(self) -> None:
        """Make layouts at the prices of the pieces, where layouts can be combined."""
        if self._is_a_choice():
            if self.boxes:
                self._lay_out_boxes()
            if not self.boxes or self._wants_few_layouts():
                self._lay_out_priced()

    def _change_recipes(self) -> bool:
        """Let each stream try changes of its recipe."""
        tasks = [
            Task(s, b, (self.seed, k, self.state.iterations), self.trials, self.stop, self.state)
            for k, (s, b) in enumerate(zip(self.streams, self.bests, strict=True))
        ]
        better = False
        for k, outcome in enumerate(self._outcomes(attempt, tasks)):
            self.streams[k], self.bests[k] = outcome.step, outcome.best
            self.patterns.add(outcome.tried)
            better |= self._keep(outcome.best)
        return better

    def _cut_often(self) -> bool:
        """Fill sheets so that each layout can be cut often, and go on from the best of them."""
        assert self.best is not None
        lists = self._run_lists()
        first = self.state.iterations * RUNS
        tasks = [
            RunsTask(
                replace(self.rules[k // len(lists) % len(self.rules)], runs=lists[k % len(lists)]),
                (self.seed, STREAMS + PLANS + 2, k),
                self.trials // RUNS,
                self.stop,
                self.state,
            )
            for k in range(first, first + min(RUNS, len(lists)))
        ]
        better = False
        for outcome in self._outcomes(cut_often, tasks):
            if outcome is not None:
                self.patterns.add(outcome.tried)
                better |= self._replace_worst(outcome.best)
        return better

    def _run_lists(self) -> list[Runs]:
        """Return how often layouts may be cut, what is likely to cost least first."""
        assert self.best is not None
        aims, sheets = self.problem.aims, self.best.sheets
        number = sum(s.runs for s in sheets)
        price = _price(self.problem, [s.container for s in sheets for _ in range(s.runs)])
        most = len(sheets) if aims.most_layouts is None else aims.most_layouts
        return run_lists(number, price / max(1, number), aims.set_up, most)

    def _recreate(self) -> bool:
        """Bring what is missing into containers that cost less than the best plan."""
        assert self.best is not None
        self.aimed = self.aimed or self._aim()
        if not self.aimed:
            return False
        problem, done = self.problem, self.state.iterations
        random = np.random.default_rng((self.seed, STREAMS + PLANS + 1, done))
        rest, groups = dealt(problem, self.aimed, missing(problem, self.aimed), random)
        tasks = [
            Group(sheets, extra, (self.seed, k, done), self.stop, self.state)
            for k, (sheets, extra) in enumerate(groups)
        ]
        found = [s for group in self._outcomes(recreated, tasks) for s in group]
        self.patterns.add(found)
        self.aimed = gathered(problem, (*rest, *found))
        if any(missing(problem, self.aimed)):
            return False
        recipe = self.best.recipe
        step = step_of(problem, recipe, with_fillers(problem, recipe, self.aimed, self._tick))
        self.aimed = ()
        return self._keep(step)

    def _aim(self) -> Sheets:
        """Fill containers that cost less than the best plan, so that least is missing."""
        assert self.best is not None
        problem, best = self.problem, self.best
        ratio = _fill_ratio(problem, best.sheets)
        sets = [choose_containers(problem, min(0.99, r), self.seed) for r in _TIGHTER + ratio]
        price = net_cost(problem, best.sheets)
        cheaper = [c for c in dict.fromkeys(sets) if c and _price(problem, c) < price]
        tasks = [Refill(replace(best.recipe, containers=c), self.stop, self.state) for c in cheaper]
        plans = [plan for plan in self._outcomes(refilled, tasks) if plan]
        for plan in plans:
            self.patterns.add(plan)
        return max(plans, key=lambda plan: _placed_area(problem, plan), default=())

    def _make_denser(self) -> bool:
        """Make a sheet of each plan denser; a plan that costs more gives way to the best."""
        assert self.best is not None
        recipe, better = self.best.recipe, False
        tasks = [
            DenseTask(sheets, recipe, (self.seed, k, self.state.iterations), self.stop, self.state)
            for k, sheets in enumerate(self.plans, STREAMS)
        ]
        for k, found in enumerate(self._outcomes(make_denser, tasks)):
            self.patterns.add(found.tried)
            better |= self._keep(found.step)
            self.plans[k] = found.sheets
            last = not self.state.iterations % EXCHANGE and found.step.score > self.best.score
            if (last and not self.large) or _costs_more(self.problem, found.step, self.best):
                self.plans[k] = without_fillers(self.problem, self.best.sheets)
        return better

    def _outcomes(
        self, work: Callable[[Problem, AnyTask], Result], tasks: Sequence[AnyTask]
    ) -> Iterator[Result]:
        """Do the tasks here or on the executor; results come in the order of the tasks."""
        if self.executor is None:
            for task in tasks:
                self._tick(0)
                yield work(self.problem, task)
            return
        futures = [self.executor.submit(work, self.problem, t) for t in tasks]
        try:
            for future in futures:
                yield self._result(future)
        finally:
            for future in futures:
                future.cancel()

    def _result(self, future: Future[Result]) -> Result:
        assert self.best is not None
        while not wait([future], timeout=0.3).done:
            self.report(self.best.sheets)
        return future.result()

    def _is_a_choice(self) -> bool:
        """Whether there is more than one sheet, so that layouts can be combined."""
        assert self.best is not None
        return sum(s.runs for s in self.best.sheets) > 1

    def _lay_out_boxes(self) -> None:
        """Let the solver fill containers, each in turn, with what is now worth most."""
        done = self.state.iterations
        values = prices(self.problem, self.patterns.best())
        first = done % len(self.problem.rooms)
        self.patterns.add(box_layouts(self.problem, values, self.seed + done, first))

    def _lay_out_priced(self) -> None:
        """Fill one container with what is now worth most, where layouts can be repeated."""
        problem, done = self.problem, self.state.iterations
        if max(problem.required) < 2:
            return
        own = [c for c, turns in enumerate(problem.turns) if any(turns)]
        container, turn = own[done % len(own)], done // len(own)
        wanted, begin = tuple(problem.required), tuple[PackedPlacement, ...]()
        values = tuple(prices(problem, self.patterns.best()))
        if self._wants_few_layouts() and turn % 2:
            wanted, values = self._shares(turn // 2), tuple(problem.polygon_areas)
        elif turn % 4 > 1:
            begin = self.patterns.most_worth(container, values)
        seed = (self.seed, STREAMS + PLANS, done)
        task = PricedTask(container, begin, wanted, values, seed, self.stop, self.state)
        for layouts in self._outcomes(lay_out, [task]):
            self.patterns.add(layouts)

    def _wants_few_layouts(self) -> bool:
        return bool(self.problem.aims.set_up) or self.problem.aims.most_layouts is not None

    def _shares(self, turn: int) -> tuple[int, ...]:
        """Return pieces of each kind for one sheet, if all sheets were alike, or few kinds."""
        assert self.best is not None
        sheets = sum(s.runs for s in self.best.sheets)
        runs = max(1, sheets // (self.problem.aims.most_layouts or 2)) + turn % (sheets + 1)
        return tuple(-(-n // runs) for n in self.problem.required)

    def _choose_layouts(self) -> bool:
        """Let the solver combine all layouts found so far."""
        assert self.best is not None
        if not self.patterns.grown or not self._is_a_choice():
            return False
        self.patterns.grown = False
        chosen = choose_layouts(
            self.problem,
            self.patterns.promising(),
            self.seed,
            known=without_fillers(self.problem, self.best.sheets),
        )
        if not chosen:
            return False
        self.patterns.add(chosen)
        recipe = self.best.recipe
        return self._keep(
            step_of(self.problem, recipe, with_fillers(self.problem, recipe, chosen, self._tick))
        )


def _costs_more(problem: Problem, step: Step, best: Step) -> bool:
    """Whether a plan costs more than another, or misses more."""
    return must(problem, step.sheets) > must(problem, best.sheets)


def _price(problem: Problem, containers: Sequence[int]) -> float:
    return sum(problem.costs[c] for c in containers)


def _placed_area(problem: Problem, sheets: Sequence[PackedSheet]) -> float:
    return sum(problem.polygon_areas[p.shape] * s.runs for s in sheets for p in s.placements)


def _work(problem: Problem) -> int:
    """Trapezoids to place in one filling, over all orientations and containers tried."""
    counts = [r + f for r, f in zip(problem.required, problem.fillers, strict=True)]
    found = (max((t[s] for t in problem.turns), key=len) for s in range(len(counts)))
    return 1 + len(problem.rooms) * sum(
        min(n, 100) * min(len(turns), 8) * (len(turns[0].upright) + _PIECE)
        for n, turns in zip(counts, found, strict=True)
        if turns
    )


def _fill_ratio(problem: Problem, sheets: Sequence[PackedSheet]) -> float:
    """Part of the rooms that pieces fill."""
    room = sum(problem.rooms[s.container].area * s.runs for s in sheets)
    return _placed_area(problem, sheets) / room if room else 1.0
