"""The exact end: linear programs that push parts together or apart."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pytest
from shapely import STRtree, affinity, box
from shapely.geometry import Polygon

from nestlib.engine import Item
from nestlib.engine.catalogue import turned
from nestlib.engine.compaction import Bounds, compact
from nestlib.engine.problem import StripProblem
from tests.outlines import outline

UNIT = box(-0.5, -0.5, 0.5, 0.5)


def pushed(
    items: Sequence[Item], width: float, places: Sequence[tuple[float, float]], length: float
) -> tuple[float, np.ndarray] | None:
    """Compact items that lie about the given places; places are the middles of their boxes."""
    problem = StripProblem.of(items, width)
    x, y = (problem.scale * np.array(v, dtype=float) for v in zip(*places, strict=True))
    turn = problem.cat.first[problem.kind]
    bounds = Bounds(problem.width, problem.scale * length, len(x))
    found = compact(problem.cat, problem.pieces, turn, x, y, bounds)
    if found is None:
        return None
    return found[0] / problem.scale, np.column_stack(found[1:]) / problem.scale


@pytest.mark.parametrize("start", [0.95, 1.0, 1.1, 1.4])
def test_two_squares_come_to_touch(start: float) -> None:
    """From apart or from 0.05 deep in each other: 2 long and 1 apart, to 1e-9."""
    found = pushed([Item("square", UNIT, 2)], 1.0, [(0.5, 0.5), (0.5 + start, 0.5)], np.inf)
    assert found is not None
    length, at = found
    assert length == pytest.approx(2.0, abs=1e-9)
    assert at[1, 0] - at[0, 0] == pytest.approx(1.0, abs=1e-9)


def test_two_triangles_slide_into_a_square() -> None:
    """Along their long sides, until nothing is left between them, to 1e-9."""
    low = Polygon([(0, 0), (1, 0), (0, 1)])
    items = [Item("low", low), Item("high", affinity.rotate(low, 180, origin=(0, 0)))]
    found = pushed(items, 1.0, [(0.5, 0.5), (0.9, 0.5)], np.inf)
    assert found is not None
    assert found[0] == pytest.approx(1.0, abs=1e-9)


def test_a_plug_is_pushed_into_its_hole() -> None:
    """A square that is a little off centre in a hole of its size, to 1e-9."""
    frame = Polygon(box(-1, -1, 1, 1).exterior.coords, [UNIT.exterior.coords])
    items = [Item("frame", frame), Item("plug", UNIT)]
    found = pushed(items, 2.0, [(1.0, 1.0), (1.03, 0.98)], np.inf)
    assert found is not None
    length, at = found
    assert length == pytest.approx(2.0, abs=1e-9)
    assert at[1] == pytest.approx(at[0], abs=1e-8)


def test_what_does_not_fit_gives_nothing() -> None:
    """Three squares in a room of 2.5 x 1 stay without an answer; in 3 x 1 they fit."""
    squares, places = [Item("square", UNIT, 3)], [(0.5, 0.5), (1.25, 0.5), (2.0, 0.5)]
    assert pushed(squares, 1.0, places, 2.5) is None
    found = pushed(squares, 1.0, places, 3.0)
    assert found is not None
    assert found[0] == pytest.approx(3.0, abs=1e-7)


@pytest.mark.parametrize("seed", range(6))
def test_a_loose_layout_becomes_shorter_and_sound(seed: int) -> None:
    """Twelve outlines of all sorts, loose or a little overlapping: apart by shapely, to 1e-8.

    All lie within the strip; a layout that was apart before is never made longer.
    """
    random = np.random.default_rng(seed)
    sorts = ["star", "convex", "notched", "holed"]
    shapes = [outline(sorts[k % 4], 9, 10 * seed + k) for k in range(12)]
    centred = [affinity.translate(p, *(-np.array(p.envelope.centroid.coords[0]))) for p in shapes]
    sides = np.array([np.subtract(p.bounds[2:], p.bounds[:2]) for p in centred])
    step = 1.02 * sides.max()
    places = [((k // 3 + 0.5) * step, (k % 3 + 0.5) * step) for k in range(12)]
    shake = 0.0 if seed % 2 else 0.1
    places = [tuple(np.add(p, random.uniform(-shake, shake, 2))) for p in places]
    items = [Item(str(k), p) for k, p in enumerate(centred)]
    found = pushed(items, 3.1 * sides.max(), places, np.inf)
    assert found is not None
    length, at = found
    small = 1e-8 * np.sqrt(np.mean([p.area for p in shapes]))
    laid = [affinity.translate(turned(p, 0.0), *d) for p, d in zip(centred, at, strict=True)]
    left, low, right, high = np.array([p.bounds for p in laid]).T
    assert min(left.min(), low.min()) >= -small
    assert high.max() <= 3.1 * sides.max() + small
    assert right.max() == pytest.approx(length, abs=small)
    shrunk = [p.buffer(-small, join_style="mitre") for p in laid]
    assert STRtree(shrunk).query(shrunk, predicate="intersects").shape[1] == len(shrunk)
    before = max(p[0] + w / 2 for p, (w, _) in zip(places, sides, strict=True))
    assert length < before - 0.1
