"""Parts on a lattice: overlaps, maps and the best place against shapely; known tilings."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import affinity, box
from shapely.geometry import Polygon
from shapely.ops import unary_union

from nestlib.engine import Item, pack_strip
from nestlib.engine.attempts import Worker
from nestlib.engine.catalogue import Kind, turned
from nestlib.engine.lattice import common_length, lattice_of, pitches
from nestlib.engine.lattice_places import best_lattice_place
from nestlib.engine.layouts import scattered
from nestlib.engine.overlap import pair_overlap
from nestlib.engine.parameters import StripParams
from nestlib.engine.problem import StripProblem
from tests.strips import QUARTERS, assert_sound

#: Corners are whole numbers; some edges are not along the axes.
WHOLE = (
    Item("kite", Polygon([(0, 2), (3, 0), (4, 2), (3, 5)]), 3, QUARTERS),
    Item("hook", Polygon([(0, 0), (5, 0), (5, 3), (4, 3), (4, 1), (0, 1)]), 2, (0, 180)),
    Item("tooth", Polygon([(0, 0), (3, 0), (0, 4)]), 4, QUARTERS, flip=True),
)
#: Corners lie on no lattice that is coarse enough to be of use.
ROUGH = (
    Item("star", Polygon([(0.03, 0), (2.17, 0.41), (1.9, 2.37), (0.71, 1.03)]), 4, (0, 90)),
    Item("bar", box(0, 0, 3.71, 0.613), 3, QUARTERS),
)


def worker(items: tuple[Item, ...], width: float, number: int, seed: int) -> tuple:
    """A layout thrown at random onto a lattice, and all that a search for a place needs."""
    problem = StripProblem.of(items, width).with_lattices()
    found = Worker(problem, StripParams().effort)
    found.board.restore(scattered(problem, 0.6, np.random.default_rng(seed)))
    return problem, found, found._on_lattice(number)


def outlines(problem: StripProblem, lay) -> list[Polygon]:
    """Where the parts lie, as shapely sees them."""
    kinds, cat = problem.kinds, problem.cat
    return [
        affinity.translate(
            turned(kinds[lay.kind[i]].polygon, cat.angle[o], bool(cat.flip[o])), lay.x[i], lay.y[i]
        )
        for i, o in enumerate(lay.turn)
    ]


@pytest.mark.parametrize("items", [WHOLE, ROUGH], ids=["whole", "rough"])
@pytest.mark.parametrize("number", [0, 1])
def test_a_table_holds_an_overlap_exactly_where_outlines_overlap(
    items: tuple[Item, ...], number: int
) -> None:
    """By shapely: no common inside gives 0; insides that meet deeper than is forgiven do not."""
    problem = StripProblem.of(items, 12).with_lattices()
    lat, cat = problem.lattices[number], problem.cat
    seen = [
        turned(problem.kinds[k].polygon, a, f)
        for k in range(len(items))
        for a, f in problem.kinds[k].turns
    ]
    random, hits = np.random.default_rng(3), 0
    for _ in range(400):
        a, b = random.integers(len(seen), size=2)
        dx = int(random.integers(1 - lat.cells[b, 0], lat.cells[a, 0]))
        dy = int(random.integers(1 - lat.cells[b, 1], lat.cells[a, 1]))
        row = -(-(int(lat.cells[a, 1] + lat.cells[b, 1]) - 1) // 32) * 32
        at = lat.first[a, b] + (dx + lat.cells[b, 0] - 1) * row + dy + lat.cells[b, 1] - 1
        x = dx * lat.pitch + cat.box[a, 0] - cat.box[b, 0]
        y = dy * lat.pitch + cat.box[a, 1] - cat.box[b, 1]
        other = affinity.translate(seen[b], x, y)
        if seen[a].intersection(other).area < 1e-9:
            assert lat.overlap[at] == 0.0
        elif seen[a].buffer(-2 * lat.soft).intersects(other):
            assert lat.overlap[at] > 0.0
            hits += 1
    assert hits > 50


@pytest.mark.parametrize("items", [WHOLE, ROUGH], ids=["whole", "rough"])
@pytest.mark.parametrize("number", [0, 1])
@settings(max_examples=10, deadline=None)
@given(seed=st.integers(0, 1000))
def test_no_place_of_the_lattice_is_better_than_the_best(
    items: tuple[Item, ...], number: int, seed: int
) -> None:
    """The value found is that of the place found, and no other place has a lower one."""
    problem, found, way = worker(items, 12, number, seed)
    lay, ws, room, cat = found.board.layout, found.scratch, found.board.room, problem.cat
    random = np.random.default_rng(seed)
    ws.weights[:] = random.uniform(1.0, 5.0, len(ws.weights))
    i = seed % len(problem.kind)

    def values(o: int, x: float, y: float) -> tuple[float, float]:
        """Least and greatest weighted overlap, pair by pair, seen from one part or the other.

        Interpolation makes them differ a little between two parts in the same orientation.
        """
        pairs = np.zeros((len(lay.x), 2))
        for j, (a, dx, dy) in enumerate(zip(lay.turn.tolist(), lay.x - x, lay.y - y, strict=True)):
            if j != i:
                seen = found.shapes, o, a, dx, dy, ws.near
                back = found.shapes, a, o, -dx, -dy, ws.near
                pairs[j] = sorted((pair_overlap(*seen), pair_overlap(*back)))
        low, high = ws.weights @ pairs
        return float(low), float(high)

    best = best_lattice_place(found.shapes, way.lattice, way.total, lay, ws, room, i)
    _, turn, x, y = ws.places[0]
    low, high = values(int(turn), x, y)
    assert low * (1 - 1e-4) - 1e-5 <= best <= high * (1 + 1e-4) + 1e-5
    for o in random.integers(cat.first[lay.kind[i]], cat.first[lay.kind[i] + 1], size=30):
        most = (room[2:] - cat.box[o, 2:] + cat.box[o, :2]) / way.lattice.pitch + 1e-7
        at = np.floor(random.random(2) * (np.floor(most) + 1)) * way.lattice.pitch
        x, y = at - cat.box[o, :2]
        assert values(int(o), x, y)[1] >= best - 1e-5 - 1e-4 * best


@settings(max_examples=30, deadline=None)
@given(st.integers(0, 10_000), st.integers(0, 1))
def test_parts_moved_onto_a_lattice_stay_in_the_strip(seed: int, number: int) -> None:
    """Every box within the room, its corner a whole number of pitches from that of the room."""
    _, found, way = worker(ROUGH, 7.3, number, seed)
    lay, room = found.board.layout, found.board.room
    assert lay.box[:2].min() >= -1e-9
    assert lay.box[2].max() <= room[2] + 1e-6
    assert lay.box[3].max() <= room[3] + 1e-6
    steps = lay.box[:2] / way.lattice.pitch
    assert np.abs(steps - np.round(steps)).max() < 1e-6


@pytest.mark.parametrize("scale", [1.0, 25.4, 1e-3])
def test_the_common_length_scales_with_the_outlines(scale: float) -> None:
    """Whole corners have it, in any unit, as long as it is not too fine."""
    kinds = [
        Kind(affinity.scale(i.polygon, scale, scale, origin=(0, 0)), (0.0, 90.0)) for i in WHOLE
    ]
    side = 0.3 / scale
    units = [Kind(affinity.scale(k.polygon, side, side, origin=(0, 0)), k.angles) for k in kinds]
    assert common_length(units) == pytest.approx(0.3)


def test_outlines_without_a_lattice_of_their_own_forgive_some_overlap() -> None:
    """The linear programs close what lies between the places."""
    kinds = StripProblem.of(ROUGH, 12).kinds
    assert common_length(kinds) == 0.0
    assert all(forgiven > 0.0 for _, forgiven in pitches(kinds))
    kinds = StripProblem.of(WHOLE, 12).kinds
    assert all(forgiven == 0.0 for _, forgiven in pitches(kinds))


def test_only_later_searches_take_the_fine_lattice_of_whole_corners() -> None:
    """Half of them; outlines without a lattice take turns among samples and both."""
    whole = StripProblem.of(WHOLE, 12).with_lattices().lattices
    assert [lattice_of(whole, k, 4) for k in range(12)] == [0, 0, 0, 0, 0, 1, 0, 1, 0, 1, 0, 1]
    rough = StripProblem.of(ROUGH, 12).with_lattices().lattices
    assert [lattice_of(rough, k, 4) for k in range(6)] == [-1, 0, 1, -1, 0, 1]
    assert [lattice_of((), k, 4) for k in range(2)] == [-1, -1]


#: The twelve pentominoes, cell by cell.
PENTOMINOES = {
    "F": "10 01 11 12 22", "I": "00 01 02 03 04", "L": "00 10 01 02 03", "N": "00 01 11 12 13",
    "P": "00 10 01 11 02", "T": "02 12 22 10 11", "U": "00 20 01 11 21", "V": "00 10 20 01 02",
    "W": "02 01 11 10 20", "X": "10 01 11 21 12", "Y": "00 01 02 03 12", "Z": "02 12 11 10 20",
}  # fmt: skip


def pentomino(cells: str) -> Polygon:
    """A polygon of five unit squares."""
    squares = [box(int(x), int(y), int(x) + 1, int(y) + 1) for x, y in cells.split()]
    return Polygon(unary_union(squares).simplify(0).exterior)


@pytest.mark.slow
@pytest.mark.parametrize("width", [5, 6])
def test_the_pentominoes_tile_a_rectangle(width: int) -> None:
    """They tile 5 x 12 and 6 x 10 (C. B. Haselgrove, J. Haselgrove, "A computer program for
    pentominoes", Eureka 23 (1960) 16-18): nothing may be left free.
    """
    items = [Item(k, pentomino(c), 1, QUARTERS, flip=True) for k, c in PENTOMINOES.items()]
    packing = pack_strip(items, width, tries=800, seed=1)
    assert packing.length == pytest.approx(60 / width)
    assert_sound(items, width, packing)
