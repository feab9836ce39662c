"""Items made ready for the search: turns, mirrored copies, pieces, overlaps known beforehand."""

from __future__ import annotations

from itertools import combinations

import numpy as np
import pytest
from shapely import affinity
from shapely.geometry import Polygon, box

from nestlib.engine import Item, ItemPlacement, pack_strip
from nestlib.engine.catalogue import Kind, catalogue, distinct_turns, turned
from nestlib.engine.compaction import pieces
from nestlib.engine.fields import fields, overlap_value
from nestlib.engine.holes import without_useless_holes
from nestlib.engine.problem import StripProblem

HOOK = Polygon([(0, 0), (3, 0), (3, 1), (1, 1), (1, 5), (0, 5)])
TEE = Polygon([(-1, -1), (2, -1), (2, 0), (0.5, 0), (0.5, 2), (-0.5, 2), (-0.5, 0), (-1, 0)])
KINDS = [
    Kind(HOOK, (0.0, 90.0, 37.0), (0.0, 90.0, 200.0)),
    Kind(TEE, (0.0, 180.0), (0.0,)),
]


def lies(item: Item, p: ItemPlacement) -> Polygon:
    """The piece where it lies: mirrored about x = 0, turned about (0, 0), moved."""
    polygon = affinity.scale(item.polygon, -1.0 if p.flip else 1.0, 1.0, origin=(0, 0))
    return affinity.translate(affinity.rotate(polygon, p.rotation, origin=(0, 0)), p.x, p.y)


def test_mirrored_copies_that_are_turns_are_dropped() -> None:
    """An L of equal legs mirrored is an L turned; a hook with unequal legs is not."""
    turns = [(a, f) for f in (False, True) for a in (0.0, 90.0, 180.0, 270.0)]
    ell = Polygon([(0, 0), (2, 0), (2, 1), (1, 1), (1, 2), (0, 2)])
    assert distinct_turns(ell, turns) == tuple(turns[:4])
    assert distinct_turns(HOOK, turns) == tuple(turns)


def test_fields_of_mirrored_kinds_agree_with_shapely() -> None:
    """At 3000 random places the fields of all pairs and shapely (area above 1e-12) agree."""
    cat = catalogue(KINDS)
    fld = fields(cat, KINDS, 0.0)
    owner = np.repeat(np.arange(len(KINDS)), np.diff(cat.first))
    outlines = [
        turned(KINDS[k].polygon, float(a), bool(f))
        for k, a, f in zip(owner, cat.angle, cat.flip, strict=True)
    ]
    random = np.random.default_rng(0)
    for _ in range(3000):
        a, b = random.integers(len(owner), size=2)
        d = random.uniform(-6.0, 6.0, 2)
        truth = outlines[a].intersection(affinity.translate(outlines[b], *d)).area > 1e-12
        assert (overlap_value(fld, cat, a, b, *d) > 0.0) == truth


def test_pairs_that_are_alike_share_one_field() -> None:
    """Two mirrored copies meet as the two unmirrored ones do, seen in a mirror."""
    kind = [Kind(HOOK, (0.0, 90.0, 180.0, 270.0), (0.0, 90.0, 180.0, 270.0))]
    assert len(fields(catalogue(kind), kind, 0.0).head) == 3 + 4


def test_what_a_field_says_does_not_depend_on_who_asks_first() -> None:
    """Asked in any order, the same bits, though corners are measured on demand."""
    cat = catalogue(KINDS)
    random = np.random.default_rng(1)
    pairs = random.integers(len(cat.angle), size=(500, 2)).tolist()
    places = random.uniform(-3.0, 3.0, (500, 2)).tolist()
    asked = list(zip(pairs, places, strict=True))
    told = []
    for order in (range(500), range(499, -1, -1)):
        fld = fields(cat, KINDS, 0.0)
        told.append({k: overlap_value(fld, cat, *asked[k][0], *asked[k][1]) for k in order})
    assert told[0] == told[1]


