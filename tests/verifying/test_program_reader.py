"""Programs written by hand are understood as ISO 6983 and NISTIR 6556 mean them.

G0 to G3, I and J from the start of the arc, G20 and G21 as on many controls, G70 and G71 as
in the list of the EIA standard: see the docstring of `nestlib.verifying.program`. The
expected geometry is worked out by hand from the numbers of each program.
"""

import math

import pytest

from nestlib.errors import InputError
from nestlib.verifying.program import Dialect, Stroke, interpret


def strokes(*lines: str, absolute: bool = False) -> tuple[Stroke, ...]:
    """What lines do."""
    return interpret("\n".join(lines), Dialect(absolute_centres=absolute))


def test_a_square_with_its_lead():
    """Modal words, comments and line numbers; the length is the lead's 5 and 40 of the square."""
    (stroke,) = strokes(
        "%", "(a square) N1 G21 G90", "N2 G0 X10 Y5 ; to the pierce", "N3 M3", "N4 G1 Y10",
        "X20", "Y20", "X10", "Y10", "M5", "M30", "this is never read (",
    )  # fmt: skip
    assert stroke.path.start.tolist() == [10 + 5j, 10 + 10j, 20 + 10j, 20 + 20j, 10 + 20j]
    assert stroke.path.end[-1] == 10 + 10j
    assert stroke.path.length == 45
    assert (stroke.word, stroke.side, stroke.line) == ("M3", "", 4)


@pytest.mark.parametrize(("word", "area"), [("G3", 1), ("G2", -1)])
def test_a_full_circle_ends_where_it_starts(word, area):
    """Radius 5 about (15, 10), counter-clockwise by G3 and clockwise by G2."""
    (stroke,) = strokes("G21 G90", "G0 X20 Y10", "M3", f"{word} X20 Y10 I-5 J0", "M5")
    assert stroke.path.length == pytest.approx(10 * math.pi)
    assert stroke.path.area == pytest.approx(area * 25 * math.pi)


def test_a_quarter_arc_by_centre_and_by_radius():
    """From (10, 0) to (0, 10) about the origin: three ways to say the same."""
    ways = [
        (["G3 X0 Y10 I-10 J0"], False), (["G3 X0 Y10 I0 J0"], True), (["G3 X0 Y10 R10"], False)
    ]  # fmt: skip
    for lines, absolute in ways:
        (stroke,) = strokes("G21", "G0 X10 Y0", "M3", *lines, "M5", absolute=absolute)
        assert stroke.path.length == pytest.approx(5 * math.pi)
        assert abs(stroke.path.centre[0]) < 1e-12


def test_a_negative_radius_is_the_longer_arc():
    """Three quarters of the same circle, about (10, 10)."""
    (stroke,) = strokes("G21", "G0 X10 Y0", "M3", "G3 X0 Y10 R-10", "M5")
    assert stroke.path.length == pytest.approx(15 * math.pi)
    assert abs(stroke.path.centre[0] - (10 + 10j)) < 1e-12


@pytest.mark.parametrize("word", ["G20", "G70"])
def test_inches(word):
    """25.4 mm by definition."""
    (stroke,) = strokes(word, "G0 X1 Y0", "M3", "G1 X2", "M5")
    assert stroke.path.start[0] == 25.4
    assert stroke.path.length == pytest.approx(25.4)


def test_incremental_moves_and_both_words_for_millimetres():
    """G91 counts from where the head is."""
    (stroke,) = strokes("G71 G91", "G0 X10 Y10", "M3", "G1 X5", "Y-2.5", "G90", "X0 Y0", "M5")
    assert stroke.path.end.tolist() == [15 + 10j, 15 + 7.5j, 0j]


def test_marks_and_sides():
    """M4 etches here, and G41 keeps half a slot to the left."""
    mark, cut = strokes(
        "G21", "M4", "G1 X5", "M5", "G0 X9", "M3", "G41", "G1 Y9", "G40", "M5"
    )  # fmt: skip
    assert (mark.word, mark.side) == ("M4", "")
    assert (cut.word, cut.side) == ("M3", "left")


@pytest.mark.parametrize(
    ("lines", "line", "words"),
    [
        (["G1 X5"], 1, "before the units"),
        (["G21", "X5"], 2, "before G0, G1, G2 or G3"),
        (["G21", "G1 X5 Y"], 2, "no word of a program"),
        (["G21", "G1 X--5"], 2, "no word of a program"),
        (["G21", "G1 X5 (open"], 2, "comment is not closed"),
        (["G21", "G18 X5"], 2, "G18 is not understood"),
        (["G21", "G92 X5"], 2, "G92 is not understood"),
        (["G21", "G2 X5 Y0"], 2, "neither I and J nor R"),
        (["G21", "G2 X5 Y0 I2 J0"], 2, "radii of an arc differ by 1.0000 mm"),
        (["G21", "G2 X5 Y0 I2.4985 J0"], 2, "radii of an arc differ by 0.0030 mm"),
        (["G21", "G3 X0 Y0 R5"], 2, "full circle cannot be given by R"),
        (["G21", "G3 X20 Y0 R5"], 2, "farther apart than twice its R"),
        (["G21", "G3 X0 Y0 I0 J0"], 2, "no radius"),
        (["G21", "G1 X5 I3"], 2, "straight move has a centre"),
        (["G21", "M3", "G0 X5"], 3, "rapid is run with the beam on"),
        (["G21", "M3", "M3"], 3, "was on before"),
        (["G21", "M3", "M5"], 3, "without a move"),
        (["G21", "M3", "G1 X5", "M30"], 4, "ends with the beam on"),
    ],
)
def test_broken_programs_give_one_clear_error(lines, line, words):
    """File, line, problem and remedy."""
    with pytest.raises(InputError) as caught:
        strokes(*lines)
    (problem,) = caught.value.problems
    assert problem.place == f"line {line}"
    assert words in problem.problem
    assert problem.remedy


def test_arcs_may_be_a_little_off():
    """Radii that differ by 0.001 mm are taken, as 0.002 mm may be."""
    (stroke,) = strokes("G21", "M3", "G2 X5 Y0 I2.4995 J0", "M5")
    assert stroke.path.length == pytest.approx(2.5 * math.pi, rel=1e-3)


def test_the_way_of_the_head_is_told():
    """Corners of a rapid, and the step over a joint."""
    first, second = strokes(
        "G21", "G0 X5 Y0", "G0 X5 Y5", "M3", "G1 X9", "M5", "G0 X10", "M3", "G1 X15", "M5"
    )  # fmt: skip
    assert first.way == (5 + 0j, 5 + 5j)
    assert second.way == (10 + 5j,)


def test_placeholders_switch_the_beam_and_unknown_ones_are_refused():
    """As long as nobody has put in words, a program can be checked and not run."""
    dialect = Dialect("PLACEHOLDER_ON", "PLACEHOLDER_MARK", "PLACEHOLDER_OFF")
    text = "G21 G0 X1 Y0\nPLACEHOLDER_ON\nG1 X4\nN7 PLACEHOLDER_OFF\n"
    (stroke,) = interpret(text, dialect)
    assert stroke.path.end.tolist() == [4]
    with pytest.raises(InputError, match="line 2"):
        interpret(text.replace("_ON", "_OTHER"), dialect)
