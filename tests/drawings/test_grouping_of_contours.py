"""Contours grouped to parts, and parts that are drawn several times."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

import pytest
from ezdxf.document import Drawing as Document
from numpy.testing import assert_allclose

from nestlib.drawings.chains import Run
from nestlib.drawings.nesting import Nesting
from nestlib.drawings.repeats import unrepeated
from nestlib.drawings.sketch import Style
from nestlib.geometry.transform import moved, placed, turned
from nestlib.model import Contour, Part, Placement
from tests.drawn import drawn


def square(x: float, y: float, side: float) -> Contour:
    """Return a square by its lower left corner."""
    return moved(Contour.rectangle(side, side), x, y)


def nested(*contours: Contour, layer: str = "0") -> Nesting:
    """Return how contours lie in one another."""
    return Nesting([Run(c, Style(layer=layer), i) for i, c in enumerate(contours)])


def families(nesting: Nesting) -> list[tuple[int, tuple[int, ...]]]:
    """Return outer contours and holes as plain numbers."""
    return [(f.outer, f.inners) for f in nesting.families()]


def test_contours_are_counted_from_the_outside_in() -> None:
    """Outer, hole, part in the hole, hole in that part; in any order in the file."""
    nesting = nested(square(4, 4, 2), square(0, 0, 10), square(3, 3, 4), square(1, 1, 8))
    assert families(nesting) == [(1, (3,)), (2, (0,))]
    assert nesting.faults == []


def test_a_square_in_the_notch_of_an_l_is_no_hole() -> None:
    """It lies in the bounding box only."""
    ell = Contour([(0, 0), (30, 0), (30, 10), (10, 10), (10, 30), (0, 30)])
    assert families(nested(ell, square(15, 15, 10))) == [(0, ()), (1, ())]


def test_a_ring_in_a_ring_with_one_centre() -> None:
    """Concentric circles nest by size, although the inside of one lies in all others."""
    rings = [Contour.circle((0, 0), r) for r in (10, 40, 20, 30)]
    assert families(nested(*rings)) == [(1, (3,)), (2, (0,))]


def test_arcs_decide_not_their_chords() -> None:
    """A hole in the bulge of a half circle lies in the part."""
    half = Contour([(0, 0), (20, 0)], [1, 0])
    assert families(nested(half, Contour.circle((10, -8), 1.5))) == [(0, (1,))]


@pytest.mark.parametrize(
    ("second", "code", "place"),
    [
        (Contour.circle((50, 25), 10), "hole-outside-part", 50),
        (square(40, 10, 50), "contours-cross", 40),
        (Contour.circle((25, 10), 10), "contours-cross", 25),
        (square(50, 10, 20), "contours-cross", 50),
    ],
)
def test_contours_that_cross_or_touch_are_told(second: Contour, code: str, place: float) -> None:
    """A hole over the edge, a crossing, a tangent circle inside, a common edge: with the place."""
    (fault,) = nested(square(0, 0, 50), second).faults
    assert fault.code == code
    assert fault.places[0][0] == pytest.approx(place, abs=0.1)


def test_contours_may_come_close() -> None:
    """0.01 mm between two tangent circles is no touch."""
    assert nested(Contour.circle((0, 0), 10), Contour.circle((20.01, 0), 10)).faults == []


def test_a_contour_that_crosses_itself_is_told_with_the_place() -> None:
    """A bow tie crosses in its middle."""
    (fault,) = nested(Contour([(0, 0), (80, 50), (80, 0), (0, 50)])).faults
    assert fault.code == "self-crossing"
    assert_allclose(fault.places[0], (40, 25))


def test_a_hole_by_name_has_to_lie_in_a_part() -> None:
    """On a layer that says so; elsewhere it is a part of its own."""
    runs = [
        Run(square(0, 0, 10), Style(layer="CUT_OUTER"), 0),
        Run(square(20, 0, 5), Style(layer="CUT_INNER"), 1),
    ]
    nesting = Nesting(runs)
    assert len(nesting.families()) == 2
    assert [f.code for f in nesting.faults] == ["hole-outside-part"]


def test_nothing_gives_nothing() -> None:
    """No contours, no parts, no faults."""
    assert families(nested()) == []


def plate(hole: float = 5.0) -> Part:
    """Return a plate with a hole and a mark."""
    mark = Contour([(1, 1), (5, 1)], closed=False)
    return Part("", Contour.rectangle(40, 20), (Contour.circle((20, 10), hole),), (mark,))


def test_a_part_drawn_again_is_counted() -> None:
    """Whatever the start, and the direction of marks; to 0.001 mm."""
    again = Part(
        "",
        plate().outer.starting_at(2),
        (Contour([(20, 15), (20, 5)], [-1, -1]),),
        (plate().marks[0].reversed(),),
    )
    parts, stands = unrepeated([plate(), again, plate(5.0002)])
    assert [p.quantity for p in parts] == [3]
    assert stands == [0, 0, 0]


def lying(part: Part, turn: float, flip: bool = False) -> Part:
    """Return the part as it is drawn once more, turned, elsewhere and from another vertex."""
    placement = Placement("", turn, flip, 70.0, -20.0)
    outer, *inners = (placed(c, placement) for c in (part.outer, *part.inners))
    marks = tuple(placed(c, placement) for c in part.marks)
    return Part("", outer.oriented(ccw=True).starting_at(1), tuple(inners), marks)


def ring(holes: int) -> Part:
    """Return a disc with a bore, holes around it and one hole that breaks the symmetry."""
    angles = [2 * math.pi * i / holes for i in range(holes)]
    around = [Contour.circle((30 * math.cos(t), 30 * math.sin(t)), 2) for t in angles]
    return Part("", Contour.circle((0, 0), 40), (*around, Contour.circle((20, 3), 1)))


def saw(teeth: int) -> Part:
    """Return a part whose outline repeats itself, with one hole off the middle."""
    radii = [50, 48] * teeth
    angles = [math.pi * i / teeth for i in range(2 * teeth)]
    outline = [(r * math.cos(t), r * math.sin(t)) for r, t in zip(radii, angles, strict=True)]
    return Part("", Contour(outline), (Contour.circle((13, 0), 3),))


@pytest.mark.parametrize("part", [plate(), ring(6), saw(40)], ids=["plate", "ring", "saw"])
def test_a_part_drawn_turned_is_counted(part: Part) -> None:
    """At any angle, within 0.001 mm; the orientation is that of the first one drawn."""
    turns = [0, 90, 180, 270, 31.7, 123.456, 359.99]
    parts, stands = unrepeated([part, *(lying(part, turn) for turn in turns)])
    assert stands == [0] * (len(turns) + 1)
    assert parts[0].quantity == len(turns) + 1
    assert parts[0].outer is part.outer


def test_what_turned_parts_hold_has_to_match() -> None:
    """A hole that is 0.01 mm off makes another part, at whatever angle."""
    off = replace(saw(40), inners=(Contour.circle((13, 0.01), 3),))
    assert unrepeated([saw(40), lying(off, 45)])[1] == [0, 1]


@pytest.mark.parametrize(
    "other",
    [
        plate(5.01),
        Part("", plate().outer, plate().inners),
        Part("", moved(turned(plate().outer, 90), 20, 0), plate().inners, plate().marks),
        lying(plate(), 0, flip=True),
        lying(plate(), 30, flip=True),
        Part(
            "",
            Contour([(0, 0), (40, 0), (40, 20), (0, 20)], [0.01, 0, 0, 0]),
            *[plate().inners, plate().marks],
        ),
    ],
)
def test_parts_that_differ_stay_apart(other: Part) -> None:
    """Another hole, no mark, only the outside turned, mirrored, a side that bulges by 0.2 mm."""
    assert unrepeated([plate(), other])[1] == [0, 1]


def test_names_and_origins(tmp_path: Path) -> None:
    """Parts are numbered in the order of the file; (0, 0) is the corner of the bounding box."""

    def draw(document: Document) -> None:
        space = document.modelspace()
        space.add_circle((100, 50), 10)
        space.add_lwpolyline([(-5, -5), (5, -5), (0, 5)], close=True)
        space.add_circle((200, 50), 10)

    first, second = drawn(tmp_path, draw).parts
    assert (first.name, first.quantity, first.source.origin) == ("plate-1", 2, (90, 40))
    assert (second.name, second.source.origin, second.source.index) == ("plate-2", (-5, -5), 1)
    assert second.outer.bounds == (0, 0, 10, 10)


def test_directions(tmp_path: Path) -> None:
    """Outer contours run counter-clockwise, holes clockwise, however they were drawn."""

    def draw(document: Document) -> None:
        space = document.modelspace()
        space.add_lwpolyline([(0, 0), (0, 50), (50, 50), (50, 0)], close=True)
        space.add_lwpolyline([(10, 10), (20, 10), (20, 20), (10, 20)], close=True)

    (part,) = drawn(tmp_path, draw).parts
    assert part.outer.signed_area == 2500
    assert part.inners[0].signed_area == -100


def test_marks_go_to_the_part_on_which_they_lie(tmp_path: Path) -> None:
    """Also in a part inside a hole; a mark outside is told and kept for the picture."""

    def draw(document: Document) -> None:
        space = document.modelspace()
        for radius in (50, 30, 20):
            space.add_circle((0, 0), radius)
        for x in (-5, 40, 60):
            space.add_line((x, 0), (x, 5), dxfattribs={"layer": "etch"})

    drawing = drawn(tmp_path, draw)
    assert [len(p.marks) for p in drawing.parts] == [1, 1]
    assert [f.code for f in drawing.findings] == ["mark-outside-part"]
    assert len(drawing.loose) == 1
