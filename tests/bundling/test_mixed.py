"""Pieces of different parts laid together: lengths by hand, what falls out by shapely."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from datetime import date

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from nestlib.bundling import (
    Pattern,
    Thing,
    allowed_turns,
    grain_of,
    may_flip,
    plain_things,
    reaching,
    saved_length,
    things,
    with_others,
)
from nestlib.model import Contour, Part, Sheet
from tests.layouts import job_of
from tests.sharing import RIGHT_TRIANGLE, assert_exact

SHEET = Sheet("plate", Contour.rectangle(2500, 1250))
KERF = 0.2


def strip(name: str, width: float, length: float = 600.0, **changes: object) -> Part:
    """A rectangle, one piece, that may share cuts."""
    part = Part(name, Contour.rectangle(length, width), common_lines=True)
    return replace(part, **changes)  # type: ignore[arg-type]


def together(*parts: Part, most: int = 8, kerf: float = KERF, sheet: Sheet = SHEET) -> list[Thing]:
    """What is packed of single pieces, joined as far as they go."""
    job = job_of(parts, (sheet,), kerf)
    return with_others(job, plain_things(job), range(len(parts)), most)


def the_pattern(*parts: Part, most: int = 8) -> Pattern:
    """The one pattern of all of them."""
    (thing,) = together(*parts, most=most)
    assert thing.pattern is not None
    return thing.pattern


def cut(pattern: Pattern) -> float:
    """Length of the way around, along the contour, and of the shared lines as they are run."""
    return pattern.outline.length + sum(line.length for line in reaching(pattern, KERF))


def test_two_rectangles_by_hand():
    """Sides a x b and a x c: around 2 (a + b + c + k), one line of a + k; singly 4a + 2 (b + c)."""
    a, b, c = 600.0, 40.0, 55.0
    pattern = the_pattern(strip("b", b), strip("c", c))
    assert cut(pattern) == pytest.approx(2 * (a + b + c + KERF) + a + KERF, abs=1e-9)
    saved = saved_length(pattern, [strip("b", b), strip("c", c)])
    assert saved == pytest.approx(a - 2 * KERF, abs=1e-9)


def test_a_row_of_strips_by_hand():
    """Of n strips around 2 (a + sum + (n - 1) k), and n - 1 lines; each hangs by both ends."""
    a, widths = 600.0, [40.0, 55.0, 70.0, 85.0]
    strips = [strip(f"s{w:g}", w) for w in widths]
    pattern = the_pattern(*strips)
    around = 2 * (a + sum(widths) + 3 * KERF)
    assert cut(pattern) == pytest.approx(around + 3 * (a + KERF), abs=1e-9)
    assert_exact(pattern, {s.name: s for s in strips}, KERF)


def test_a_strip_drawn_upright_is_turned():
    """One of 600 x 40 beside one of 55 x 600 that lies turned by a quarter."""
    upright = Part("upright", Contour.rectangle(55, 600), common_lines=True)
    pattern = the_pattern(strip("lying", 40.0), upright)
    turns = {m.part: m.rotation for m in pattern.members}
    assert (turns["upright"] - turns["lying"]) % 180 == 90
    assert_exact(pattern, {"lying": strip("lying", 40.0), "upright": upright}, KERF)


def test_a_plate_beside_the_leg_of_a_gusset():
    """A rectangle of 60 x 30 along the leg of 60 of a triangle, one kerf apart."""
    gusset = Part("gusset", RIGHT_TRIANGLE, common_lines=True)
    plate = strip("plate", 30.0, 60.0)
    pattern = the_pattern(plate, gusset)
    assert_exact(pattern, {"plate": plate, "gusset": gusset}, KERF)
    assert saved_length(pattern, [plate, gusset]) > 50.0


def test_what_lies_turned_freely_is_turned_to_its_neighbour():
    """A triangle that may be turned freely lies with its hypotenuse at a strip as long as it."""
    long = float(np.hypot(60, 40))
    free = Part("free", RIGHT_TRIANGLE, rotations=None, common_lines=True)
    assert_exact(the_pattern(strip("s", 30.0, long), free),
                 {"s": strip("s", 30.0, long), "free": free}, KERF)  # fmt: skip
    assert all(t.pattern is None for t in together(strip("s", 30.0, long),
               replace(free, rotations=(0.0, 90.0, 180.0, 270.0))))  # fmt: skip


def test_quantities_stay_exact():
    """Of two and five pieces a row of seven; two by two, two pairs and three left."""
    found = together(strip("b", 40.0, quantity=2), strip("c", 55.0, quantity=5))
    assert counted(found) == {0: 2, 1: 5}
    assert [(t.pieces, t.quantity) for t in found] == [(7, 1)]
    found = together(strip("b", 40.0, quantity=2), strip("c", 55.0, quantity=5), most=2)
    assert {t.parts: t.quantity for t in found} == {(0, 1): 2, (1,): 3}


def counted(found: list[Thing]) -> Counter[int]:
    """Pieces of each part in all things together."""
    pieces: Counter[int] = Counter()
    for thing in found:
        for part in thing.parts:
            pieces[part] += thing.quantity
    return pieces


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ({"priority": 1}, {}),
        ({"due": date(2030, 5, 1)}, {}),
        ({"kit": "stand"}, {}),
        ({"apart": ("c",)}, {}),
        ({}, {"apart": ("b",)}),
        ({"grain": 0.0}, {}),
        ({"grain": 0.0}, {"grain": 90.0}),
        ({"most_per_sheet": 1, "quantity": 2}, {}),
        ({"rotations": (0.0,), "outer": Contour.rectangle(40, 600)}, {"rotations": (0.0,)}),
    ],
    ids=str,
)
def test_what_the_job_wishes_differently_is_not_joined(one, other):
    """Other priority, date, kit or grain, parts kept apart or counted, turns that do not agree."""
    found = together(strip("b", 40.0, **one), strip("c", 55.0, **other))
    assert all(t.pattern is None for t in found)


def test_turns_and_grain_of_a_mixed_pattern_leave_each_piece_an_allowed_one():
    """A piece turned by 90 in the pattern with turns of 0 and 180, one of 0 with 90 and 270."""
    lying, upright = strip("b", 40.0), Part("u", Contour.rectangle(55, 600), common_lines=True)
    turned = replace(upright, rotations=(0.0, 180.0)), replace(lying, rotations=(90.0, 270.0))
    pattern = the_pattern(*turned)
    parts = {p.name: p for p in turned}
    own = [parts[m.part] for m in pattern.members]
    turns = allowed_turns(own, pattern)
    assert turns
    for turn in turns:
        for part, member in zip(own, pattern.members, strict=True):
            assert (turn + member.rotation) % 360 in (part.rotations or ())
    grained = replace(upright, grain=90.0), replace(lying, grain=0.0)
    pattern = the_pattern(*grained)
    parts = {p.name: p for p in grained}
    along = grain_of([parts[m.part] for m in pattern.members], pattern)
    assert {(parts[m.part].grain + m.rotation) % 180 for m in pattern.members} == {along}


def test_a_pattern_is_mirrored_only_if_its_pieces_then_lie_as_they_may():
    """What lies turned by 90 in it lies as drawn if it is turned by 270, mirrored by 180 then."""
    lying = strip("b", 40.0, flip=True, rotations=None)
    upright = Part("u", Contour.rectangle(55, 600), flip=True, common_lines=True)
    parts = {p.name: p for p in (lying, upright)}
    pattern = the_pattern(*parts.values())
    pattern = pattern.turned(90 - next(m.rotation for m in pattern.members if m.part == "u"))
    own = [parts[m.part] for m in pattern.members]
    assert may_flip(own, pattern)
    fixed = [replace(p, rotations=(0.0,)) if p.name == "u" else p for p in own]
    assert allowed_turns(fixed, pattern) == (270.0,)
    assert not may_flip(fixed, pattern)
    assert not may_flip([replace(p, flip=False) for p in own], pattern)


@settings(max_examples=15, deadline=None)
@given(
    st.lists(
        st.tuples(st.sampled_from([60.0, 90.0, 200.0]), st.sampled_from([30.0, 60.0, 90.0]),
                  st.integers(1, 3), st.booleans()),
        min_size=2, max_size=6,
    ),
    st.floats(0.05, 1.0),
)  # fmt: skip
def test_whatever_is_joined_comes_out_exactly(sizes, kerf):
    """Random rectangles and right triangles: every piece once, whole, and none loose early."""
    parts = [
        Part(f"p{i}", Contour([(0, 0), (w, 0), (0, h)]) if corner else Contour.rectangle(w, h),
             quantity=n, common_lines=True)
        for i, (w, h, n, corner) in enumerate(sizes)
    ]  # fmt: skip
    job = job_of(parts, (SHEET,), kerf)
    found = with_others(job, things(job, {}, 8), range(len(parts)), 8)
    assert counted(found) == {i: p.quantity for i, p in enumerate(parts)}
    for thing in found:
        if thing.pattern is not None:
            assert [m.part for m in thing.pattern.members] == [p.name for p in thing.parts_of(job)]
            assert_exact(thing.pattern, {p.name: p for p in parts}, kerf)


def uneven(*parts: Part, kerf: float = KERF) -> list[Thing]:
    """What is packed of single pieces, along edges of unequal length too."""
    job = job_of(parts, (SHEET,), kerf)
    return with_others(job, plain_things(job), range(len(parts)), 8, unequal=True)


def test_two_rectangles_of_unequal_length_by_hand():
    """Sides a x b and c x d, c < a: around 2 (a + b + d + k), and the line is c + k long.

    Half a kerf beyond the ends that lie together, and at the other end to the middle of the
    way around along d, half a kerf from it.
    """
    a, b, c, d = 600.0, 80.0, 560.0, 55.0
    parts = strip("long", b, a), strip("short", d, c)
    (thing,) = uneven(*parts)
    assert thing.pattern is not None
    assert cut(thing.pattern) == pytest.approx(2 * (a + b + d + KERF) + c + KERF, abs=1e-9)
    assert_exact(thing.pattern, {p.name: p for p in parts}, KERF)


@pytest.mark.parametrize("lean", [-0.8, -0.3, 0.0, 0.3, 0.8])
def test_corners_beside_a_longer_edge_come_out_clean(lean):
    """A trapezoid on a plate: whatever the angle of its side, no burr is left in the corner.

    The tests' beam is a disc, which leaves metal in corners; only the line can take it.
    """
    plate = strip("plate", 60.0, 400.0)
    top = Contour([(0, 0), (360, 0), (360 + 40 * lean, 40), (0, 40)])
    trapezoid = Part("trapezoid", top, common_lines=True)
    (thing,) = uneven(plate, trapezoid, kerf=1.0)
    assert thing.pattern is not None
    assert_exact(thing.pattern, {"plate": plate, "trapezoid": trapezoid}, 1.0)


def test_what_would_let_much_room_lie_idle_is_not_joined():
    """At the end of a strip, by hand: 290 x 40 / 2 is over 5 % of 600 x 100 + 290 x 60."""
    found = uneven(strip("long", 100.0, 600.0), strip("small", 60.0, 290.0))
    assert all(t.pattern is None for t in found)


@settings(max_examples=15, deadline=None)
@given(
    st.lists(
        st.tuples(st.floats(40, 200), st.floats(40, 90), st.integers(1, 3), st.booleans()),
        min_size=2, max_size=6,
    ),
    st.floats(0.05, 1.0),
)  # fmt: skip
def test_whatever_is_joined_unevenly_comes_out_exactly(sizes, kerf):
    """Random rectangles and right triangles: every piece once, whole, and none loose early."""
    parts = [
        Part(f"p{i}", Contour([(0, 0), (w, 0), (0, h)]) if corner else Contour.rectangle(w, h),
             quantity=n, common_lines=True)
        for i, (w, h, n, corner) in enumerate(sizes)
    ]  # fmt: skip
    found = uneven(*parts, kerf=kerf)
    assert counted(found) == {i: p.quantity for i, p in enumerate(parts)}
    for thing in found:
        if thing.pattern is not None:
            assert_exact(thing.pattern, {p.name: p for p in parts}, kerf)
