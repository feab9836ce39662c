"""What may share a sheet, what should, and what comes first."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace

import numpy as np
import pytest
from shapely import MultiPolygon, Polygon, box

from nestlib.packing import Container, Iterations, Packing, Shape, pack, squeezing
from nestlib.packing.alike import exchanged
from nestlib.packing.dense import dense
from nestlib.packing.filling import Recipe, SheetPacker, with_fillers
from nestlib.packing.interface import PackedPlacement, PackedSheet
from nestlib.packing.problem import prepare, why_unplaced
from nestlib.packing.score import missing, score

slow = pytest.mark.slow

TURNS = (0.0, 90.0, 180.0, 270.0)


def shape(polygon: Polygon, quantity: int = 1, **more: object) -> Shape:
    """A shape whose clearance polygon is the part itself."""
    return Shape("part", polygon, polygon.area, quantity, TURNS, **more)  # type: ignore[arg-type]


def sheet(width: float, height: float, quantity: int | None = None, **more: object) -> Container:
    """A plain room."""
    room = MultiPolygon([box(0, 0, width, height)])
    return Container("sheet", room, width * height, quantity, **more)  # type: ignore[arg-type]


def angle(width: float, height: float) -> Polygon:
    """An L whose legs are a third as wide as it is."""
    a, b = width / 3, height / 3
    return Polygon([(0, 0), (width, 0), (width, b), (a, b), (a, height), (0, height)])


def random_shapes(seed: int) -> list[Shape]:
    """Boxes and Ls, most of them with conditions, now and then a filler."""
    random = np.random.default_rng(seed)
    count = int(random.integers(3, 7))
    shapes = []
    for _ in range(count):
        make = box if random.random() < 0.5 else angle
        w, h = random.uniform(8, 40, 2)
        polygon = make(0, 0, w, h) if make is box else angle(w, h)
        shapes.append(
            shape(
                polygon,
                int(random.integers(1, 7)),
                most=int(random.integers(1, 4)) if random.random() < 0.5 else None,
                apart=tuple(int(k) for k in random.integers(count, size=int(random.integers(3)))),
                filler=bool(random.random() < 0.2),
                priority=int(random.integers(2)),
            )
        )
    return shapes


def broken(shapes: list[Shape], packing: Packing) -> list[str]:
    """What of the conditions does not hold."""
    found = []
    for packed in packing.sheets:
        counts = Counter(p.shape for p in packed.placements)
        for i, n in counts.items():
            if n > (shapes[i].most or n):
                found.append(f"{n} of {i}")
            found += [f"{i} and {j}" for j in shapes[i].apart if counts[j] > (1 if i == j else 0)]
    return found


@pytest.mark.parametrize("seed", [3, 5, *(pytest.param(k, marks=slow) for k in range(6, 14))])
def test_conditions_hold_in_random_jobs(seed: int) -> None:
    """After the search by every means; no piece is lost, as there are sheets enough."""
    shapes = random_shapes(seed)
    packing = pack(shapes, [sheet(60, 50), sheet(80, 60)], stop=Iterations(2), seed=seed)
    assert broken(shapes, packing) == []
    placed = Counter(p.shape for s in packing.sheets for p in s.placements for _ in range(s.runs))
    for i, s in enumerate(shapes):
        assert s.filler or placed[i] == s.quantity


def test_most_on_a_sheet_needs_as_many_sheets() -> None:
    """Seven small squares, two on a sheet: four sheets, though one has room for all."""
    squares = shape(box(0, 0, 10, 10), 7, most=2)
    packing = pack([squares], [sheet(100, 100)], stop=Iterations(2))
    assert sum(s.runs for s in packing.sheets) == 4
    assert max(len(s.placements) for s in packing.sheets) == 2


def test_apart_works_both_ways_and_on_itself() -> None:
    """One says it of the other: two sheets; of itself: one sheet for each piece."""
    a, b = shape(box(0, 0, 10, 10), 3), shape(box(0, 0, 12, 10), 2, apart=(0,))
    assert len(pack([a, b], [sheet(99, 99)], stop=Iterations(1)).sheets) == 2
    alone = pack([replace(a, apart=(0,))], [sheet(99, 99)], stop=Iterations(1))
    assert sum(s.runs for s in alone.sheets) == 3


@pytest.mark.parametrize("more", [{"most": 3}, {"apart": (1,)}, {"apart": (0,)}])
def test_conditions_come_before_sheets_without_waste(more: dict[str, object]) -> None:
    """Six tiles fill a tray and twelve squares another: not if they may not lie so."""
    shapes = [shape(box(0, 0, 2, 1), 6, **more), shape(box(0, 0, 1, 1), 12)]
    packing = pack(shapes, [sheet(4, 3)], stop=Iterations(2))
    assert broken(shapes, packing) == []
    assert packing.pieces == 18


def test_the_packer_of_a_sheet_refuses_what_may_not_lie_there() -> None:
    """At a place that is free, and when it looks for a place itself."""
    problem = prepare(
        [shape(box(0, 0, 9, 9), 4, most=1), shape(box(0, 0, 8, 8), 4, apart=(0,))], [sheet(90, 90)]
    )
    packer = SheetPacker(problem, Recipe((), (None, None)), 0)
    o = problem.turns[0][0][0]
    assert packer.put_at(0, o, 0.0, 0.0)
    assert not packer.put_at(0, o, 50.0, 50.0)
    assert packer.put(1, 4) == 0


def test_the_engine_keeps_the_conditions() -> None:
    """Whatever chance it begins with: never both of two that lie apart, nor too many."""
    shapes = [
        shape(box(0, 0, 10, 10), 9, most=4),
        shape(angle(12, 12), 9, apart=(0,)),
        shape(box(0, 0, 5, 5), 9),
    ]
    problem = prepare(shapes, [sheet(50, 30)])
    lie = (PackedPlacement(1, 0.0, False, 0.0, 0.0),)
    for seed in range(4):
        found = dense(problem).filled(
            0, lie if seed % 2 else (), [9] * 3, problem.areas, (seed,), 10, lambda: False
        )
        assert len(found) > len(lie)
        assert broken(shapes, Packing((PackedSheet(0, found),))) == []


@pytest.mark.parametrize("seed", range(4))
def test_sheets_moved_apart_together_keep_the_conditions(seed: int) -> None:
    """Pieces move freely between two sheets; what then may not lie there is left out."""
    shapes = [
        shape(box(0, 0, 10, 10), 9, most=2),
        shape(angle(12, 12), 9, apart=(0,)),
        shape(box(0, 0, 5, 5), 20),
    ]
    problem = prepare(shapes, [sheet(50, 30)])
    lie = [(PackedPlacement(k, 0.0, False, 0.0, 0.0),) for k in (0, 1)]
    found = dense(problem).filled_together(
        [0, 0], lie, [9, 9, 20], problem.areas, (seed,), 10, lambda: False
    )
    assert broken(shapes, Packing(tuple(PackedSheet(0, f) for f in found))) == []
    assert sum(map(len, found)) > 4


def test_a_sheet_is_shared_out_among_others_under_conditions(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """By hand: two larges and two smalls of one colour fill a tray, and colours lie apart.

    Three trays in use; two hold everything, if larges and smalls move between them.
    """
    monkeypatch.setattr(squeezing, "_LAST", 0.0)
    monkeypatch.setattr(squeezing, "_TOGETHER", 1.0)
    large = shape(box(0, 0, 6, 4), 4, most=2)
    red, blue = shape(box(0, 0, 4, 4), 2, apart=(2,)), shape(box(0, 0, 4, 4), 2)
    shapes = [large, red, blue]
    problem = prepare(shapes, [sheet(10, 8)])

    def at(shape: int, x: float, y: float) -> PackedPlacement:
        return PackedPlacement(shape, 0.0, False, x, y)

    sheets = (
        PackedSheet(0, (at(0, 0, 0), at(0, 0, 4), at(1, 6, 0))),
        PackedSheet(0, (at(0, 0, 0), at(2, 6, 0), at(2, 6, 4))),
        PackedSheet(0, (at(0, 0, 0), at(1, 6, 0))),
    )
    for k in range(20):
        sheets, _ = squeezing.squeeze(problem, sheets, (k,), lambda: False)
        assert not any(missing(problem, sheets))
        assert broken(shapes, Packing(sheets)) == []
    assert sum(s.runs for s in sheets) == 2


def test_the_reason_names_the_conditions() -> None:
    """Where pieces are missing that could lie on a sheet, but not on these."""
    shapes = [shape(box(0, 0, 9, 9), 9, most=2), shape(box(0, 0, 8, 8), apart=(0,))]
    packing = pack(shapes, [sheet(90, 90, 1)], stop=Iterations(1))
    assert "at most 2 on a sheet" in {i: why for i, _, why in packing.unplaced}[0]
    assert "never with part" in why_unplaced(prepare(shapes, [sheet(90, 90, 1)]), 1)


@pytest.mark.parametrize("seed", range(3))
def test_a_kit_stays_together_where_it_can(seed: int) -> None:
    """Three kits of a bar and two blocks fill a sheet each: one sheet for each kit."""
    kits = ["stand", "bench", "rack"]
    bars = [shape(box(0, 0, 60, 20 + k), kit=kit) for k, kit in enumerate(kits)]
    blocks = [shape(box(0, 0, 30, 38 - k), 2, kit=kit) for k, kit in enumerate(kits)]
    shapes = [*bars, *blocks]
    packing = pack(shapes, [sheet(60, 59)], stop=Iterations(8), seed=seed)
    assert [len({shapes[p.shape].kit for p in s.placements}) for s in packing.sheets] == [1, 1, 1]


def test_pieces_that_look_alike_change_places() -> None:
    """For the early date on the first sheet, for a kit where the rest of it lies."""
    square, bar = box(0, 0, 10, 10), box(0, 0, 30, 10)
    shapes = [
        shape(square, 2, due=0, kit="a"),
        shape(square, 2, due=1, kit="b"),
        shape(bar, kit="b"),
    ]
    problem = prepare(shapes, [sheet(30, 20)])

    def laid(*kinds: int) -> PackedSheet:
        pieces = [PackedPlacement(s, 0.0, False, 10.0 * k, 0.0) for k, s in enumerate(kinds)]
        return PackedSheet(0, tuple(pieces))

    bars = PackedPlacement(2, 0.0, False, 0.0, 10.0)
    first = laid(0, 1)
    second = replace(first, placements=(*laid(1, 0).placements, bars))
    found = exchanged(problem, [first, second])
    assert found == with_fillers(problem, Recipe((), ()), [first, second])
    assert [[p.shape for p in s.placements] for s in found] == [[0, 0], [1, 1, 2]]
    assert [[(p.x, p.y) for p in s.placements] for s in found] == [
        [(p.x, p.y) for p in s.placements] for s in (first, second)
    ]


def one_by_one(*kinds: int) -> list[PackedSheet]:
    """Sheets of two pieces each, side by side."""
    return [
        PackedSheet(0, tuple(PackedPlacement(s, 0.0, False, 10.0 * k, 0.0) for k, s in pair))
        for pair in (enumerate(kinds[at : at + 2]) for at in range(0, len(kinds), 2))
    ]


@pytest.mark.parametrize(
    "wishes", [({"kit": "a"}, {"kit": "b"}), ({"due": 0}, {"due": 1}), ({"due": 0}, {})]
)
def test_the_score_tells_what_is_gathered_from_what_is_spread(
    wishes: tuple[dict[str, object], dict[str, object]],
) -> None:
    """Two of each on two sheets at the same cost: one kind on each sheet is better."""
    one, other = (shape(box(0, 0, 10, 10 - k), 2, **w) for k, w in enumerate(wishes))
    problem = prepare([one, other], [sheet(20, 10)])
    together, spread = one_by_one(0, 0, 1, 1), one_by_one(0, 1, 1, 0)
    assert score(problem, together) < score(problem, spread)
    assert score(problem, together)[:3] == score(problem, spread)[:3]


def test_what_is_due_early_is_on_few_sheets() -> None:
    """The same square for two dates, four on each sheet: the first date needs one sheet."""
    early, late = shape(box(0, 0, 10, 10), 4, due=0, priority=1), shape(box(0, 0, 10, 10), 8, due=1)
    packing = pack([late, early], [sheet(20, 20)], stop=Iterations(1))
    assert sum(s.runs for s in packing.sheets if any(p.shape == 1 for p in s.placements)) == 1


def test_fillers_in_need_come_first() -> None:
    """Room for four is left: the small filler in greater need takes it, not the larger one."""
    wanted = shape(box(0, 0, 20, 20))
    more = shape(box(0, 0, 10, 10), 9, filler=True, need=3.0)
    less = shape(box(0, 0, 20, 10), 9, filler=True)
    packing = pack([wanted, less, more], [sheet(40, 20)], stop=Iterations(1))
    (packed,) = packing.sheets
    assert Counter(p.shape for p in packed.placements) == {0: 1, 2: 4}


def test_fillers_that_find_no_room_split_no_runs() -> None:
    """Three full sheets cut alike stay one layout, though two fillers are left over."""
    squares, filler = shape(box(0, 0, 10, 10), 12), shape(box(0, 0, 5, 5), 2, filler=True)
    packing = pack([squares, filler], [sheet(20, 20)], stop=Iterations(1))
    assert [s.runs for s in packing.sheets] == [3]


def test_fillers_keep_the_conditions() -> None:
    """Beside the third bar is room for four of them, and one may lie there."""
    bars = shape(box(0, 0, 20, 10), 3)
    filler = shape(box(0, 0, 10, 5), 5, filler=True, most=1)
    packing = pack([bars, filler], [sheet(20, 20)], stop=Iterations(1))
    assert sum(p.shape == 1 for s in packing.sheets for p in s.placements) == 1
