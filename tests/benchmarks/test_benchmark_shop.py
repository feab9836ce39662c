"""A shop's own work: the jobs, what a shop would do without outlines, and their check."""

from dataclasses import replace
from itertools import combinations
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner
from shapely import STRtree, affinity, box

from benchmarks.__main__ import main
from benchmarks.measured import read_all
from benchmarks.report_shop import shop, shop_pictures
from benchmarks.shop import Watch
from benchmarks.shop_boxes import by_shelves, by_solver, rectangles
from benchmarks.shop_checking import FORGIVEN, faults, polygon
from benchmarks.shop_parts import KINDS
from benchmarks.shop_work import PIECES, SPACING, shop_job
from nestlib.geometry import part_clearance, region, sheet_room
from nestlib.model import Job, Layout, Placement, Progress
from nestlib.soundness import demand_sound


@pytest.mark.parametrize("pieces", PIECES)
@pytest.mark.parametrize("seed", [1, 2])
def test_a_job_has_the_pieces_asked_for_and_is_sound(pieces: int, seed: int) -> None:
    """The counts are exact, 30 % of the kinds are wanted in tens, sizes are 20 to 1500 mm."""
    job = shop_job(pieces, seed)
    demand_sound(job)
    assert sum(part.quantity for part in job.parts) == pieces
    many = [part.quantity for part in job.parts if part.quantity >= 10]
    assert len(many) == round(0.3 * len(job.parts))
    sizes = [max(part.size) for part in job.parts]
    assert min(sizes) >= 20 - 1e-6
    assert max(sizes) <= 1500 + 1e-6


def test_the_same_seed_gives_the_same_job_and_another_one_another() -> None:
    """Contours and quantities are the same to the last digit."""
    first, again, other = (shop_job(200, seed) for seed in (3, 3, 4))
    for a, b in zip(first.parts, again.parts, strict=True):
        assert (a.name, a.quantity, len(a.inners)) == (b.name, b.quantity, len(b.inners))
        assert np.array_equal(a.outer.points, b.outer.points)
        assert np.array_equal(a.outer.bulges, b.outer.bulges)
    assert [p.quantity for p in first.parts] != [p.quantity for p in other.parts]


@pytest.mark.parametrize("kind", KINDS, ids=lambda kind: kind.name)
def test_every_kind_is_sound_from_its_least_to_its_greatest_size(kind: object) -> None:
    """Holes lie within the outline and apart, with more than 0.25 mm of metal between them."""
    for size in np.geomspace(kind.least, kind.most, 6):  # type: ignore[attr-defined]
        for seed in range(5):
            outer, holes = kind.draw(size, np.random.default_rng(seed))  # type: ignore[attr-defined]
            metal = region(outer, holes, 0.005)
            assert metal.is_valid
            x0, y0, x1, y1 = outer.bounds
            assert max(x1 - x0, y1 - y0) == pytest.approx(size, rel=1e-6)
            outline = region(outer, (), 0.005)
            openings = [region(hole, (), 0.005) for hole in holes]
            assert all(outline.exterior.distance(hole) > 0.25 for hole in openings)
            pairs = combinations(openings, 2)
            assert all(a.distance(b) > 0.25 for a, b in pairs)


def test_every_part_fits_on_a_new_sheet() -> None:
    """The box of its clearance polygon goes into the room of one of the two sizes."""
    job = shop_job(5000)
    x0, y0, x1, y1 = sheet_room(job.sheets[0], SPACING).bounds
    for part in job.parts:
        a0, b0, a1, b1 = part_clearance(part, SPACING).bounds
        assert a1 - a0 <= x1 - x0
        assert b1 - b0 <= y1 - y0


def assert_sound(job: Job, layouts: list[Layout]) -> None:
    """Nothing is wrong, by clearance polygons and by distances; all pieces are there."""
    assert faults(job, layouts, {}) == []
    grown = {part.name: part_clearance(part, job.spacing) for part in job.parts}
    for layout in layouts:
        room = sheet_room(layout.sheet, job.spacing).buffer(1e-6)
        pieces = [
            affinity.translate(affinity.rotate(grown[p.part], p.rotation, (0, 0)), p.x, p.y)
            for p in layout.placements
        ]
        assert all(room.covers(piece) for piece in pieces)
        for i, j in STRtree(pieces).query(pieces, predicate="intersects").T:
            assert i >= j or pieces[i].intersection(pieces[j]).area < 1e-3  # of mm²


