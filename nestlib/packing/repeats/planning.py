"""A plan whose layouts begin with repeated arrangements.

Where fewer pieces of a shape are wanted than an arrangement has, those at one end of the
container are taken, so that the free rest is large, and other shapes go there.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import replace

from nestlib.packing.filling import Recipe, SheetPacker, Tick
from nestlib.packing.interface import PackedPlacement, PackedSheet
from nestlib.packing.problem import Problem
from nestlib.packing.repeats.laying import Placements


def planned(
    problem: Problem, recipe: Recipe, columns: Sequence[PackedSheet], tick: Tick | None = None
) -> list[PackedSheet]:
    """Return a plan whose layouts begin with repeated arrangements.

    Parameters
    ----------
    problem : Problem
        What is to be placed where.
    recipe : Recipe
        How and in which order other shapes are placed.
    columns : sequence of PackedSheet
        Layouts of one shape.
    tick : callable, optional
        Called after each piece.
    """
    plan: list[PackedSheet] = []
    left, stock = list(problem.required), list(problem.quantities)
    while any(left):
        sheet = _next(problem, recipe, columns, left, stock, tick)
        if sheet is None:
            break
        counts = Counter(p.shape for p in sheet.placements)
        runs = min(stock[sheet.container], *(left[s] // n for s, n in counts.items()))
        plan.append(replace(sheet, runs=int(runs)))
        stock[sheet.container] -= int(runs)
        for s, n in counts.items():
            left[s] -= n * int(runs)
    return plan


def _next(
    problem: Problem,
    recipe: Recipe,
    columns: Sequence[PackedSheet],
    left: Sequence[int],
    stock: Sequence[float],
    tick: Tick | None,
) -> PackedSheet | None:
    """Fill the container that pays best, of the lowest rank in which anything fits."""
    for rank in problem.ranks:
        own = [c for c in rank if stock[c] >= 1]
        filled = [
            _filled(problem, recipe, c, _begin(problem, columns, c, left), left, tick) for c in own
        ]
        filled = [s for s in filled if s.placements]
        if filled:
            return min(filled, key=lambda s: _price_of_area(problem, s, left))
    return None


def _price_of_area(
    problem: Problem, sheet: PackedSheet, left: Sequence[int]
) -> tuple[float, float]:
    """What is paid for the area placed; a sheet that takes all the rest beats the others."""
    cost, area = problem.costs[sheet.container], _area(problem, sheet.placements)
    return (-1.0, cost) if len(sheet.placements) == sum(left) else (cost / area, -area)


def _area(problem: Problem, placements: Placements) -> float:
    return sum(problem.areas[p.shape] for p in placements)


def _begin(
    problem: Problem, columns: Sequence[PackedSheet], container: int, left: Sequence[int]
) -> Placements:
    """Return the pieces of an arrangement that take most of what is left."""
    ends = [
        cut_off(problem, s, left[s.placements[0].shape])
        for s in columns
        if s.container == container
    ]
    return max(ends, key=lambda ps: (_area(problem, ps), _free(problem, container, ps)), default=())


def cut_off(problem: Problem, sheet: PackedSheet, wanted: int) -> Placements:
    """Return so many pieces of a layout that the rest of the container is one large strip.

    Parameters
    ----------
    problem : Problem
        What is to be placed where.
    sheet : PackedSheet
        The layout.
    wanted : int
        How many pieces to keep; all if there are no more.
    """
    if not wanted:
        return ()
    orders = [
        tuple(sorted(sheet.placements, key=lambda p: _ends(problem, sheet.container, p)[::way]))
        for way in (1, -1)
    ]
    ends = [order[:wanted] for order in orders]
    return max(ends, key=lambda ps: _free(problem, sheet.container, ps))


def _ends(problem: Problem, container: int, p: PackedPlacement) -> tuple[float, float]:
    box = problem.orientation(container, p).box
    return round(p.x + box[2], 6), round(p.y + box[3], 6)


def _free(problem: Problem, container: int, placements: Placements) -> float:
    """Area of the larger strip beyond all pieces, along x or along y."""
    if not placements:
        return 0.0
    x0, y0, x1, y1 = problem.rooms[container].box
    ends = [_ends(problem, container, p) for p in placements]
    right, above = max(x for x, _ in ends), max(y for _, y in ends)
    return max((x1 - right) * (y1 - y0), (x1 - x0) * (y1 - above))


def _filled(
    problem: Problem,
    recipe: Recipe,
    container: int,
    begin: Placements,
    left: Sequence[int],
    tick: Tick | None,
) -> PackedSheet:
    """Put pieces where they are, and all others that are left where they find a place."""
    packer = SheetPacker(problem, recipe, container, tick)
    for p in begin:
        packer.put_at(p.shape, problem.orientation(container, p), p.x, p.y)
    for shape in sorted(dict.fromkeys(s for s, _ in recipe.lots), key=_last(problem)):
        if not problem.shapes[shape].filler:
            packer.put(shape, left[shape] - packer.counts[shape])
    return PackedSheet(container, tuple(packer.placements))


def _last(problem: Problem) -> Callable[[int], int]:
    """The order of priorities, the highest first."""
    return lambda shape: -problem.shapes[shape].priority
