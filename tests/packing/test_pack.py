"""The packer as a whole, judged by shapely alone."""

import os
import signal
import threading
from collections import Counter
from concurrent.futures import ProcessPoolExecutor
from multiprocessing import get_context

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import MultiPolygon, Point, Polygon, affinity, box, intersection
from shapely.strtree import STRtree

from nestlib.model import Progress
from nestlib.packing import (
    After,
    Container,
    First,
    Iterations,
    Packing,
    SearchState,
    Shape,
    Stalled,
    lower_bound,
    pack,
)

RIGHT_ANGLES = (0.0, 90.0, 180.0, 270.0)


def shape(polygon: Polygon, quantity: int = 1, **options: object) -> Shape:
    """A shape whose clearance polygon is the part itself."""
    return Shape("part", polygon, polygon.area, quantity, **options)  # type: ignore[arg-type]


def sheet(
    room: Polygon | MultiPolygon, quantity: int | None = None, **options: object
) -> Container:
    """A container whose room is all of it."""
    rooms = room if isinstance(room, MultiPolygon) else MultiPolygon([room])
    return Container("sheet", rooms, rooms.area, quantity, **options)  # type: ignore[arg-type]


def check(shapes: list[Shape], containers: list[Container], packing: Packing) -> None:
    """Overlaps, pieces outside (both to 1e-9 of the room's area) and counts."""
    placed: Counter[int] = Counter()
    used: Counter[int] = Counter()
    for packed in packing.sheets:
        room = containers[packed.container].room
        used[packed.container] += packed.runs
        laid = []
        for p in packed.placements:
            placed[p.shape] += packed.runs
            g = shapes[p.shape].polygon
            g = affinity.scale(g, -1, 1, origin=(0, 0)) if p.flip else g
            g = affinity.rotate(g, p.rotation, origin=(0, 0))
            laid.append(affinity.translate(g, p.x, p.y))
        assert all(g.difference(room).area <= 1e-9 * room.area for g in laid)
        for i, j in zip(*STRtree(laid).query(laid), strict=True):
            # On a grid: GEOS 3.14 can return a whole triangle for two that only touch.
            common = intersection(laid[i], laid[j], grid_size=1e-9) if i < j else Point()
            assert common.area <= 1e-9 * room.area
    missing = {i: n for i, n, _ in packing.unplaced}
    for i, s in enumerate(shapes):
        if s.filler:
            assert placed[i] <= s.quantity
        else:
            assert placed[i] + missing.get(i, 0) == s.quantity
    for k, c in enumerate(containers):
        assert c.quantity is None or used[k] <= c.quantity


def packed(
    shapes: list[Shape], containers: list[Container], rounds: int = 0, seed: int = 0
) -> Packing:
    """Pack and check."""
    packing = pack(shapes, containers, stop=Iterations(rounds), seed=seed)
    check(shapes, containers, packing)
    return packing


def test_four_squares_fill_a_box_exactly() -> None:
    """Four unit squares fit a box of side 2 with nothing to spare."""
    assert packed([shape(box(0, 0, 1, 1), 4)], [sheet(box(0, 0, 2, 2), 1)]).unplaced == ()


def test_five_squares_need_a_turn_by_45_degrees() -> None:
    """At right angles only 4 unit squares fit a square of side 2.7072.

    s(5) = 2 + 1/sqrt 2 is proved and needs a turned square: E. Friedman, "Packing unit
    squares in squares", Electronic Journal of Combinatorics, Dynamic Survey 7 (2009).
    """
    packing = packed([shape(box(0, 0, 1, 1), 5)], [sheet(box(0, 0, 2.7072, 2.7072), 1)], 3)
    assert packing.pieces == 4
    assert packing.unplaced[0][:2] == (0, 1)


