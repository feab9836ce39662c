"""A few sheets of a plan taken apart and filled anew, for plans of many sheets.

Filling all sheets again takes too long where there are many pieces. So containers are chosen
that cost less than the best plan and may just suffice, they are filled once, and what finds
no place is then brought in bit by bit: the sheets are dealt out in small groups that share
nothing, each with some of the missing pieces, and a group is filled again with large shapes
first, but for some chance. What is still missing then is pressed in by overlap minimisation,
for which many sheets have room enough, but nowhere in one place. Groups are worked on side by
side, and whatever a group gains is kept.

References
----------
G. Schrimpf, J. Schneider, H. Stamm-Wilbrandt, G. Dueck, "Record breaking optimization
results using the ruin and recreate principle", Journal of Computational Physics 159 (2000)
139-171.

E. Falkenauer, "A hybrid grouping genetic algorithm for bin packing", Journal of Heuristics 2
(1996) 5-30, for the sum of squares of what is filled.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from nestlib.packing.dense import counts, dense
from nestlib.packing.filling import RULES, Filling, Recipe, Tick, fill_rest
from nestlib.packing.interface import PackedSheet
from nestlib.packing.kernels import IntArray
from nestlib.packing.order import Random
from nestlib.packing.problem import Problem
from nestlib.packing.squeezing import Sheets, in_order, put_back, share
from nestlib.packing.stopping import SearchState, StoppingRule, within_round
from nestlib.packing.streams import OverError

#: Groups of one round, sheets of a group, and how often each is filled anew.
GROUPS, _FEWEST, _MOST, _TRIALS = 4, 2, 3, 3

#: Tries of the engine for one sheet.
_TRIES = 20

#: By how much chance changes the area that shapes are sorted by: standard deviations of its
#: logarithm.
_SPREADS = (0.05, 0.15, 0.4)


@dataclass(frozen=True)
class Refill:
    """What a worker is asked to fill.

    Parameters
    ----------
    recipe : Recipe
        In which order, and which containers; there are no others.
    stop : StoppingRule
        Asked between pieces.
    state : SearchState
        When the round began.
    """

    recipe: Recipe
    stop: StoppingRule
    state: SearchState


@dataclass(frozen=True)
class Group:
    """Sheets that a worker is asked to fill anew.

    Parameters
    ----------
    sheets : tuple of PackedSheet
        One run of each, without fillers.
    extra : tuple of int
        For each shape, how many missing pieces shall be brought in.
    seed : tuple of int
        Of all chance.
    stop : StoppingRule
        Asked between pieces.
    state : SearchState
        When the round began.
    """

    sheets: Sheets
    extra: tuple[int, ...]
    seed: tuple[int, ...]
    stop: StoppingRule
    state: SearchState


def refilled(problem: Problem, task: Refill) -> Sheets:
    """Fill the containers that a recipe asks for; empty if it is over before that is done."""
    over = within_round(task.stop, task.state)

    def tick(_: int) -> None:
        if over():
            raise OverError

    try:
        return _filled(problem, task.recipe, problem.required, tick)
    except OverError:
        return ()


def dealt(
    problem: Problem, sheets: Sheets, missing: Sequence[int], random: Random
) -> tuple[Sheets, list[tuple[Sheets, tuple[int, ...]]]]:
    """Deal single runs of sheets and missing pieces out in groups, emptier sheets rather.

    Parameters
    ----------
    problem : Problem
        What is to be placed where.
    sheets : tuple of PackedSheet
        A plan without fillers.
    missing : sequence of int
        For each shape, how many pieces are not in it.
    random : numpy.random.Generator
        Source of chance.

    Returns
    -------
    rest : tuple of PackedSheet
        What is in no group.
    groups : list of (tuple of PackedSheet, tuple of int)
        Sheets of each, and how many missing pieces of each shape.
    """
    single = [k for k, s in enumerate(sheets) for _ in range(min(s.runs, GROUPS))]
    gaps = np.array([max(0.0, 1.0 - share(problem, sheets[k])) + 1e-3 for k in single])
    order = [single[k] for k in np.argsort(random.exponential(size=len(single)) / gaps)]
    members: list[list[int]] = []
    while order and len(members) < GROUPS:
        size = int(random.integers(_FEWEST, _MOST + 1))
        members.append(sorted(order[:size]))
        order = order[size:]
    taken = Counter(k for group in members for k in group)
    rest = [replace(s, runs=s.runs - taken[k]) for k, s in enumerate(sheets)]
    even = np.full(len(members), 1.0 / max(1, len(members)))
    parts = random.multinomial(missing, even).T.tolist() if members else []
    groups = [
        (tuple(replace(sheets[k], runs=1) for k in group), tuple(part))
        for group, part in zip(members, parts, strict=True)
    ]
    return tuple(s for s in rest if s.runs), groups


def gathered(problem: Problem, sheets: Iterable[PackedSheet]) -> Sheets:
    """Put a plan together again; sheets that are alike become one with as many runs.

    What is missing may now fit somewhere.
    """
    runs: Counter[PackedSheet] = Counter()
    for s in put_back(problem, list(sheets), 0):
        runs[replace(s, runs=1)] += s.runs
    return in_order(problem, [replace(s, runs=n) for s, n in runs.items()])


def recreated(problem: Problem, group: Group) -> Sheets:
    """Fill sheets anew a few times; return the best that was found, or the sheets themselves.

    Parameters
    ----------
    problem : Problem
        What is to be placed where.
    group : Group
        Which sheets, and what else shall lie on them.
    """
    random = np.random.default_rng(group.seed)
    over = within_round(group.stop, group.state)
    wanted = np.array(group.extra)
    for sheet in group.sheets:
        np.add.at(wanted, [p.shape for p in sheet.placements], 1)

    def tick(_: int) -> None:
        if over():
            raise OverError

    best = group.sheets
    try:
        for _ in range(_TRIALS):
            recipe = _large_first(problem, best, wanted.tolist(), random)
            new = _filled(problem, recipe, wanted.tolist(), tick)
            if _rank(problem, new) >= _rank(problem, best):
                best = new
    except OverError:
        pass
    return _pressed_in(problem, best, wanted, group.seed, over)


def _pressed_in(
    problem: Problem,
    sheets: Sheets,
    wanted: IntArray,
    seed: tuple[int, ...],
    over: Callable[[], bool],
) -> Sheets:
    """Press what is wanted and lies nowhere into sheets by the engine, the emptiest first."""
    found = [replace(s, runs=1) for s in sheets for _ in range(s.runs)]
    left = wanted - sum(np.array(counts(problem, s.placements)) for s in found)
    for k in sorted(range(len(found)), key=lambda k: share(problem, found[k])):
        sheet = found[k]
        if over() or not left.any():
            break
        own = np.array(counts(problem, sheet.placements))
        placements = dense(problem).filled(
            sheet.container,
            sheet.placements,
            own + left,
            problem.polygon_areas,
            (*seed, k),
            _TRIES,
            over,
        )
        left += own - counts(problem, placements)
        found[k] = replace(sheet, placements=placements)
    return tuple(found)


def _large_first(problem: Problem, sheets: Sheets, wanted: Sequence[int], random: Random) -> Recipe:
    """Place large shapes first but for some chance, in the containers in any order."""
    spread = random.choice(_SPREADS)
    areas = np.array(problem.outline_areas) * random.lognormal(0.0, spread, len(wanted))
    lots = tuple((int(s), wanted[s]) for s in np.argsort(-areas) if wanted[s])
    asked = random.permutation([s.container for s in sheets])
    free = tuple(None for _ in wanted)
    return Recipe(lots, free, int(random.integers(len(RULES))), tuple(map(int, asked)))


def _filled(problem: Problem, recipe: Recipe, wanted: Sequence[int], tick: Tick) -> Sheets:
    """Fill the containers that a recipe asks for, and no others."""
    stock = [float(recipe.containers.count(c)) for c in range(len(problem.rooms))]
    filling = Filling([], list(wanted))
    fill_rest(problem, recipe, filling, stock, tick)
    return tuple(filling.sheets)


def _rank(problem: Problem, sheets: Sheets) -> tuple[float, float]:
    """Area that lies on sheets, then how unevenly: larger is better."""
    areas = [(share(problem, s), problem.rooms[s.container].area * s.runs) for s in sheets]
    return round(sum(s * a for s, a in areas), 3), sum(s * s * a for s, a in areas)
