"""Exchanges of pieces that look alike: what is due first and what belongs together.

The same drawing may be wanted for two dates or for two kits. Which of its pieces is meant
for which does not change a layout, so it is settled last: a shape takes pieces on sheets
where its kit lies already, then on those that are cut first.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

from nestlib.packing.interface import PackedSheet
from nestlib.packing.problem import Problem
from nestlib.packing.score import first_due, score


def exchanged(problem: Problem, sheets: Sequence[PackedSheet]) -> list[PackedSheet]:
    """Exchange pieces that look alike between sheets that are cut equally often.

    Parameters
    ----------
    problem : Problem
        Shapes and containers.
    sheets : sequence of PackedSheet
        What lies where.

    Returns
    -------
    list of PackedSheet
        The same outlines in the same places; as they were if nothing is gained.
    """
    if not problem.alike:
        return list(sheets)
    tried = [list(sheets), *(_dealt(problem, sheets, kits_first) for kits_first in (False, True))]
    return min(tried, key=lambda s: score(problem, s))


def _dealt(problem: Problem, sheets: Sequence[PackedSheet], kits_first: bool) -> list[PackedSheet]:
    changed = list(sheets)
    for group in problem.alike:
        for runs in sorted({s.runs for s in sheets}):
            members = [k for k, s in enumerate(changed) if s.runs == runs]
            _deal(problem, changed, members, group, kits_first)
    return changed


def _deal(
    problem: Problem,
    sheets: list[PackedSheet],
    members: Sequence[int],
    group: Sequence[int],
    kits_first: bool,
) -> None:
    """Deal the pieces of one group anew, the shapes that are due first choosing first."""
    places = {
        k: [i for i, p in enumerate(sheets[k].placements) if p.shape in group] for k in members
    }
    wanted = {s: sum(p.shape == s for k in members for p in sheets[k].placements) for s in group}
    others = {
        k: replace(s, placements=tuple(p for p in s.placements if p.shape not in group))
        for k, s in ((k, sheets[k]) for k in members)
    }
    dues = {k: first_due(problem.shapes, s) for k, s in others.items()}
    kits = {k: {problem.shapes[p.shape].kit for p in s.placements} for k, s in others.items()}
    for shape in sorted(group, key=lambda s: (_due(problem, s), problem.shapes[s].kit)):
        kit = problem.shapes[shape].kit
        while wanted[shape]:
            free = [k for k in members if places[k]]
            strange = {k: bool(kit) and kit not in kits[k] for k in free}
            ranks = {
                k: (strange[k], dues[k]) if kits_first else (dues[k], strange[k]) for k in free
            }
            k = min(free, key=lambda k: (ranks[k], -len(places[k])))
            taken, places[k] = places[k][: wanted[shape]], places[k][wanted[shape] :]
            wanted[shape] -= len(taken)
            sheets[k] = _relabelled(sheets[k], taken, shape)
            kits[k].add(kit)
            dues[k] = min(dues[k], _due(problem, shape))


def _due(problem: Problem, shape: int) -> float:
    due = problem.shapes[shape].due
    return math.inf if due is None else due


def _relabelled(sheet: PackedSheet, places: Sequence[int], shape: int) -> PackedSheet:
    placements = list(sheet.placements)
    for i in places:
        placements[i] = replace(placements[i], shape=shape)
    return replace(sheet, placements=tuple(placements))