@pytest.mark.parametrize("seed", range(4))
def test_rectangles_cut_from_a_rectangle_fit_back(seed: int) -> None:
    """A guillotine jigsaw of 6 pieces is put together again."""
    random = np.random.default_rng(seed)
    pieces = [box(0, 0, 60, 40)]
    for _ in range(5):
        x0, y0, x1, y1 = pieces.pop(int(np.argmax([p.area for p in pieces]))).bounds
        share = random.uniform(0.3, 0.7)
        if x1 - x0 > y1 - y0:
            x = x0 + share * (x1 - x0)
            pieces += [box(x0, y0, x, y1), box(x, y0, x1, y1)]
        else:
            y = y0 + share * (y1 - y0)
            pieces += [box(x0, y0, x1, y), box(x0, y, x1, y1)]
    shapes = [shape(p, rotations=(0.0,)) for p in pieces]
    packing = pack(shapes, [sheet(box(0, 0, 60, 40), 1)], stop=First(Stalled(12), Iterations(30)))
    check(shapes, [sheet(box(0, 0, 60, 40), 1)], packing)
    assert packing.unplaced == ()


def test_a_jigsaw_with_slanted_cuts_fits_back() -> None:
    """Two triangles and two quadrilaterals cut from a rectangle fill it again."""
    cuts = [
        [(0, 0), (40, 0), (25, 30)],
        [(0, 0), (25, 30), (0, 30)],
        [(40, 0), (60, 0), (60, 12), (33, 14)],
        [(33, 14), (60, 12), (60, 30), (25, 30)],
    ]
    shapes = [shape(Polygon(c), rotations=(0.0,)) for c in cuts]
    packing = packed(shapes, [sheet(box(0, 0, 60, 30), 1)], 10)
    assert packing.unplaced == ()


def test_a_part_goes_into_the_hole_of_another() -> None:
    """A disc is placed inside a ring when the sheet has no other room."""
    ring = box(0, 0, 100, 100).difference(box(10, 10, 90, 90))
    packing = packed([shape(ring), shape(Point(0, 0).buffer(39))], [sheet(box(0, 0, 110, 110), 1)])
    assert packing.unplaced == ()


def test_holes_and_dents_of_a_remnant_are_kept_free() -> None:
    """Pieces lie around a hole and inside an outline with slanted sides."""
    remnant = Polygon([(0, 0), (800, 0), (700, 500), (300, 600), (0, 400)])
    room = remnant.difference(Point(300, 200).buffer(80)).difference(box(500, 300, 560, 600))
    packing = packed([shape(box(0, 0, 90, 60), 60)], [sheet(room, 1)])
    assert packing.pieces > 40


def test_separate_islands_of_room_are_all_used() -> None:
    """A room in two parts takes a piece in each."""
    islands = MultiPolygon([box(0, 0, 10, 10), box(20, 5, 31, 16)])
    assert packed([shape(box(0, 0, 10, 10), 2)], [sheet(islands, 1)]).unplaced == ()


def test_a_grain_lies_along_the_grain_of_the_sheet() -> None:
    """Only the two turns that lay the direction along the sheet's grain are used."""
    strip = shape(box(0, 0, 30, 10), 6, grain=20.0, rotations=RIGHT_ANGLES)
    packing = packed([strip], [sheet(box(0, 0, 300, 300), 1, grain=90.0)])
    assert {p.rotation for p in packing.sheets[0].placements} <= {70.0, 250.0}


def test_a_flipped_part_keeps_its_grain() -> None:
    """Mirroring x turns the direction g into 180 - g."""
    hook = Polygon([(0, 0), (30, 0), (30, 10), (10, 10), (10, 40), (0, 40)])
    packing = packed([shape(hook, 12, flip=True, grain=30.0)], [sheet(box(0, 0, 400, 300), 1)])
    for p in packing.sheets[0].placements:
        own = 180 - 30 if p.flip else 30
        assert (own + p.rotation) % 180 == pytest.approx(0, abs=1e-9)


def test_flips_are_used_where_allowed_and_only_there() -> None:
    """A right triangle and its mirror image fill a rectangle; without flips they cannot."""
    half = Polygon([(0, 0), (40, 0), (0, 30)])
    room = [sheet(MultiPolygon([Polygon([(0, 0), (40, 0), (40, 30)])]), 1)]
    assert packed([shape(half, flip=True, rotations=(0.0,))], room).unplaced == ()
    assert packed([shape(half, rotations=(0.0,))], room).pieces == 0


