"""Rectangles cut into pieces: all of a strip can be covered, and nothing can be shorter."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from itertools import pairwise

import numpy as np
import pytest
from shapely import affinity
from shapely.geometry import LineString, Polygon, box
from shapely.ops import split

from nestlib.engine import Item, pack_strip
from tests.strips import QUARTERS, assert_sound, density

LENGTH, WIDTH = 6.0, 4.0
Cutter = Callable[[Polygon, np.random.Generator], LineString]


def straight(piece: Polygon, random: np.random.Generator) -> LineString:
    """A cut right across the longer way, not too near to an end."""
    x0, y0, x1, y1 = piece.bounds
    share = random.uniform(0.3, 0.7)
    if x1 - x0 > y1 - y0:
        x = x0 + share * (x1 - x0)
        return LineString([(x, y0 - 1), (x, y1 + 1)])
    y = y0 + share * (y1 - y0)
    return LineString([(x0 - 1, y), (x1 + 1, y)])


def slanted(piece: Polygon, random: np.random.Generator) -> LineString:
    """A cut through the centroid, up to 30 degrees off the shorter way across."""
    x0, y0, x1, y1 = piece.bounds
    angle = random.uniform(-np.pi / 6, np.pi / 6) + (np.pi / 2 if x1 - x0 > y1 - y0 else 0.0)
    middle = piece.centroid
    dx, dy = 10 * np.cos(angle), 10 * np.sin(angle)
    return LineString([(middle.x - dx, middle.y - dy), (middle.x + dx, middle.y + dy)])


def bent(piece: Polygon, random: np.random.Generator) -> LineString:
    """A zigzag across: both pieces have notches and teeth."""
    x0, y0, x1, y1 = piece.bounds
    along = x1 - x0 > y1 - y0
    if not along:
        x0, y0, x1, y1 = y0, x0, y1, x1
    steps = np.linspace(y0, y1, 5)
    middle = (x0 + x1) / 2
    reach = random.uniform(0.05, 0.2) * (x1 - x0)
    offs = middle + reach * np.array([0.3, -1.0, 1.0, -1.0, 0.5])
    ends = [(offs[0], y0 - 1), *zip(offs, steps, strict=True), (offs[-1], y1 + 1)]
    return LineString(ends if along else [(y, x) for x, y in ends])


def jigsaw(cutter: Cutter, pieces: int, seed: int) -> list[Item]:
    """The rectangle, of which again and again the largest piece is cut in two."""
    random, found = np.random.default_rng(seed), [box(0, 0, LENGTH, WIDTH)]
    while len(found) < pieces:
        found.sort(key=lambda p: p.area)
        largest = found.pop()
        found += split(largest, cutter(largest, random)).geoms
    return items(found)


def items(pieces: Sequence[Polygon], rotations: tuple[float, ...] = (0.0,)) -> list[Item]:
    """Pieces that no longer know where they came from."""
    middles = [p.centroid for p in pieces]
    return [
        Item(f"piece {i}", affinity.translate(p, -c.x, -c.y), 1, rotations)
        for i, (p, c) in enumerate(zip(pieces, middles, strict=True))
    ]


@pytest.mark.parametrize("cutter", [straight, slanted, bent])
def test_a_cut_up_rectangle_is_whole(cutter: Cutter) -> None:
    """The pieces have the area of the rectangle, to 1e-9, so that 100 % is the optimum."""
    pieces = jigsaw(cutter, 9, seed=0)
    assert sum(p.polygon.area for p in pieces) == pytest.approx(LENGTH * WIDTH, rel=1e-9)
    assert any(p.polygon.convex_hull.area > 1.01 * p.polygon.area for p in pieces) == (
        cutter is bent
    )


@pytest.mark.parametrize("seed", range(2))
@pytest.mark.parametrize("cutter", [straight, slanted, bent])
def test_a_small_jigsaw_is_put_together(cutter: Cutter, seed: int) -> None:
    """Five pieces fill the rectangle again, to 1e-6 of its length; never less than that."""
    pieces = jigsaw(cutter, 5, seed)
    packing = pack_strip(pieces, WIDTH, tries=40, seed=seed)
    assert_sound(pieces, WIDTH, packing)
    assert packing.length == pytest.approx(LENGTH, abs=1e-6)


@pytest.mark.parametrize("cutter", [straight, slanted, bent])
def test_a_larger_jigsaw_is_nearly_put_together(cutter: Cutter) -> None:
    """Of twenty pieces at most 20 % of the strip is wasted after 40 tries; never below 0."""
    pieces = jigsaw(cutter, 20, seed=1)
    packing = pack_strip(pieces, WIDTH, tries=40)
    assert_sound(pieces, WIDTH, packing)
    assert 0.8 <= density(pieces, WIDTH, packing) <= 1 + 1e-7


def test_turned_pieces_find_their_turn_back() -> None:
    """Four pieces turned by right angles fill the rectangle again, to 1e-6."""
    turns = [90.0, 0.0, 270.0, 180.0]
    cut = [p.polygon for p in jigsaw(slanted, 4, seed=2)]
    turned = [affinity.rotate(p, a, origin=(0, 0)) for p, a in zip(cut, turns, strict=True)]
    pieces = items(turned, QUARTERS)
    packing = pack_strip(pieces, WIDTH, tries=60)
    assert_sound(pieces, WIDTH, packing)
    assert packing.length == pytest.approx(LENGTH, abs=1e-6)


def test_a_hole_takes_the_piece_that_came_out_of_it() -> None:
    """A frame, the T that fills its hole and a bar: all of it is covered, to 1e-6."""
    tee = Polygon([(1, 1), (3, 1), (3, 2), (2.5, 2), (2.5, 3), (1.5, 3), (1.5, 2), (1, 2)])
    frame = box(0, 0, 4, 4).difference(tee)
    assert len(frame.interiors) == 1
    pieces = items([frame, tee, box(4, 0, 6, 4)])
    packing = pack_strip(pieces, WIDTH, tries=40)
    assert_sound(pieces, WIDTH, packing)
    assert packing.length == pytest.approx(LENGTH, abs=1e-6)


def test_a_frame_within_a_frame_within_a_frame() -> None:
    """Nested frames close up around a core, to 1e-6: holes in holes are room too."""
    sizes = [2.0, 1.5, 1.0, 0.5]
    squares = [box(-s, -s, s, s) for s in sizes]
    rings = [a.difference(b) for a, b in pairwise(squares)]
    pieces = items([*rings, squares[-1]])
    packing = pack_strip(pieces, WIDTH, tries=40)
    assert_sound(pieces, WIDTH, packing)
    assert packing.length == pytest.approx(4, abs=1e-6)
