"""Linear programs of many parts, one window of the strip after the other."""

from __future__ import annotations

from itertools import combinations

import numpy as np
import pytest
from shapely import STRtree, affinity, intersection
from shapely.geometry import Polygon, box

from nestlib.engine import Item
from nestlib.engine.catalogue import turned
from nestlib.engine.compaction import WHOLE, Bounds, compact
from nestlib.engine.problem import StripProblem

DART = Polygon([(0, -1), (1, 1), (0, 0.4), (-1, 1)])


def worst_overlap(problem: StripProblem, turn: np.ndarray, x: np.ndarray, y: np.ndarray) -> float:
    """The largest common area of two parts."""
    cat = problem.cat
    laid = [
        affinity.translate(
            turned(problem.kinds[k].polygon, float(cat.angle[o]), bool(cat.flip[o])), dx, dy
        )
        for k, o, dx, dy in zip(problem.kind, turn, x, y, strict=False)
    ]
    first, second = STRtree(laid).query(laid, predicate="intersects")
    pairs = [(laid[i], laid[j]) for i, j in zip(first, second, strict=True) if i < j]
    # On a grid: GEOS 3.14 can return a whole triangle for two that only touch.
    return max((intersection(a, b, grid_size=1e-11).area for a, b in pairs), default=0.0)


def row(problem: StripProblem, pitch: float) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Parts in columns of two, so far apart."""
    n = len(problem.kind)
    turn = problem.cat.first[problem.kind]
    high = problem.cat.box[turn, 3]
    x = problem.cat.box[turn, 2] + pitch * (np.arange(n) // 2)
    return turn, x, np.where(np.arange(n) % 2 == 0, high, problem.width - high)


@pytest.mark.parametrize("pitch", [1.02, 0.99])
def test_a_long_strip_of_tiles_becomes_exact(pitch: float) -> None:
    """320 unit squares, loose or overlapping by 0.01 each, end up 160 long, to 1e-6."""
    problem = StripProblem.of([Item("tile", box(0, 0, 1, 1), 320)], 2)
    assert problem.movable > WHOLE
    turn, x, y = row(problem, pitch)
    bounds = Bounds(problem.width, np.inf, problem.movable)
    found = compact(problem.cat, problem.pieces, turn, x, y, bounds)
    assert found is not None
    length, x, y = found
    assert length == pytest.approx(160 * problem.scale, abs=1e-6)
    assert worst_overlap(problem, turn, x, y) < 1e-7


def test_long_and_short_parts_keep_apart_across_windows() -> None:
    """Bars that reach over several windows overlap nothing, nor leave the strip."""
    items = [
        Item("bar", box(0, 0, 40, 0.5), 3, (0.0,)),
        Item("dart", DART, 150, (0.0,)),
    ]
    problem = StripProblem.of(items, 6)
    unit, n = problem.scale, len(problem.kind)
    turn = problem.cat.first[problem.kind]
    columns = np.arange(n - 3) // 2
    x = np.concatenate([(20.0 + 40.01 * np.arange(3)) * unit, (1.0 + 2.01 * columns) * unit])
    y = np.concatenate([np.full(3, 0.25), np.where(np.arange(n - 3) % 2 == 0, 1.9, 4.2)])
    y[3:] *= unit
    y[:3] *= unit
    bounds = Bounds(problem.width, np.inf, problem.movable)
    found = compact(problem.cat, problem.pieces, turn, x, y, bounds)
    assert found is not None
    length, px, py = found
    assert length < (x + problem.cat.box[turn, 2]).max()
    assert worst_overlap(problem, turn, px, py) < 1e-7
    assert (px + problem.cat.box[turn, 0]).min() >= -1e-9
    assert (py + problem.cat.box[turn, 1]).min() >= -1e-9
    assert (py + problem.cat.box[turn, 3]).max() <= problem.width + 1e-9


def test_walls_stay_where_they_are() -> None:
    """200 tiles in a room of 102 x 2 with a pillar 2 x 2 in its middle: none moves through it."""
    pillar = box(50, 0, 52, 2)
    problem = StripProblem.of([Item("tile", box(0, 0, 1, 1), 200)], 2, [pillar])
    turn, x, y = row(problem, 1.0)
    x[:200] += np.where(np.arange(200) >= 100, 2.004, -0.003)
    x[200:], y[200:] = problem.walls.T
    found = compact(problem.cat, problem.pieces, turn, x, y, Bounds(2.0, 102.02, 200))
    assert found is not None
    _, px, py = found
    assert (px[200:], py[200:]) == (51.0, 1.0)
    laid = [
        box(a - 0.5, b - 0.5, a + 0.5, b + 0.5) for a, b in zip(px[:200], py[:200], strict=True)
    ]
    assert all(tile.intersection(pillar).area < 1e-7 for tile in laid)
    assert all(a.intersection(b).area < 1e-7 for a, b in combinations(laid, 2))