def test_any_angle_finds_the_slanted_fit() -> None:
    """A bar that fits only along the diagonal of a narrow slanted room is placed."""
    bar = box(0, 0, 100, 8)
    slanted = affinity.rotate(box(0, 0, 104, 10), 45, origin=(0, 0))
    assert packed([shape(bar, rotations=None)], [sheet(slanted, 1)]).pieces == 1
    assert packed([shape(bar, rotations=RIGHT_ANGLES)], [sheet(slanted, 1)]).pieces == 0


def test_equal_layouts_are_merged_into_runs() -> None:
    """Ten thousand pieces are a few layouts."""
    packing = packed([shape(box(0, 0, 100, 100), 10_000)], [sheet(box(0, 0, 1000, 500))])
    assert len(packing.sheets) == 1
    assert packing.sheets[0].runs == 200


def test_remnants_are_used_before_whole_sheets() -> None:
    """A container of a lower rank is filled first."""
    containers = [sheet(box(0, 0, 100, 100), order=1), sheet(box(0, 0, 50, 50), 1, order=0)]
    packing = packed([shape(box(0, 0, 50, 50), 3)], containers, 2)
    assert 1 in {s.container for s in packing.sheets}


def test_the_cheaper_mix_of_sheets_is_chosen() -> None:
    """Two pieces that need half a large sheet each go on the sheet that costs less."""
    containers = [sheet(box(0, 0, 100, 100), cost=10.0), sheet(box(0, 0, 100, 50), cost=4.0)]
    packing = packed([shape(box(0, 0, 100, 50), 2)], containers, 2)
    assert sum((containers[s.container].cost or 0) * s.runs for s in packing.sheets) == 8


def test_priorities_go_first() -> None:
    """With one sheet for half of the pieces, those of higher priority are placed."""
    shapes = [shape(box(0, 0, 50, 50), 4), shape(box(0, 0, 50, 50), 4, priority=5)]
    packing = packed(shapes, [sheet(box(0, 0, 100, 100), 1)], 5)
    assert [u[:2] for u in packing.unplaced] == [(0, 4)]


def test_fillers_open_no_sheet_and_are_never_missing() -> None:
    """They take the room that is left, here 4 places on each of 2 runs and on no third."""
    shapes = [shape(box(0, 0, 80, 100), 2), shape(box(0, 0, 20, 20), 50, filler=True)]
    packing = packed(shapes, [sheet(box(0, 0, 100, 100))], 2)
    assert sum(s.runs for s in packing.sheets) == 2
    assert packing.pieces == 2 + 10
    assert packing.unplaced == ()


@pytest.mark.parametrize("slack", [1.0, 3.0])
def test_fillers_go_into_holes_before_they_take_more_of_the_sheet(slack: float) -> None:
    """As many discs as rings have holes for: all are placed, and the sheet is used no further
    than without discs, by shapely, however little room a hole leaves a disc."""
    hole = Point(60, 60).buffer(35)
    rings = [shape(Point(60, 60).buffer(r).difference(hole), n) for r, n in ((60, 12), (67, 8))]
    discs = shape(Point(0, 0).buffer(35 - slack), 20, filler=True)
    reach = []
    for shapes in (rings, [*rings, discs]):
        (layout,) = packed(shapes, [sheet(box(0, 0, 1000, 1000))]).sheets
        assert len(layout.placements) == sum(s.quantity for s in shapes)
        turned = [
            (affinity.rotate(shapes[p.shape].polygon, p.rotation, (0, 0)), p)
            for p in layout.placements
        ]
        reach.append(max(g.bounds[2] + p.x for g, p in turned))
    assert reach[1] <= reach[0] + 1e-6


def test_too_few_fillers_for_all_runs_are_still_placed() -> None:
    """Three fillers for ten equal sheets: three of the sheets get one."""
    shapes = [shape(box(0, 0, 80, 100), 10), shape(box(0, 0, 20, 20), 3, filler=True)]
    packing = packed(shapes, [sheet(box(0, 0, 100, 100))])
    assert packing.pieces == 13
    assert sorted(s.runs for s in packing.sheets) == [3, 7]