@pytest.mark.parametrize("pieces", [50, 200])
def test_shelves_of_boxes_are_sound(pieces: int) -> None:
    """Clearance polygons lie in the room and apart."""
    job = shop_job(pieces)
    assert_sound(job, by_shelves(job))


def test_boxes_by_the_solver_are_sound() -> None:
    """Also where it changes what the shelves began with."""
    job = shop_job(50)
    small = replace(job, parts=tuple(replace(p, quantity=2) for p in job.parts))
    assert_sound(small, by_solver(small, 2.0))


def test_rooms_are_cut_into_rectangles_that_lie_in_them_and_apart() -> None:
    """Also around a hole and in an L; the largest comes first."""
    for sheet in shop_job(50).sheets:
        found = [box(r.x, r.y, r.x + r.width, r.y + r.height) for r in rectangles(sheet, SPACING)]
        room = sheet_room(sheet, SPACING).buffer(1e-4)
        assert all(room.covers(one) for one in found)
        assert found[0].area == max(one.area for one in found)
        pairs = [(a, b) for k, a in enumerate(found) for b in found[:k]]
        assert all(a.intersection(b).area < 1e-6 for a, b in pairs)


def test_the_check_finds_pieces_too_near_off_the_sheet_in_its_hole_or_missing() -> None:
    """A distance 0.1 mm too short is found, one that is exact is not."""
    job = shop_job(50)
    part = replace(next(p for p in job.parts if max(p.size) < 120), quantity=2)
    job = replace(job, parts=(part,))
    sheet, holed = job.sheet("sheet-3000x1500"), job.sheet("remnant-hole")
    edge, gap = SPACING.to_edge, SPACING.between_parts

    def wrong(on: object, *places: tuple[float, float]) -> int:
        pieces = tuple(Placement(part.name, 0.0, False, x, y) for x, y in places)
        return len(faults(job, [Layout(on, pieces)], {}))  # type: ignore[arg-type]

    beside = edge + part.size[0] + gap
    assert wrong(sheet, (edge, edge), (beside, edge)) == 0
    assert wrong(sheet, (edge - 0.1, edge), (beside, edge)) == 1
    assert wrong(sheet, (edge, edge), (edge, edge)) == 1
    assert wrong(sheet, (edge, edge)) == 1
    assert wrong(holed, (1250 / 2, 20), (420, 430)) == 1
    assert 0 < FORGIVEN < 0.1
    assert polygon(holed.outline, holed.holes).area == pytest.approx(holed.area, rel=1e-4)


def test_a_watch_notes_the_first_plan_and_when_it_is_nearly_there() -> None:
    """Without any figure of the search, both are when the cuts are begun."""
    watch = Watch()
    watch(Progress(0.0, "ordering the cuts, layout 1 of 1"))
    assert watch.first() == watch.reached(0.5) == watch.packed
    watch.curve = [(1.0, 0.7), (2.0, 0.6), (3.0, 0.7)]
    assert (watch.first(), watch.reached(0.65)) == (1.0, 3.0)


@pytest.mark.slow
def test_the_command_writes_a_row_and_the_report_shows_it(tmp_path: Path) -> None:
    """It is valid in all ways, and its plan is drawn where it is kept."""
    out = tmp_path / "shop.json"
    arguments = ["shop", "--pieces", "50", "--seconds", "1", "--out", str(out)]
    done = CliRunner().invoke(main, arguments)
    assert done.exit_code == 0, done.output
    measured = read_all(tmp_path)
    (row,) = measured[0]["rows"]
    assert row["valid"]
    assert row["unplaced"] == 0
    assert row["sheets"] >= row["bound_sheets"]
    assert all(other["valid"] for other in row["others"].values())
    assert "boxes by CP-SAT" in "\n".join(shop(measured))
    assert list(shop_pictures(measured)) == []  # of the job of 200 pieces alone
