"""Pieces laid together: lengths by hand, and what falls out of the sheet by shapely."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import LineString, Polygon

from nestlib.bundling import Pattern, allowed_turns, patterns, put, reaching, saved_length
from nestlib.model import Contour, Part, Placement, Spacing
from tests.sharing import RIGHT_TRIANGLE, TRAPEZOID, assert_exact, metal

SPACING = Spacing(0.2, 3.0, 10.0)
KERF = SPACING.kerf


def of_size(part: Part, most: int, spacing: Spacing = SPACING) -> list[Pattern]:
    """Patterns of exactly so many pieces."""
    return [p for p in patterns(part, spacing, most) if len(p.members) == most]


def cut(pattern: Pattern, kerf: float = KERF) -> float:
    """Length of the way around, along the contour, and of the shared lines as they are run."""
    return pattern.outline.length + sum(line.length for line in reaching(pattern, kerf))


def test_two_squares_by_hand():
    """Around 2 (2a + k + a), one line of a and half a kerf at either end: 7a + 3k, not 8a."""
    a = 40.0
    for pattern in of_size(Part("square", Contour.rectangle(a, a)), 2):
        assert cut(pattern) == pytest.approx(7 * a + 3 * KERF, abs=1e-9)


def test_two_by_two_squares_by_hand():
    """Around 4 (2a + k) and two lines of 2a + k + k: 12a + 8k, not 16a; a row is 13a and more."""
    a = 40.0
    lengths = sorted(cut(p) for p in of_size(Part("square", Contour.rectangle(a, a)), 4))
    assert lengths[0] == pytest.approx(12 * a + 8 * KERF, abs=1e-9)
    row = 2 * (4 * a + 3 * KERF + a) + 3 * (a + KERF)
    assert lengths[1:] == pytest.approx([row, row], abs=1e-9)


def test_two_right_triangles_by_hand():
    """Two triangles make a rectangle that is k sqrt(w² + h²) / h longer than one; by hand.

    Their hypotenuses lie k apart: k sqrt(w² + h²) / h along the base. The line runs from corner
    to corner of the slot, and k / 2 beyond the outline, measured square to it, at both ends.
    """
    w, h = 60.0, 40.0
    hypotenuse = float(np.hypot(w, h))
    pair = next(
        p for p in of_size(Part("gusset", RIGHT_TRIANGLE), 2)
        if abs(p.lines[0].length - hypotenuse) < 1e-6
    )  # fmt: skip
    x0, y0, x1, y1 = pair.outline.bounds
    sides = sorted([x1 - x0, y1 - y0])
    options = [sorted([w + KERF * hypotenuse / h, h]), sorted([w, h + KERF * hypotenuse / w])]
    assert any(np.allclose(sides, o, atol=1e-9) for o in options)
    assert len(pair.outline) == 4
    slope = h / hypotenuse if sides[0] == pytest.approx(h) else w / hypotenuse
    (line,) = reaching(pair, KERF)
    assert line.length == pytest.approx(hypotenuse + KERF / slope, abs=1e-9)


def test_two_trapezoids_turned_by_hand():
    """Along their slanted edges they make a rectangle of 80 + 60 and the slot, 40 high."""
    slant = float(np.hypot(20, 40))
    sizes = [p.outline.bounds[2:] for p in of_size(Part("cheek", TRAPEZOID), 2)]
    wanted = (80 + 60 + KERF * slant / 40, 40.0)
    assert any(np.allclose(size, wanted, atol=1e-9) for size in sizes)


@pytest.mark.parametrize(
    "outline",
    [
        RIGHT_TRIANGLE,
        TRAPEZOID,
        Contour([(0, 0), (80, 0), (100, 40), (20, 40)]),
        Contour([(0, 0), (80, 0), (80, 20), (30, 20), (30, 60), (0, 60)]),
        Contour([(0, 0), (60, 0), (60, 50), (40, 50), (40, 20), (20, 20), (20, 50), (0, 50)]),
    ],
    ids=["triangle", "trapezoid", "parallelogram", "angle", "fork"],
)
def test_every_pattern_frees_its_pieces_exactly_and_none_early(outline):
    """What falls out is the pieces, each once and whole; before the way around, nothing does."""
    part = Part("bracket", outline)
    found = patterns(part, SPACING, 6)
    assert found
    for pattern in found:
        assert_exact(pattern, {"bracket": part}, KERF)


@settings(max_examples=10, deadline=None)
@given(
    st.floats(10, 300), st.floats(10, 300), st.floats(0.05, 1.0), st.floats(0, 10),
    st.integers(2, 8),
)  # fmt: skip
def test_any_rectangles_come_out_exactly(width, height, kerf, spacing, most):
    """Whatever the size, the kerf and the spacing."""
    part = Part("plate", Contour.rectangle(width, height))
    for pattern in patterns(part, Spacing(kerf, spacing, 10.0), most):
        assert_exact(pattern, {"plate": part}, kerf)


@pytest.mark.parametrize(
    "outline",
    [
        Contour.circle((20, 20), 20),
        Contour([(0, 0), (9, 0), (9, 9), (0, 9)]),
        # Rounded corners: the beam could not reach into the notch between two of them.
        Contour(
            [(5, 0), (45, 0), (50, 5), (50, 35), (45, 40), (5, 40), (0, 35), (0, 5)],
            [0, np.tan(np.pi / 8)] * 4,
        ),
        # A hexagon: beside any shared edge its neighbours would leave such a notch.
        Contour([(40 * np.cos(t), 40 * np.sin(t)) for t in np.arange(6) * np.pi / 3]),
    ],
    ids=["disc", "small", "rounded", "hexagon"],
)
def test_what_would_not_come_out_exactly_is_not_laid_together(outline):
    """No long straight edge, or a notch into which a round beam does not reach."""
    assert patterns(Part("cap", outline), SPACING, 8) == []


def test_prongs_that_would_come_too_near_elsewhere_are_not_laid_together():
    """A fork upside down on another meets it with both prongs, and only one could be shared."""
    fork = Part("fork", Contour(
        [(0, 0), (60, 0), (60, 50), (40, 50), (40, 20), (20, 20), (20, 50), (0, 50)]
    ))  # fmt: skip
    for pattern in of_size(fork, 2):
        one, other = (metal(fork, m) for m in pattern.members)
        slot = LineString(pattern.lines[0].points).buffer(SPACING.between_parts + KERF)
        assert one.difference(slot).distance(other) >= SPACING.between_parts - 1e-6


def test_pieces_are_laid_only_as_they_may_turn():
    """With turns of 0 and 90 no piece lies turned by 180 in any pattern that may be used."""
    fixed = Part("cheek", TRAPEZOID, rotations=(0.0, 90.0))
    turned = [p for p in patterns(fixed, SPACING, 4) if {m.rotation for m in p.members} == {0, 180}]
    assert turned
    assert all(allowed_turns([fixed] * len(p.members), p) == () for p in turned)
    assert all(m.rotation == 0 for p in patterns(fixed, SPACING, 4, half_turns=False)
               for m in p.members)  # fmt: skip


@given(st.floats(0, 359), st.booleans(), st.floats(-500, 500), st.floats(-500, 500))
@settings(max_examples=15, deadline=None)
def test_a_bundle_lies_on_the_sheet_as_its_pattern_does(turn, flip, x, y):
    """Pieces placed one by one fill the outline but for its slots; shapely turns them."""
    part = Part("gusset", RIGHT_TRIANGLE, flip=True)
    pattern = of_size(part, 4)[0]
    pieces, bundle = put(pattern, Placement("gusset", turn, flip, x, y), KERF, 7)
    assert bundle.placements == (7, 8, 9, 10)
    outline = Polygon(bundle.outline.points)
    solid = [metal(part, p) for p in pieces]
    assert all(p.difference(outline.buffer(1e-7)).area < 1e-6 for p in solid)
    slots = outline.area - sum(p.area for p in solid)
    assert slots == pytest.approx(
        Polygon(pattern.outline.points).area - 4 * Polygon(part.outer.points).area, abs=1e-4
    )
    assert all(p.flip == flip for p in pieces)


def test_saved_length_is_what_is_not_cut_twice():
    """Of two squares one side less; a kerf of the outline at either end of the slot is more."""
    part = Part("square", Contour.rectangle(40, 40))
    saved = {round(saved_length(p, [part, part]), 9) for p in of_size(part, 2)}
    assert saved == {40 - 2 * KERF}
