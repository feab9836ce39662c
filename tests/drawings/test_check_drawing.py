"""All checks of a drawing together, and its figures."""

import json
import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from nestlib.drawings.check import check_drawing
from nestlib.drawings.codes import LEVELS, finding
from nestlib.drawings.summary import check_record, summary
from nestlib.model import Contour, Drawing, LeftOut, Part, Sheet, Source
from tests.shapes import holes, outlines


def drawing(*parts, findings=(), units="mm"):
    """Return a drawing as if it had been read."""
    return Drawing("plates.dxf", units, "file", "R2010", parts, findings)


def plate(*holes, name="plate", outer=None, origin=(0.0, 0.0), units="mm"):
    """Return a part as if it had been read."""
    source = Source("plates.dxf", 0, origin, units)
    return Part(name, outer or Contour.rectangle(101, 57), holes, source=source)


def hole(x, y, diameter):
    """Return a round hole, clockwise."""
    return Contour.circle((x, y), diameter / 2).reversed()


def codes(*args, **options):
    """Return the codes of what is found."""
    return [found.code for found in check_drawing(*args, **options)]


def test_a_good_drawing_gives_nothing():
    """No finding without a reason, whatever is compared."""
    sheet = Sheet("sheet", Contour.rectangle(1000, 500))
    good = drawing(plate(hole(50, 28, 20)))
    assert codes(good, thickness=3, kerf=0.2, sheets=[sheet]) == []


def test_findings_of_reading_come_along_and_errors_first():
    """Levels are sorted, and the order of reading is kept within each."""
    read = [
        finding("gap-closed", "a"),
        finding("open-contour", "b"),
        finding("zero-length", "c"),
    ]
    found = check_drawing(drawing(plate(hole(50, 28, 2)), findings=tuple(read)), thickness=3)
    assert [f.code for f in found] == [
        "open-contour",
        "hole-too-small",
        "gap-closed",
        "zero-length",
    ]
    levels = [LEVELS.index(f.level) for f in found]
    assert levels == sorted(levels)


def test_places_are_those_of_the_drawing():
    """The part's own (0, 0) lies somewhere in the drawing."""
    (found,) = check_drawing(drawing(plate(hole(50, 28, 2), origin=(300, -40))), thickness=3)
    assert found.places == ((350.0, -12.0),)
    assert found.part == "plate"


def test_broken_contours_are_not_measured():
    """Where contours cross there is neither a hole nor a web; the reader has said so."""
    broken = plate(hole(0, 28, 2))
    read = finding("contours-cross", "they cross", part="plate")
    assert codes(drawing(broken, findings=(read,)), thickness=3, kerf=0.2) == ["contours-cross"]


def test_crossing_contours_are_found_even_if_reading_did_not():
    """A part that was made by a program and not read may be broken as well."""
    assert codes(drawing(plate(hole(0, 28, 20))), thickness=3) == ["contours-cross"]


@pytest.mark.parametrize(
    ("width", "height", "doubted"),
    [(0.9, 0.5, True), (1.1, 0.5, False), (5999, 100, False), (100, 6001, True)],
)
def test_sizes_that_no_sheet_has_are_doubted(width, height, doubted):
    """Below 1 mm and above 6 m, where the usual formats end (no source)."""
    part = plate(outer=Contour.rectangle(width, height))
    assert ("suspicious-size" in codes(drawing(part))) == doubted


def test_a_doubted_size_is_also_told_in_the_other_unit():
    """A drawing read in the wrong unit is 25.4 times too large or too small."""
    part = plate(outer=Contour.rectangle(7620, 2540), units="in")
    (found,) = check_drawing(drawing(part, units="in"))
    assert "7620 x 2540 mm when read in in" in found.message
    assert "in mm it were 300 x 100 mm" in found.message


@pytest.mark.parametrize(
    ("width", "height", "units", "doubted"),
    [
        (4.125, 2.375, "mm", True),
        (4.125, 2.375, "in", False),
        (4.5, 2.5, "mm", False),
        (4.13, 2.38, "mm", False),
        (104.125, 62.375, "mm", False),
    ],
)
def test_small_parts_in_sixteenths_are_taken_for_inches(width, height, units, doubted):
    """Halves, decimals and large sizes are usual in mm."""
    part = plate(outer=Contour.rectangle(width, height))
    assert ("suspicious-size" in codes(drawing(part, units=units))) == doubted


@pytest.mark.parametrize(("count", "reported"), [(5000, True), (900, False)])
def test_thousands_of_tiny_segments_are_reported_once(count, reported):
    """Where a curve was made of lines; the place is on the contour."""
    turn = [2 * math.pi * i / count for i in range(count)]
    ring = Contour([(100 + 100 * math.cos(a), 100 + 100 * math.sin(a)) for a in turn])
    found = [f for f in check_drawing(drawing(plate(outer=ring))) if f.code == "tiny-segments"]
    assert len(found) == reported
    assert all(str(count) in f.message and f.places == ((200.0, 100.0),) for f in found)


@given(st.data())
@settings(max_examples=25, deadline=None)
def test_any_part_can_be_checked(data):
    """Law: no shape makes a check fail, and every place lies on the part or beside it."""
    outer = data.draw(outlines())
    part = Part("any", outer, data.draw(holes(outer)))
    sheet = Sheet("sheet", Contour.rectangle(150, 150))
    x0, y0, x1, y1 = outer.bounds
    for found in check_drawing(drawing(part), thickness=6, kerf=0.4, sheets=[sheet]):
        assert all(x0 - 0.1 <= x <= x1 + 0.1 and y0 - 0.1 <= y <= y1 + 0.1 for x, y in found.places)


def test_the_summary_counts_what_is_cut():
    """Closed formulas for a plate with a round hole; 1e-9 mm and mm²."""
    figures = summary(plate(hole(50, 28, 20)))
    assert (figures.width, figures.height) == (101, 57)
    assert figures.area == pytest.approx(101 * 57 - 100 * math.pi, abs=1e-9)
    assert figures.cut_length == pytest.approx(2 * (101 + 57) + 20 * math.pi, abs=1e-9)
    assert (figures.contours, figures.pierces, figures.marks) == (2, 2, 0)


def test_the_record_is_plain_data():
    """It survives JSON unchanged, and holds parts, findings and what was left out."""
    read = Drawing(
        "plates.dxf", "mm", "file", "R12", (plate(),), left_out=(LeftOut("TEXT", "T", 2, "text"),)
    )
    record = check_record(read, [finding("gap-closed", "a gap", places=[(1, 2)])])
    assert json.loads(json.dumps(record)) == record
    assert record["parts"][0]["part"] == "plate"
    assert record["findings"][0]["places"] == [[1.0, 2.0]]
    assert record["left_out"][0]["count"] == 2
