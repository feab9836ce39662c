"""Recipes to begin with and small random changes to them."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np

from nestlib.packing.filling import BY_CENTRE, BY_GROWTH, RULES, Recipe
from nestlib.packing.interface import PackedSheet
from nestlib.packing.problem import Problem

Lots = tuple[tuple[int, int], ...]
Random = np.random.Generator

#: Containers that a recipe asks for at most.
_MOST_ASKED = 50

#: How often a change places a kit in one go, where there are kits.
_GATHERED = 0.2


def first_recipes(problem: Problem) -> list[Recipe]:
    """Return recipes by plain rules: large, high, long and wide shapes first.

    Every other one places each kit in one go.
    """
    boxes = [_box(problem, s) for s in range(len(problem.shapes))]
    keys: list[Callable[[int], float]] = [
        lambda s: -problem.outline_areas[s],
        lambda s: -max(boxes[s]),
        lambda s: -sum(boxes[s]),
        lambda s: -min(boxes[s]),
    ]
    free = tuple(None for _ in problem.shapes)
    recipes = [
        Recipe(_sorted_lots(problem, key), free, rule % len(RULES)) for rule, key in enumerate(keys)
    ]
    return [_with_kits(problem, recipe) if k % 2 else recipe for k, recipe in enumerate(recipes)]


def orders_of_many(problem: Problem) -> list[Recipe]:
    """Return recipes that differ in what counts as large, for many pieces.

    Which of them fills sheets best depends on the shapes, by some per cent of the area;
    where there are many pieces, chance hardly changes that.
    """
    boxes = [_box(problem, s) for s in range(len(problem.shapes))]
    keys: list[tuple[Callable[[int], float], int]] = [
        (lambda s: -sum(boxes[s]), BY_CENTRE),
        (lambda s: -problem.polygon_areas[s], BY_GROWTH),
        (lambda s: -boxes[s][0] * boxes[s][1], BY_CENTRE),
    ]
    free = tuple(None for _ in problem.shapes)
    found = [Recipe(_sorted_lots(problem, key), free, rule) for key, rule in keys]
    return [_with_kits(problem, recipe) for recipe in found]


def recipe_of(problem: Problem, sheets: Sequence[PackedSheet]) -> Recipe:
    """Return the recipe that repeats sheets as well as bottom-left placement can.

    Parameters
    ----------
    problem : Problem
        What is to be placed where.
    sheets : sequence of PackedSheet
        What to repeat, sheet by sheet, from left to right and then upwards.

    Returns
    -------
    Recipe
        Pieces that are not on the sheets follow, large ones first.
    """
    left = dict(_sorted_lots(problem, lambda s: -problem.outline_areas[s]))
    turns: dict[int, dict[int, None]] = {s: {} for s in left}
    lots: list[tuple[int, int]] = []
    for sheet in sheets:
        of = problem.turns[sheet.container]
        for p in sorted(sheet.placements, key=lambda p: problem.corner(sheet.container, p)):
            lots.append((p.shape, min(sheet.runs, left[p.shape])))
            left[p.shape] -= lots[-1][1]
            turns[p.shape][of[p.shape].index(problem.orientation(sheet.container, p))] = None
    chosen = tuple(tuple(turns.get(s, ())) or None for s in range(len(problem.shapes)))
    used = tuple(s.container for s in sheets for _ in range(min(s.runs, _MOST_ASKED)))
    rest = [lot for lot in (*lots, *left.items()) if lot[1]]
    return Recipe(_merged(rest), chosen, containers=used[:_MOST_ASKED])


def _box(problem: Problem, shape: int) -> tuple[float, float]:
    found = [turns[shape][0] for turns in problem.turns if turns[shape]]
    return (found[0].width, found[0].height) if found else (0.0, 0.0)


def _sorted_lots(problem: Problem, key: Callable[[int], float]) -> Lots:
    wanted = [r + f for r, f in zip(problem.required, problem.fillers, strict=True)]
    return tuple((s, wanted[s]) for s in sorted(range(len(wanted)), key=key) if wanted[s])


def changed(problem: Problem, recipe: Recipe, random: Random) -> Recipe:
    """Return a recipe with one or a few random changes.

    Parameters
    ----------
    problem : Problem
        What is to be placed where.
    recipe : Recipe
        What to change.
    random : numpy.random.Generator
        Source of chance.

    Returns
    -------
    Recipe
    """
    for _ in range(1 + int(random.geometric(0.6)) % 4):
        kind = random.random()
        if problem.kits and random.random() < _GATHERED:
            kit = problem.kits[int(random.integers(len(problem.kits)))]
            recipe = replace(recipe, lots=_gathered(problem, recipe.lots, kit))
        elif kind < 0.65:
            recipe = replace(recipe, lots=_moved_lot(recipe.lots, random))
        elif kind < 0.9:
            recipe = _other_turns(problem, recipe, random)
        elif kind < 0.95 or len(problem.containers) < 2:
            recipe = replace(recipe, rule=int(random.integers(len(RULES))))
        else:
            recipe = _other_containers(problem, recipe, random)
    return recipe


def _with_kits(problem: Problem, recipe: Recipe) -> Recipe:
    for kit in problem.kits:
        recipe = replace(recipe, lots=_gathered(problem, recipe.lots, kit))
    return recipe


def _gathered(problem: Problem, lots: Lots, kit: str) -> Lots:
    """Let all lots of a kit follow the first of them."""
    own = [lot for lot in lots if problem.shapes[lot[0]].kit == kit]
    if not own:
        return lots
    at = lots.index(own[0])
    behind = [lot for lot in lots[at:] if problem.shapes[lot[0]].kit != kit]
    return _merged([*lots[:at], *own, *behind])


def _moved_lot(lots: Lots, random: Random) -> Lots:
    """Exchange two lots, or move one, a part of one, or one piece elsewhere."""
    if len(lots) < 2 and lots[0][1] < 2:
        return lots
    changed_lots = list(lots)
    i, j = (int(k) for k in random.integers(len(lots), size=2))
    if random.random() < 0.4:
        changed_lots[i], changed_lots[j] = changed_lots[j], changed_lots[i]
        return _merged(changed_lots)
    shape, count = changed_lots.pop(i)
    taken = (count, 1, max(1, count // 2))[int(random.integers(3))]
    if taken < count:
        changed_lots.insert(i, (shape, count - taken))
    near = random.random() < 0.5
    reach = i + int(random.integers(-3, 4)) if near else int(random.integers(len(lots) + 1))
    changed_lots.insert(max(0, reach), (shape, taken))
    return _merged(changed_lots)


def _merged(lots: list[tuple[int, int]]) -> Lots:
    """Join neighbouring lots of the same shape."""
    found: list[tuple[int, int]] = []
    for shape, count in lots:
        if found and found[-1][0] == shape:
            count += found.pop()[1]
        found.append((shape, count))
    return tuple(found)


def _other_turns(problem: Problem, recipe: Recipe, random: Random) -> Recipe:
    """Let one shape lie in one or two ways only, or in all of them again."""
    shape = recipe.lots[int(random.integers(len(recipe.lots)))][0]
    most = max(len(turns[shape]) for turns in problem.turns)
    if most < 2:
        return recipe
    turns = list(recipe.turns)
    if turns[shape] is not None and random.random() < 0.3:
        turns[shape] = None
    else:
        size = 1 + int(random.integers(2))
        turns[shape] = tuple(int(k) for k in random.permutation(most)[:size])
    return replace(recipe, turns=tuple(turns))


def _other_containers(problem: Problem, recipe: Recipe, random: Random) -> Recipe:
    """Begin with other containers, or let them be chosen again."""
    if recipe.containers and random.random() < 0.4:
        return replace(recipe, containers=())
    asked = list(recipe.containers)
    asked.insert(int(random.integers(len(asked) + 1)), int(random.integers(len(problem.rooms))))
    return replace(recipe, containers=tuple(asked[:_MOST_ASKED]))