def test_pairs_that_never_meet_get_no_field() -> None:
    """A kind of one piece never meets itself, and walls never meet; others do."""
    kinds = [Kind(box(-1, -1, 1, 1), (0.0,)) for _ in range(4)]
    field = fields(catalogue(kinds), kinds, 0.0, quantities=[1, 2, 0, 0]).field
    known = np.array([[0, 1, 1, 1], [1, 1, 1, 1], [1, 1, 0, 0], [1, 1, 0, 0]])
    assert ((field != 0) == (known != 0)).all()


def test_fields_keep_to_their_limits(monkeypatch: pytest.MonkeyPatch) -> None:
    """With little work allowed the pairs of many pieces have fields, the others none."""
    monkeypatch.setattr("nestlib.engine.fields.MOST_WORK", 5.0)
    kinds = [Kind(box(-1, -1, 1, 1), (0.0,)) for _ in range(9)]
    field = fields(catalogue(kinds), kinds, 0.0, quantities=[1] * 8 + [50]).field
    assert field[8, 8] != 0
    assert np.count_nonzero(np.triu(field)) == 4


def test_holes_without_use_are_filled() -> None:
    """Holes too small, too short or too narrow for every item go, others stay."""
    plate = box(0, 0, 100, 50)
    for hole in (box(2, 2, 4, 4), box(10, 10, 13, 18), box(20, 20, 60, 21)):
        plate = plate.difference(hole)
    items = [plate, box(0, 0, 2.5, 7), box(0, 0, 30, 5)]
    found = without_useless_holes(items)
    assert [hole.bounds for hole in found[0].interiors] == [(10.0, 10.0, 13.0, 18.0)]
    assert found[1:] == items[1:]


def test_a_plate_with_many_holes_is_as_quick_as_one_without() -> None:
    """Nothing of 200 slots is left in its pieces, and its area still counts without them."""
    slots = [box(x, y, x + 0.5, y + 3) for x in range(1, 41) for y in range(1, 25, 5)]
    plate = Polygon(box(0, 0, 50, 30).exterior.coords, [s.exterior.coords for s in slots])
    problem = StripProblem.of([Item("plate", plate, 3)], 40)
    assert np.diff(problem.pieces.first).tolist() == [1]
    assert problem.scale == pytest.approx(1 / np.sqrt(plate.area))


def test_pieces_of_mirrored_kinds_are_counter_clockwise() -> None:
    """The pieces of every orientation have its area, to 1e-12."""
    cat = catalogue(KINDS)
    found = pieces(cat, KINDS)
    for o in range(len(cat.angle)):
        area = sum(
            Polygon(found.points[found.start[p] : found.start[p + 1]]).area
            for p in range(found.first[o], found.first[o + 1])
        )
        kind = KINDS[0 if o < cat.first[1] else 1]
        assert area == pytest.approx(kind.polygon.area, rel=1e-12)
    turns = [
        Polygon(found.points[found.start[p] : found.start[p + 1]]).exterior.is_ccw
        for p in range(len(found.start) - 1)
    ]
    assert all(turns)


def test_a_pair_of_hands_needs_a_mirror() -> None:
    """Two right trapezia fill a rectangle only if one is mirrored; placements say how."""
    plate = Polygon([(5, 7), (9, 7), (7, 9), (5, 9)])
    item = Item("plate", plate, 2, (0.0,), flip=True)
    mates = [item, Item("left over", Polygon([(0, 0), (2, 2), (-2, 2)]), 1, (0.0,))]
    packing = pack_strip(mates, 2, tries=60, seed=1)
    assert packing.length == pytest.approx(8, abs=1e-6)
    assert {p.flip for p in packing.placements if p.item == 0} == {False, True}
    laid = [lies(mates[p.item], p) for p in packing.placements]
    assert all(p.difference(box(0, 0, packing.length, 2)).area < 1e-6 for p in laid)
    assert all(a.intersection(b).area < 1e-6 for a, b in combinations(laid, 2))
