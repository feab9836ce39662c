"""Periodic arrangements in containers: sound, as many pieces as known, and towards one end."""

from collections import Counter
from concurrent.futures import ThreadPoolExecutor

import pytest
from shapely import MultiPolygon, Point, Polygon, affinity, box

from nestlib.packing import Container, Iterations, PackedSheet, Shape, pack
from nestlib.packing.order import first_recipes
from nestlib.packing.problem import Problem, prepare
from nestlib.packing.repeats import (
    ColumnTask,
    RepeatTask,
    grow,
    lay_out_repeats,
    planned,
    repeated_shapes,
)
from nestlib.packing.repeats.planning import cut_off
from nestlib.packing.stopping import SearchState
from tests.outlines import overlaps

HALF_TURNS = (0.0, 180.0)
RIGHT_ANGLES = (0.0, 90.0, 180.0, 270.0)
GUSSET = Polygon([(0, 0), (60, 0), (60, 10), (10, 50), (0, 50)])
ARROW = Polygon([(0, 0), (40, 20), (0, 40), (10, 20)])


def shape(polygon: Polygon, quantity: int, **options: object) -> Shape:
    """A shape whose clearance polygon is the part itself."""
    return Shape("part", polygon, polygon.area, quantity, **options)  # type: ignore[arg-type]


def tray(room: Polygon, quantity: int | None = None, **options: object) -> Container:
    """A container whose room is all of it."""
    return Container("tray", MultiPolygon([room]), room.area, quantity, **options)  # type: ignore[arg-type]


def columns(problem: Problem) -> list[PackedSheet]:
    """Layouts of every shape of which many are wanted."""
    recipe = first_recipes(problem)[0]
    tasks = [
        RepeatTask(s, recipe, 0, Iterations(1), SearchState()) for s in repeated_shapes(problem)
    ]
    return [sheet for task in tasks for sheet in lay_out_repeats(problem, task)]


def plan(problem: Problem) -> list[PackedSheet]:
    """A plan that begins with them."""
    return planned(problem, first_recipes(problem)[0], columns(problem))


def assert_sound(problem: Problem, sheet: PackedSheet) -> None:
    """By shapely: all pieces in the room, and none on another, to 1e-9 of their area."""
    pieces = []
    for p in sheet.placements:
        g = problem.shapes[p.shape].polygon
        g = affinity.scale(g, -1, 1, origin=(0, 0)) if p.flip else g
        g = affinity.translate(affinity.rotate(g, p.rotation, origin=(0, 0)), p.x, p.y)
        pieces.append(g)
    room = problem.containers[sheet.container].room
    assert max(overlaps(pieces)) <= 1e-9 * room.area
    assert max(g.difference(room).area for g in pieces) <= 1e-9 * room.area


def test_triangles_fill_a_square_completely() -> None:
    """Two hundred halves of 20 x 5 rectangles fill a hundred of these: no area is left."""
    triangle = Polygon([(0, 0), (20, 0), (0, 5)])
    problem = prepare([shape(triangle, 1000, rotations=HALF_TURNS)], [tray(box(0, 0, 100, 100))])
    best = columns(problem)[0]
    assert_sound(problem, best)
    assert len(best.placements) == 200
    assert [(len(s.placements), s.runs) for s in plan(problem)] == [(200, 5)]


def test_discs_lie_in_as_many_rows_as_a_hexagonal_lattice_has() -> None:
    """Rows sqrt(3) / 2 diameters apart: 11 of 10 and 9 discs in a square of 10 diameters.

    105 of them: R. L. Graham, B. D. Lubachevsky, "Repeated patterns of dense packings of
    equal disks in a square", Electronic Journal of Combinatorics 3 (1996) R16.
    """
    disc = Point(0, 0).buffer(5, quad_segs=12)
    side = 100.0
    problem = prepare([shape(disc, 1000, rotations=(0.0,))], [tray(box(0, 0, side, side))])
    best = columns(problem)[0]
    assert_sound(problem, best)
    assert len(best.placements) >= 105


