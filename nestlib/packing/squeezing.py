"""Make the sheets of a plan denser, so that the last ones get empty.

A sheet, or several at once, take in pieces of those that are filled less, by overlap
minimisation; what they took vanishes there. The last sheet is pushed together, so that its
rest is one strip, and now and then the pieces of a sheet are tried in a cheaper container.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np

from nestlib.packing.dense import Placements, counts, dense
from nestlib.packing.filling import Recipe, SheetPacker
from nestlib.packing.interface import PackedSheet
from nestlib.packing.problem import Problem
from nestlib.packing.score import missing, must
from nestlib.packing.sheets import without_surplus

#: Tries of the engine for one sheet.
TRIES = 40

#: How often the last of several sheets is pushed together.
_LAST = 0.25

#: How often a sheet is filled from nothing, and how often it shall be made as often as it is.
_AFRESH, _AS_OFTEN = 0.3, 0.5

#: How often several sheets are moved apart together; with at most so many pieces, and so
#: many sheets cut alike.
_TOGETHER, _MOST_TOGETHER, _MOST_RUNS = 0.4, 150, 4

#: A shape of the next higher priority is worth this much more, where pieces are missing.
_PRIORITY = 100.0

Sheets = tuple[PackedSheet, ...]


def without_fillers(problem: Problem, sheets: Sequence[PackedSheet]) -> Sheets:
    """Leave out fillers, and put sheets of the lowest rank and dense ones in front."""
    plain = [replace(s, placements=_required(problem, s)) for s in sheets]
    return in_order(problem, [s for s in plain if s.placements])


def in_order(problem: Problem, sheets: Sequence[PackedSheet]) -> Sheets:
    """Put sheets of the lowest rank and dense ones in front."""
    return tuple(sorted(sheets, key=lambda s: _place(problem, s)))


def _required(problem: Problem, sheet: PackedSheet) -> Placements:
    return tuple(p for p in sheet.placements if not problem.shapes[p.shape].filler)


def _place(problem: Problem, sheet: PackedSheet) -> tuple[int, float]:
    return problem.containers[sheet.container].order, -share(problem, sheet)


def share(problem: Problem, sheet: PackedSheet) -> float:
    """Return which part of a room its pieces take."""
    return _area(problem, sheet.placements) / problem.rooms[sheet.container].area


def _area(problem: Problem, placements: Placements) -> float:
    return sum(problem.polygon_areas[p.shape] for p in placements)


def squeeze(
    problem: Problem, sheets: Sheets, seed: tuple[int, ...], over: Callable[[], bool]
) -> tuple[Sheets, list[PackedSheet]]:
    """Make one sheet of a plan denser, or push the last one together.

    Parameters
    ----------
    problem : Problem
        What is to be placed where.
    sheets : tuple of PackedSheet
        The plan, as `without_fillers` returns it.
    seed : tuple of int
        Of all chance.
    over : callable
        Whether to stop at once.

    Returns
    -------
    sheets : tuple of PackedSheet
        A plan that costs no more and misses no more.
    found : list of PackedSheet
        Its new layouts.
    """
    random = np.random.default_rng(seed)
    if not sheets:
        return sheets, []
    old, short = list(sheets), any(missing(problem, sheets))
    if (len(sheets) == 1 and not short) or random.random() < _LAST:
        cheaper = _cheaper(problem, old, seed, over) if random.random() < 0.5 else None
        changed = cheaper or _push_together(problem, old, seed, over)
    elif random.random() < _TOGETHER:
        changed = _share_out(problem, old, seed, over)
    else:
        last = len(sheets) if short else len(sheets) - 1
        gaps = np.array([max(0.0, 1.0 - share(problem, s)) ** 2 for s in sheets[:last]]) + 1e-9
        at = int(random.choice(last, p=gaps / gaps.sum()))
        changed = _take_in(problem, old, at, seed, over)
    return in_order(problem, changed), [s for s in changed if s not in sheets]


def _take_in(
    problem: Problem,
    sheets: list[PackedSheet],
    at: int,
    seed: tuple[int, ...],
    over: Callable[[], bool],
) -> list[PackedSheet]:
    """Let a sheet take in pieces of those behind it, and pieces that have no place yet."""
    sheet, random = sheets[at], np.random.default_rng((*seed, 1))
    own = np.array(counts(problem, sheet.placements))
    pool = np.array(missing(problem, sheets))
    short = bool(pool.any())
    for other in sheets[at:]:
        pool += other.runs * np.array(counts(problem, other.placements))
    if sheet.runs > 1 and random.random() < _AS_OFTEN:
        most = np.maximum(own, pool // sheet.runs)
    else:
        most = pool
    begin = () if random.random() < _AFRESH else sheet.placements
    worth = np.array(values(problem, short))
    placements = dense(problem).filled(sheet.container, begin, most, worth, seed, TRIES, over)
    made = np.array(counts(problem, placements))
    if made @ worth <= own @ worth * (1 + 1e-12):
        return sheets
    used = sum(s.runs for s in sheets[:at] if s.container == sheet.container)
    often = (pool // np.maximum(made, 1))[made > 0].min()
    runs = int(min(often, problem.quantities[sheet.container] - used))
    new = replace(sheet, placements=placements, runs=runs)
    old = [replace(sheet, runs=sheet.runs - runs)] if runs < sheet.runs else []
    changed = [*sheets[:at], new, *old, *sheets[at + 1 :]]
    return _settled(problem, sheets, changed, at + 1, seed, over)


def _share_out(
    problem: Problem, sheets: list[PackedSheet], seed: tuple[int, ...], over: Callable[[], bool]
) -> list[PackedSheet]:
    """Let pieces of the emptiest sheet move to several others, which are moved apart together."""
    random = np.random.default_rng((*seed, 3))
    single = [replace(s, runs=1) for s in sheets for _ in range(min(s.runs, _MOST_RUNS))]
    last = single.pop()
    chosen = _chosen(problem, single, random)
    if len(chosen) < 2:
        return sheets
    own = [single[k] for k in chosen]
    pool = np.array(missing(problem, sheets))
    for s in [*own, last]:
        pool += counts(problem, s.placements)
    short = any(missing(problem, sheets))
    found = dense(problem).filled_together(
        [s.container for s in own],
        [s.placements for s in own],
        pool,
        values(problem, short),
        seed,
        TRIES,
        over,
    )
    new = [replace(s, placements=p) for s, p in zip(own, found, strict=True) if p]
    if new == own:
        return sheets
    rest = _without(sheets, [*own, last])
    return _settled(problem, sheets, [*rest, *new, last], len(rest), seed, over)


def _settled(
    problem: Problem,
    old: list[PackedSheet],
    changed: list[PackedSheet],
    first: int,
    seed: tuple[int, ...],
    over: Callable[[], bool],
) -> list[PackedSheet]:
    """Leave out what lies twice and place what was taken out; the old plan if that is worse."""
    changed = put_back(problem, without_surplus(problem, changed), first)
    if any(missing(problem, changed)) and not any(missing(problem, old)):
        changed = _pressed_in(problem, changed, seed, over)
    return old if _is_worse(problem, changed, old) else changed


def _chosen(
    problem: Problem, single: Sequence[PackedSheet], random: np.random.Generator
) -> list[int]:
    """Choose sheets that are moved apart together, emptier ones rather, in their order."""
    gaps = np.array([max(0.0, 1.0 - share(problem, s)) + 1e-3 for s in single])
    order = np.argsort(random.exponential(size=len(single)) / gaps)
    chosen: list[int] = []
    room = _MOST_TOGETHER
    for k in map(int, order):
        joined = [single[j].container for j in (*chosen, k)]
        pieces = len(single[k].placements)
        if pieces <= room and dense(problem).are_joinable(joined):
            chosen.append(k)
            room -= pieces
    return sorted(chosen)


def _without(sheets: Sequence[PackedSheet], taken: Sequence[PackedSheet]) -> list[PackedSheet]:
    """Take single runs out of a plan."""
    left = list(sheets)
    for one in taken:
        at = next(k for k, s in enumerate(left) if replace(s, runs=1) == one)
        left[at] = replace(left[at], runs=left[at].runs - 1)
        if not left[at].runs:
            del left[at]
    return left


def values(problem: Problem, short: bool) -> list[float]:
    """Return what pieces are worth: their area, and more by priority if some are missing."""
    if not short:
        return problem.polygon_areas
    levels = sorted({s.priority for s in problem.shapes})
    return [
        a * _PRIORITY ** min(levels.index(s.priority), 4)
        for a, s in zip(problem.polygon_areas, problem.shapes, strict=True)
    ]


def put_back(problem: Problem, sheets: list[PackedSheet], first: int) -> list[PackedSheet]:
    """Find places for missing pieces, on single sheets from the first given on, in the list."""
    left = missing(problem, sheets)
    order = sorted(range(len(left)), key=lambda s: -problem.outline_areas[s])
    recipe = Recipe((), tuple(None for _ in left))
    for k in range(first, len(sheets)):
        sheet = sheets[k]
        if sheet.runs > 1 or not any(left):
            continue
        packer = SheetPacker(problem, recipe, sheet.container)
        packer.restore(sheet.placements)
        for shape in order:
            left[shape] -= packer.put(shape, left[shape])
        sheets[k] = replace(sheet, placements=tuple(packer.placements))
    return sheets


def _pressed_in(
    problem: Problem, sheets: list[PackedSheet], seed: tuple[int, ...], over: Callable[[], bool]
) -> list[PackedSheet]:
    """Make room for missing pieces on the last sheet."""
    last = sheets[-1]
    if last.runs > 1:
        return sheets
    wanted = np.add(missing(problem, sheets), counts(problem, last.placements))
    placements = dense(problem).filled(
        last.container, last.placements, wanted, problem.polygon_areas, seed, TRIES // 2, over
    )
    return [*sheets[:-1], replace(last, placements=placements)]


def _is_worse(problem: Problem, new: list[PackedSheet], old: list[PackedSheet]) -> bool:
    """Whether a plan misses more, or misses the same and costs more."""
    used: Counter[int] = Counter()
    for s in new:
        used[s.container] += s.runs
    too_many = any(n > problem.quantities[c] for c, n in used.items())
    return too_many or must(problem, new) > must(problem, old)


def _push_together(
    problem: Problem, sheets: list[PackedSheet], seed: tuple[int, ...], over: Callable[[], bool]
) -> list[PackedSheet]:
    """Make a sheet short along x: the last one, or any if what is left of it is worth anything."""
    at = len(sheets) - 1
    if problem.aims.worth:
        at = int(np.random.default_rng((*seed, 4)).integers(len(sheets)))
    sheet = sheets[at]
    own = counts(problem, sheet.placements)
    placements = dense(problem).filled(
        sheet.container,
        sheet.placements,
        own,
        problem.polygon_areas,
        seed,
        TRIES,
        over,
        shorten=True,
    )
    changed = [*sheets[:at], replace(sheet, placements=placements), *sheets[at + 1 :]]
    return sheets if _is_worse(problem, changed, sheets) else changed


def _cheaper(
    problem: Problem, sheets: list[PackedSheet], seed: tuple[int, ...], over: Callable[[], bool]
) -> list[PackedSheet] | None:
    """Try the pieces of one sheet in a cheaper container; None if there is none."""
    random = np.random.default_rng((*seed, 2))
    options = [
        (k, c)
        for k, sheet in enumerate(sheets)
        for c in range(len(problem.containers))
        if _could_be_cheaper(problem, sheets, sheet, c)
    ]
    if not options:
        return None
    k, c = options[int(random.integers(len(options)))]
    wanted = counts(problem, sheets[k].placements)
    begin = _first_layout(problem, c, wanted)
    areas = problem.polygon_areas
    placements = dense(problem).filled(c, begin, wanted, areas, seed, TRIES, over)
    if counts(problem, placements) != wanted:
        return sheets
    return [*sheets[:k], replace(sheets[k], container=c, placements=placements), *sheets[k + 1 :]]


def _could_be_cheaper(
    problem: Problem, sheets: list[PackedSheet], sheet: PackedSheet, container: int
) -> bool:
    used = sum(s.runs for s in sheets if s.container == container)
    return (
        problem.costs[container] < problem.costs[sheet.container]
        and problem.rooms[container].area >= _area(problem, sheet.placements)
        and used + sheet.runs <= problem.quantities[container]
        and all(problem.turns[container][p.shape] for p in sheet.placements)
    )


def _first_layout(problem: Problem, container: int, wanted: Sequence[int]) -> Placements:
    """Place as many pieces as bottom-left placement can, large ones first."""
    packer = SheetPacker(problem, Recipe((), tuple(None for _ in wanted)), container)
    for shape in sorted(range(len(wanted)), key=lambda s: -problem.outline_areas[s]):
        packer.put(shape, wanted[shape])
    return tuple(packer.placements)
