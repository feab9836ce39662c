"""Whole strips, checked by shapely alone."""

from __future__ import annotations

import signal
from dataclasses import replace
from itertools import pairwise

import pytest
from shapely import Point
from shapely.geometry import LineString, Polygon, box
from shapely.ops import split

from nestlib.engine import Item, StripPacking, pack_strip
from nestlib.engine.crew import Alone, Threads
from nestlib.engine.problem import StripProblem
from nestlib.engine.schedule import by_number
from nestlib.engine.search import StripParams, StripSearch
from nestlib.errors import InputError
from nestlib.model import Progress
from tests.strips import QUARTERS, assert_sound

ANGLE = Item("angle", Polygon([(-1, -1), (1, -1), (1, 0), (0, 0), (0, 1), (-1, 1)]), 4, QUARTERS)
FRAME = Item(
    "frame", Polygon(box(3, 3, 7, 7).exterior.coords, [box(4, 4, 6, 6).exterior.coords]), 2
)
DART = Item("dart", Polygon([(0, -1), (1, 1), (0, 0.4), (-1, 1)]), 4, (0.0, 30.0, 180.0))
MIXED = [ANGLE, FRAME, DART]


def jigsaw() -> list[Item]:
    """A rectangle of 6 x 4, cut into six pieces by straight and bent lines."""
    cuts = [
        LineString([(2, -1), (2, 1), (3, 1), (3, 3), (2, 3), (2, 5)]),
        LineString([(4, -1), (4, 2), (5, 2), (5, 5)]),
        LineString([(-1, 2), (7, 2)]),
    ]
    pieces = [box(0, 0, 6, 4)]
    for cut in cuts:
        pieces = [p for piece in pieces for p in split(piece, cut).geoms]
    return [Item(f"piece {i}", p) for i, p in enumerate(pieces)]


def test_a_jigsaw_is_put_together() -> None:
    """A rectangle cut into pieces is found again, to 1e-6, within 100 tries."""
    parts = jigsaw()
    assert sum(p.polygon.area for p in parts) == pytest.approx(24, abs=1e-9)
    packing = pack_strip(parts, 4, tries=100, seed=1)
    assert packing.length == pytest.approx(6, abs=1e-6)
    assert_sound(parts, 4, packing)


def test_mixed_parts_overlap_nowhere_and_lie_denser_than_in_a_row() -> None:
    """Parts with notches, holes and odd angles; some lie within the frames' height."""
    packing = pack_strip(MIXED, 6, tries=30)
    assert_sound(MIXED, 6, packing)
    assert packing.length < 16
    assert packing.tries >= 30
    assert not packing.stopped


def test_the_layout_does_not_depend_on_the_number_of_workers() -> None:
    """Two threads find the very layout that one finds; another seed finds another."""
    one, two, other = (
        pack_strip(MIXED, 6, tries=12, seed=seed, workers=workers)
        for seed, workers in ((5, 1), (5, 2), (6, 1))
    )
    assert one == two
    assert one.placements != other.placements


def test_touching_is_no_overlap() -> None:
    """Squares that fill the strip without a gap lie as short as their area, to 1e-7."""
    squares = [Item("square", box(-5, 2, -4, 3), 6)]
    packing = pack_strip(squares, 2, tries=40)
    assert packing.length == pytest.approx(3, abs=1e-7)
    assert_sound(squares, 2, packing)


def test_many_vertices_do_not_reach_over_the_strip() -> None:
    """A disc of 160 vertices exactly as wide as the strip stays within it."""
    disc = [Item("disc", Point(7, -3).buffer(1, quad_segs=40), 3)]
    packing = pack_strip(disc, 2, tries=4)
    assert packing.length == pytest.approx(6, abs=0.01)
    assert_sound(disc, 2, packing)


def test_every_better_layout_is_told() -> None:
    """The covered share only rises, and ends at that of the result, to 1e-9."""
    told: list[Progress] = []
    packing = pack_strip(MIXED, 6, tries=12, on_progress=told.append)
    shares = [p.utilisation for p in told if p.utilisation is not None]
    assert all(a < b for a, b in pairwise(shares))
    area = sum(p.polygon.area * p.quantity for p in MIXED)
    assert shares[-1] == pytest.approx(area / (6 * packing.length), rel=1e-9)


