"""Do two outlines overlap, and how much? Fields and edges against shapely."""

from __future__ import annotations

from itertools import pairwise
from typing import NamedTuple

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import affinity, box
from shapely.geometry import Polygon

from nestlib.engine.catalogue import Catalogue, Kind, catalogue, turned
from nestlib.engine.collision import overlap
from nestlib.engine.fields import Fields, fields, overlap_value
from nestlib.engine.items import centred
from nestlib.engine.overlap_measure import penetration
from tests.outlines import outline, outlines

ANGLES = (0.0, 90.0, 33.0)
#: Areas and distances below this are contacts, of which either may be said.
CONTACT = 1e-9


class Pair(NamedTuple):
    """Two outlines made ready, and their orientations as shapely sees them."""

    kinds: list[Kind]
    cat: Catalogue
    fld: Fields
    seen: list[Polygon]

    @classmethod
    def of(cls, *polygons: Polygon) -> Pair:
        """Centre the outlines and turn them by all angles."""
        kinds = [Kind(centred(p)[0], ANGLES) for p in polygons]
        cat = catalogue(kinds)
        seen = [turned(k.polygon, a) for k in kinds for a in k.angles]
        return cls(kinds, cat, fields(cat, kinds, 0.0), seen)

    def truth(self, a: int, b: int, dx: float, dy: float) -> bool | None:
        """Whether the insides meet by shapely; None if that is too close to call."""
        p, q = self.seen[a], affinity.translate(self.seen[b], dx, dy)
        if p.disjoint(q):
            return False if p.distance(q) > CONTACT else None
        return True if p.intersection(q).area > CONTACT else None

    def boxes_meet(self, a: int, b: int, dx: float, dy: float) -> bool:
        """Whether the bounding boxes overlap."""
        p, q = self.cat.box[a], self.cat.box[b] + np.array([dx, dy, dx, dy])
        return bool(p[0] < q[2] and q[0] < p[2] and p[1] < q[3] and q[1] < p[3])

    def places(self, seed: int, count: int) -> list[tuple[int, int, float, float]]:
        """Orientations and displacements that let the boxes meet, more or less."""
        random, found = np.random.default_rng(seed), []
        for _ in range(count):
            a, b = (int(k) for k in random.integers(len(self.seen), size=2))
            sizes = [np.diff(self.cat.box[k].reshape(2, 2), axis=0)[0] for k in (a, b)]
            dx, dy = random.uniform(-0.55, 0.55, 2) * (sizes[0] + sizes[1])
            found.append((a, b, float(dx), float(dy)))
        return found


@settings(derandomize=True, deadline=None, max_examples=25)
@given(outlines(most=40), outlines(most=40), st.integers(0, 999))
def test_both_tests_say_what_shapely_says(first: Polygon, second: Polygon, seed: int) -> None:
    """At 30 places of two random outlines of like size, but for contacts (1e-9).

    A field measures more than 0 just where the insides meet; edges and circles find the same.
    """
    pair, near = Pair.of(first, second), np.empty((4, 600))
    for place in pair.places(seed, 30):
        truth = pair.truth(*place)
        if truth is None:
            continue
        assert (overlap_value(pair.fld, pair.cat, *place) > 0.0) == truth
        assert (pair.boxes_meet(*place) and overlap(pair.cat, *place, near)) == truth


@settings(derandomize=True, deadline=None, max_examples=10)
@given(outlines(most=20), st.floats(0.02, 0.2), st.integers(0, 999))
def test_small_and_large_outlines_as_well(first: Polygon, size: float, seed: int) -> None:
    """The same for one that is 5 to 50 times smaller than the other, by edges and circles."""
    second = affinity.scale(outline("star", 9, seed), size, size)
    pair, near = Pair.of(first, second), np.empty((4, 600))
    for place in pair.places(seed, 40):
        truth = pair.truth(*place)
        if truth is None:
            continue
        assert (overlap_value(pair.fld, pair.cat, *place) > 0.0) == truth
        assert (pair.boxes_meet(*place) and overlap(pair.cat, *place, near)) == truth