def test_reasons_tell_what_is_too_large_and_what_ran_out() -> None:
    """A part larger than every sheet is told apart from one that came too late."""
    shapes = [shape(box(0, 0, 300, 20)), shape(box(0, 0, 90, 90), 3)]
    packing = packed(shapes, [sheet(box(0, 0, 100, 100), 2)])
    (_, _, too_large), (_, missing, too_late) = packing.unplaced
    assert "300 x 20" in too_large
    assert "100 x 100" in too_large
    assert missing == 1
    assert "no sheet left" in too_late
    assert "Give a larger sheet" in too_large
    assert "Give more sheets" in too_late


@pytest.mark.parametrize(
    ("part", "room", "words"),
    [
        (box(0, 0, 9.8704, 5), box(0, 0, 9.87, 6), "9.8704 x 5.0000 mm, and the sheet offers 9.87"),
        (box(0, 0, 20, 5), box(0, 0, 9.87, 6), "takes 20 x 5 mm, and the sheet offers 10 x 6 mm"),
        (box(0, 0, 5, 5), box(0, 0, 6, 6) - box(2, 2, 4, 4), "its box would, but corners"),
    ],
)
def test_the_reason_shows_the_difference(part: Polygon, room: Polygon, words: str) -> None:
    """With as many digits as it takes; or it says that size is not what is in the way."""
    ((_, _, reason),) = packed([shape(part)], [sheet(room)]).unplaced
    assert words in reason


def test_nothing_to_place_and_nowhere_to_place_it() -> None:
    """No shapes, turns, containers or room without area: empty packings, nothing raises."""
    unit = sheet(box(0, 0, 1, 1))
    assert packed([shape(box(0, 0, 1, 1), rotations=())], [unit]).unplaced[0][1] == 1
    assert packed([shape(box(0, 0, 1, 1), 0)], [unit]).sheets == ()
    assert packed([], [sheet(box(0, 0, 1, 1))]).sheets == ()
    assert packed([shape(box(0, 0, 1, 1))], []).unplaced[0][1] == 1
    assert packed([shape(box(0, 0, 1, 1))], [sheet(MultiPolygon())]).unplaced[0][1] == 1


def _mixed() -> tuple[list[Shape], list[Container]]:
    shapes = [
        shape(Point(0, 0).buffer(20), 6),
        shape(Polygon([(0, 0), (60, 0), (60, 20), (20, 20), (20, 50), (0, 50)]), 7, flip=True),
        shape(box(0, 0, 45, 30), 8),
    ]
    return shapes, [sheet(box(0, 0, 160, 120)), sheet(box(0, 0, 120, 90), 2)]


@pytest.mark.slow
def test_the_same_seed_gives_the_same_layout_with_any_number_of_workers() -> None:
    """Here, in one process and in two."""
    shapes, containers = _mixed()
    here = packed(shapes, containers, 3, seed=7)
    assert packed(shapes, containers, 3, seed=7) == here
    for workers in (1, 2):
        with ProcessPoolExecutor(workers, mp_context=get_context("spawn")) as executor:
            there = pack(shapes, containers, stop=Iterations(3), seed=7, executor=executor)
        assert there == here


class _Interrupt:
    """Acts like Ctrl-C at a certain report."""

    def __init__(self, after: int) -> None:
        self.after = after

    def __call__(self, progress: Progress) -> None:
        self.after -= 1
        if self.after < 0:
            raise KeyboardInterrupt


def test_an_interrupt_at_once_leaves_everything_unplaced() -> None:
    """There is a packing, and it says why it is empty."""
    shapes, containers = _mixed()
    packing = pack(shapes, containers, stop=Iterations(5), on_progress=_Interrupt(0))
    check(shapes, containers, packing)
    assert packing.stopped
    assert {reason for _, _, reason in packing.unplaced} == {"stopped before it was placed"}


def test_an_interrupt_while_improving_keeps_the_best() -> None:
    """All pieces stay placed."""
    shapes, containers = _mixed()
    packing = pack(shapes, containers, stop=After(20), on_progress=_Interrupt(3))
    check(shapes, containers, packing)
    assert packing.stopped
    assert packing.unplaced == ()