def test_ctrl_c_returns_the_best_so_far() -> None:
    """The layout of that moment is handed back whole, marked as stopped."""
    told: list[Progress] = []

    def press(progress: Progress) -> None:
        told.append(progress)
        if progress.phase in ("several starts", "long steps"):
            signal.raise_signal(signal.SIGINT)

    packing = pack_strip(MIXED, 6, tries=1000, on_progress=press)
    assert packing.stopped
    assert packing.tries < 1000
    assert_sound(MIXED, 6, packing)
    area = sum(p.polygon.area * p.quantity for p in MIXED)
    assert told[-1].utilisation == pytest.approx(area / (6 * packing.length), rel=1e-9)


def test_an_early_ctrl_c_still_returns_every_piece() -> None:
    """Before the first layout there are columns, no longer than one piece after the other."""

    def press(progress: Progress) -> None:
        signal.raise_signal(signal.SIGINT)

    packing = pack_strip(MIXED, 6, tries=1000, on_progress=press)
    assert packing.stopped
    assert packing.length <= 4 * 2 + 2 * 4 + 4 * 2
    assert_sound(MIXED, 6, packing)


@pytest.mark.parametrize(
    "within", ["nestlib.engine.search.constructed", "nestlib.engine.any_angle.search_angles"]
)
def test_ctrl_c_while_kernels_warm_up_ends_the_packing(
    monkeypatch: pytest.MonkeyPatch, within: str
) -> None:
    """The searches that only load kernels notice it first; the parts stay in columns."""

    def press(*args: object) -> None:
        signal.raise_signal(signal.SIGINT)

    monkeypatch.setattr(within, press)
    items = [replace(FRAME, rotations=None), DART]
    packing = pack_strip(items, 6, tries=1000)
    assert packing.stopped
    assert packing.tries == 0
    assert_sound(items, 6, packing)


def wrapped_interrupt(*args: object) -> None:
    """Ctrl-C as Python reports it where a compiled function ended with it."""
    raise SystemError("a result with an exception set") from KeyboardInterrupt()


@pytest.mark.parametrize("workers", [1, 2])
def test_ctrl_c_within_a_kernel_ends_a_search_before_its_crew_is_closed(
    monkeypatch: pytest.MonkeyPatch, workers: int
) -> None:
    """The search knows that it is interrupted when the crew waits for its tries."""
    known: list[bool] = []

    def close(crew: Alone | Threads) -> None:
        known.append(search.interrupted)

    monkeypatch.setattr("nestlib.engine.search.constructed", wrapped_interrupt)
    monkeypatch.setattr(Alone, "close", close)
    monkeypatch.setattr(Threads, "close", close)
    problem = StripProblem.of(MIXED, 6)
    search = StripSearch(problem, StripParams(), 0, by_number(9), workers=workers)
    search.run()
    assert known == [True]


@pytest.mark.parametrize(
    "within", ["any_angle.refined", "any_angle.search_angles", "any_angle.Outlines"]
)
def test_ctrl_c_within_a_kernel_is_no_system_error(
    monkeypatch: pytest.MonkeyPatch, within: str
) -> None:
    """Wherever a packing is, it ends with a sound layout, marked as stopped."""
    monkeypatch.setattr(f"nestlib.engine.{within}", wrapped_interrupt)
    items = [replace(FRAME, rotations=None), DART]
    packing = pack_strip(items, 6, tries=1000)
    assert packing.stopped
    assert_sound(items, 6, packing)


def test_a_part_that_never_fits_is_named() -> None:
    """The message says which part, what is wrong and what to do."""
    with pytest.raises(InputError, match=r"bar: 2 wide at its best turn, .*Widen the strip to 2"):
        pack_strip([Item("bar", box(0, 0, 3, 2), 1, (0.0, 90.0))], 1, tries=1)


def test_a_search_needs_an_end_and_parts() -> None:
    """Without an end it is refused; without parts the strip has no length."""
    with pytest.raises(ValueError, match="seconds or tries"):
        pack_strip(MIXED, 6)
    assert pack_strip([], 6, tries=1) == StripPacking(0.0, ())


@pytest.mark.parametrize("seconds", [0.0, 0.05, 0.3])
def test_the_shortest_searches_end_with_a_layout(seconds: float) -> None:
    """Wherever in its plan the clock catches a search, all pieces lie."""
    items = [Item("dart", Polygon([(0, -1), (1, 1), (0, 0.4), (-1, 1)]), 60, (0.0, 30.0, 180.0))]
    assert len(pack_strip(items, 6, seconds=seconds).placements) == 60