@pytest.mark.parametrize(
    "options",
    [
        {"rotations": (0.0,)},
        {"rotations": HALF_TURNS},
        {"rotations": (0.0, 33.0, 90.0, 213.0)},
        {"rotations": None},
        {"rotations": RIGHT_ANGLES, "flip": True},
        {"grain": 20.0, "flip": True},
    ],
    ids=["none", "half", "listed", "any", "flip", "grain"],
)
@pytest.mark.parametrize("part", [GUSSET, ARROW], ids=["gusset", "arrow"])
def test_pieces_lie_only_as_they_may_in_any_room(part: Polygon, options: dict[str, object]) -> None:
    """In a room with a dent and a hole nothing overlaps, and turns and grain are kept."""
    dented = box(0, 0, 700, 400) - box(500, 250, 700, 400)
    room = dented - Point(250, 180).buffer(60)
    problem = prepare([shape(part, 500, **options)], [tray(room, grain=90.0)])
    best = columns(problem)[0]
    assert_sound(problem, best)
    turns = {(p.rotation % 360, p.flip) for p in best.placements}
    if "grain" in options:
        # The direction at 20 degrees lies along the grain at 90; mirrored, it is at 160.
        assert turns <= {(70.0, False), (250.0, False), (290.0, True), (110.0, True)}
    elif options["rotations"] is not None:
        assert {r for r, _ in turns} <= set(options["rotations"])  # type: ignore[call-overload]
        assert "flip" in options or not any(f for _, f in turns)
    filled = len(best.placements) * part.area / room.area
    assert filled > 0.5


def test_what_is_not_wanted_is_taken_off_one_end() -> None:
    """No choice of so many pieces of the layout leaves a longer strip at the right or above."""
    problem = prepare([shape(GUSSET, 500)], [tray(box(0, 0, 700, 400))])
    best = columns(problem)[0]
    kept = cut_off(problem, best, 40)
    assert len(kept) == 40
    assert set(kept) <= set(best.placements)

    def free(along: int, placements: tuple[object, ...]) -> float:
        boxes = [
            (p.x + problem.orientation(0, p).box[2], p.y + problem.orientation(0, p).box[3])  # type: ignore[attr-defined, arg-type]
            for p in placements
        ]
        return sorted(b[along] for b in boxes)[39]

    strips = [(700 - free(0, best.placements)) * 400, (400 - free(1, best.placements)) * 700]
    own = [(700 - free(0, kept)) * 400, (400 - free(1, kept)) * 700]
    assert max(own) == pytest.approx(max(strips))


def test_the_rest_of_a_sheet_is_filled_with_other_parts() -> None:
    """Gussets and discs are all there, on no more sheets than by themselves."""
    parts = [shape(GUSSET, 330), shape(Point(0, 0).buffer(20), 90)]
    problem = prepare(parts, [tray(box(0, 0, 700, 400))])
    found = plan(problem)
    made: Counter[int] = Counter()
    for sheet in found:
        assert_sound(problem, sheet)
        for p in sheet.placements:
            made[p.shape] += sheet.runs
    assert made == {0: 330, 1: 90}
    assert any(len({p.shape for p in s.placements}) == 2 for s in found)


def test_conditions_are_kept() -> None:
    """At most 30 on a sheet, and never with the other part."""
    parts = [shape(GUSSET, 90, most=30), shape(ARROW, 300, apart=(0,))]
    problem = prepare(parts, [tray(box(0, 0, 700, 400))])
    for sheet in plan(problem):
        counts = Counter(p.shape for p in sheet.placements)
        assert len(counts) == 1
        assert counts[0] <= 30


def test_a_layout_takes_in_more_pieces() -> None:
    """The engine finds room along the border for pieces that the arrangement left out."""
    ell = Polygon([(0, 0), (150, 0), (150, 38), (38, 38), (38, 110), (0, 110)])
    problem = prepare([shape(ell, 500)], [tray(box(0, 0, 1240, 615))])
    column = columns(problem)[0]
    found = column
    for k in range(3):
        found = grow(problem, ColumnTask(found, (k,), Iterations(1), SearchState()))
    assert_sound(problem, found)
    assert len(found.placements) > len(column.placements)


def test_few_pieces_are_not_worth_looking_for() -> None:
    """Neither few pieces nor many that fill hardly anything."""
    parts = [shape(GUSSET, 20), shape(box(0, 0, 5, 5), 200)]
    assert repeated_shapes(prepare(parts, [tray(box(0, 0, 700, 400))])) == []


@pytest.mark.slow
def test_as_many_triangles_as_their_area_allows_with_any_number_of_workers() -> None:
    """Six trays hold 144 triangles without waste: the bound by area, and the same plan."""
    triangle = Polygon([(0, 0), (20, 0), (0, 5)])
    given = [shape(triangle, 144, rotations=HALF_TURNS)], [tray(box(0, 0, 60, 20))]
    alone = pack(*given, stop=Iterations(1), seed=3)
    assert sum(s.runs for s in alone.sheets) == 6
    with ThreadPoolExecutor(2) as pool:
        assert pack(*given, stop=Iterations(1), seed=3, executor=pool).sheets == alone.sheets