def test_seen_from_the_other_one_nothing_changes() -> None:
    """Overlap of a with b at d is that of b with a at -d.

    Between two kinds to 1e-5 (float32 inside); within one to 5 %, since there each
    direction is tabulated by itself.
    """
    pair = Pair.of(outline("star", 12, 5), outline("holed", 12, 6))
    measured = 0
    for a, b, dx, dy in pair.places(1, 300):
        there, back = (
            overlap_value(pair.fld, pair.cat, a, b, dx, dy),
            overlap_value(pair.fld, pair.cat, b, a, -dx, -dy),
        )
        close = 1e-5 if a // 3 != b // 3 else 0.05 * max(there, back)
        assert there == pytest.approx(back, abs=close)
        assert (there > 0.0) == (back > 0.0)
        measured += there > 0.0
    assert measured > 50


def test_a_common_turn_changes_nothing() -> None:
    """Two outlines turned by 90 degrees with their displacement overlap alike, to 1e-5."""
    pair = Pair.of(outline("star", 12, 5), outline("comb", 12, 6))
    a, b, n = 0, 3, 0
    for dx, dy in np.random.default_rng(2).uniform(-1.2, 1.2, (200, 2)):
        straight = overlap_value(pair.fld, pair.cat, a, b, dx, dy)
        assert overlap_value(pair.fld, pair.cat, a + 1, b + 1, -dy, dx) == pytest.approx(
            straight, abs=1e-5
        )
        n += straight > 0.0
    assert n > 20


@pytest.mark.parametrize("edge", [0.1, 1.0, 3.7])
def test_touching_boxes_do_not_overlap(edge: float) -> None:
    """Side by side 0 exactly; 1e-6 deeper more than 0: at a whole side and at a corner."""
    kinds = [Kind(box(-edge / 2, -0.5, edge / 2, 0.5), (0.0,)), Kind(box(-1, -1, 1, 1), (0.0,))]
    cat = catalogue(kinds)
    fld = fields(cat, kinds, 0.0)
    reach = edge / 2 + 1
    for dy in (0.0, 1.2, -1.4999):
        assert overlap_value(fld, cat, 0, 1, reach + 1e-12, dy) == 0.0
        assert overlap_value(fld, cat, 0, 1, reach - 1e-6, dy) > 0.0
    assert overlap_value(fld, cat, 0, 1, reach, 1.5 + 1e-12) == 0.0
    assert overlap_value(fld, cat, 0, 1, reach - 1e-6, 1.5 - 1e-6) > 0.0


def test_shallow_overlaps_may_be_told_not_to_count() -> None:
    """With a softness of 0.01 squares may be 0.009 deep in each other, but not 0.011."""
    kinds = [Kind(box(-0.5, -0.5, 0.5, 0.5), (0.0,))]
    cat = catalogue(kinds)
    fld = fields(cat, kinds, 0.01)
    assert overlap_value(fld, cat, 0, 0, 0.991, 0.3) == 0.0
    assert overlap_value(fld, cat, 0, 0, 0.989, 0.3) > 0.0


def depths(pair: Pair, reach: float, steps: int) -> np.ndarray:
    """The measure while the second outline slides along x into the first and out again."""
    return np.array(
        [penetration(pair.cat, 0, 3, x, 0.1) for x in np.linspace(-reach, reach, steps)]
    )


@pytest.mark.parametrize("sorts", [("convex", "star"), ("holed", "comb"), ("notched", "thin")])
def test_the_measure_is_positive_and_has_no_jumps(sorts: tuple[str, str]) -> None:
    """Above 0 everywhere; ten times finer steps change it ten times less, within a factor 2."""
    pair = Pair.of(*(outline(sort, 12, 4) for sort in sorts))
    jumps = []
    for steps in (401, 4001):
        values = depths(pair, 2.0, steps)
        assert (values > 0).all()
        jumps.append(np.abs(np.diff(values)).max())
    assert jumps[1] < jumps[0] / 5


def test_deeper_means_more() -> None:
    """A disc that comes nearer to another one overlaps more with every step."""
    disc = Polygon([(np.cos(t), np.sin(t)) for t in np.linspace(0, 2 * np.pi, 24, endpoint=False)])
    pair = Pair.of(disc, disc)
    values = [penetration(pair.cat, 0, 3, x, 0.0) for x in np.linspace(2.0, 0.0, 21)]
    assert all(a < b for a, b in pairwise(values))