@pytest.mark.slow
def test_a_real_ctrl_c_keeps_the_best_after_the_solver_has_run() -> None:
    """The solver leaves the signal to Python: SIGINT ends the search, not the program."""
    shapes, containers = _mixed()
    before = signal.signal(signal.SIGINT, signal.default_int_handler)
    timer = threading.Timer(4.0, os.kill, [os.getpid(), signal.SIGINT])
    timer.start()
    try:
        packing = pack(shapes, containers, stop=After(30))
    finally:
        timer.cancel()
        signal.signal(signal.SIGINT, before)
    check(shapes, containers, packing)
    assert packing.stopped
    assert packing.unplaced == ()


def test_improving_never_makes_it_worse() -> None:
    """More rounds use no more sheets."""
    shapes, containers = _mixed()
    counts = [
        sum(s.runs * containers[s.container].area for s in packed(shapes, containers, n).sheets)
        for n in (0, 2, 6)
    ]
    assert counts == sorted(counts, reverse=True)


def test_a_search_that_cannot_gain_anything_stalls_at_once() -> None:
    """One piece lies in the corner from the start: every round counts as stalled."""
    states: list[SearchState] = []

    def stop(state: SearchState) -> bool:
        states.append(state)
        return Stalled(3)(state)

    pack([shape(box(0, 0, 30, 20))], [sheet(box(0, 0, 100, 100))], stop=stop)
    assert (states[-1].iterations, states[-1].stalled) == (3, 3)


def test_the_bound_counts_area_and_stock() -> None:
    """36 bars of 1000 need four sheets of 10 000, or the only large one and two more."""
    bars = [shape(box(0, 0, 100, 10), 36)]
    small, large = sheet(box(0, 0, 100, 100), cost=4.0), sheet(box(0, 0, 200, 100), 1, cost=9.0)
    assert lower_bound(bars, [small]).sheets == 4
    assert lower_bound(bars, [small, large]).sheets == 3
    assert lower_bound(bars, [small, large]).cost == pytest.approx(16.0)
    assert lower_bound(bars, [small], missing=[16]).sheets == 2


sizes = st.tuples(st.integers(5, 60), st.integers(5, 60), st.integers(1, 5), st.integers(0, 2))


@pytest.mark.slow
@given(st.lists(sizes, min_size=1, max_size=5), st.integers(0, 3))
@settings(deadline=None, max_examples=25)
def test_any_small_job_is_packed_without_overlap(
    parts: list[tuple[int, int, int, int]], seed: int
) -> None:
    """Rectangles, triangles and rings: valid, complete, and no better than the bound."""
    forms = (
        lambda w, h: box(0, 0, w, h),
        lambda w, h: Polygon([(0, 0), (w, 0), (w / 3, h)]),
        lambda w, h: box(0, 0, w, h).difference(box(w / 4, h / 4, w / 2, 3 * h / 4)),
    )
    shapes = [shape(forms[f](w, h), n, flip=f == 1) for w, h, n, f in parts]
    remnant = Polygon([(0, 0), (90, 0), (70, 80), (0, 60)]).difference(box(20, 20, 30, 30))
    containers = [sheet(remnant, 1, order=0), sheet(box(0, 0, 100, 75), order=1)]
    packing = packed(shapes, containers, seed % 2, seed)
    assert packing.unplaced == ()
    bound = lower_bound(shapes, containers)
    assert sum(s.runs for s in packing.sheets) >= bound.sheets


def test_the_search_ends_when_no_plan_can_be_better() -> None:
    """Nine plates of 60 on sheets of 100: nine sheets are proved, long before the end."""
    plate = Shape("plate", box(0, 0, 60, 60), 3600.0, quantity=9)
    sheet = Container("sheet", MultiPolygon([box(0, 0, 100, 100)]), 10_000.0, cost=5.0)
    packing = pack([plate], [sheet], stop=After(600))
    assert sum(s.runs for s in packing.sheets) == 9
    assert packing.bound is not None
    assert packing.bound.cost == pytest.approx(45.0)
    assert packing.bound.sheets == 9
