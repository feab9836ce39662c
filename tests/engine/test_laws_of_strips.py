"""What holds for every strip, whatever is packed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st
from shapely import affinity
from shapely.geometry import LineString, Polygon, box
from shapely.ops import split

from nestlib.engine import Item, StripPacking, pack_strip
from tests.outlines import SORTS, outline, outlines
from tests.strips import QUARTERS, assert_sound, density, laid

FEW = settings(
    derandomize=True,
    deadline=None,
    max_examples=6,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
    phases=[Phase.generate],  # a simpler example would take minutes to find
)
turns = st.sampled_from([(0.0,), (0.0, 180.0), QUARTERS, (0.0, 33.0, 181.5), (90.0, 7.25)])


def narrowest(items: Sequence[Item]) -> float:
    """Width of the narrowest strip that takes every item in one of its turns."""

    def height(item: Item, angle: float) -> float:
        _, low, _, high = affinity.rotate(item.polygon, angle, origin=(0, 0)).bounds
        return high - low

    return max(min(height(item, a) for a in item.rotations or ()) for item in items)


@st.composite
def strips(draw: st.DrawFn, kinds: int = 4, most: int = 3) -> tuple[list[Item], float]:
    """Items of sizes over three orders of magnitude, and a strip that takes them."""
    items = [
        Item(
            f"item {k}",
            draw(outlines(most=draw(st.sampled_from([8, 16, 40])), scales=1.5)),
            draw(st.sampled_from([0, 1, 1, 2, most])),
            draw(turns),
            draw(st.booleans()),
        )
        for k in range(draw(st.integers(1, kinds)))
    ]
    room = draw(st.sampled_from([1.0, 1.3, 4.0]))
    return items, narrowest(items) * room


def bracket(seed: int = 0) -> list[Item]:
    """A small mixture whose vertices have few binary digits, so that moves are exact."""
    random = np.random.default_rng(seed)
    items = []
    for k, sort in enumerate(["star", "notched", "holed", "comb"]):
        rough = outline(sort, 8, int(random.integers(99)))
        exact = [np.round(np.array(r.coords) * 64) / 64 for r in (rough.exterior, *rough.interiors)]
        polygon = Polygon(exact[0], exact[1:])
        assert polygon.is_valid
        items.append(Item(f"item {k}", polygon, 1 + k % 3, (0.0, 90.0)))
    return items


@FEW
@given(strips())
def test_every_packing_is_sound(strip: tuple[list[Item], float]) -> None:
    """Every piece once, turned as allowed, within the strip, none in another; to 1e-8."""
    items, width = strip
    assert_sound(items, width, pack_strip(items, width, tries=2))


@pytest.mark.parametrize(
    ("sort", "vertices"), [("comb", 500), ("holed", 500), ("convex", 500), ("star", 80)]
)
def test_rugged_outlines_are_sound(sort: str, vertices: int) -> None:
    """Three of up to 500 vertices, and plain ones between them."""
    rugged = Item("rugged", outline(sort, vertices, 1), 3, QUARTERS, flip=True)
    items = [rugged, Item("plain", box(0, 0, 0.3, 0.5), 9, (0.0, 90.0))]
    assert_sound(items, 4.2, pack_strip(items, 4.2, tries=3))


@pytest.mark.parametrize("room", [1.0, 5.0])
def test_sixty_pieces_are_sound(room: float) -> None:
    """All sorts at once, a few large ones among many small ones; at least 25 % dense."""
    items = [
        Item(s, affinity.scale(outline(s, 10, k), size, size), 3, QUARTERS)
        for k, s in enumerate(SORTS[:4])
        for size in (0.3, 0.6, 1.0, 1.5, 2.0)
    ]
    width = room * narrowest(items)
    packing = pack_strip(items, width, tries=2)
    assert_sound(items, width, packing)
    assert density(items, width, packing) > 0.25


@pytest.mark.parametrize("seed", range(2))
def test_a_longer_search_is_never_worse(seed: int) -> None:
    """With the same seed more tries never end with a longer strip."""
    items = bracket(seed)
    lengths = [pack_strip(items, 4, tries=t, seed=seed).length for t in (1, 5, 20, 50)]
    assert lengths == sorted(lengths, reverse=True)
    assert lengths[-1] < lengths[0]


def placed(packing: StripPacking) -> list[tuple[float, ...]]:
    """Placements without the item's number."""
    return [(p.rotation, p.flip, p.x, p.y) for p in packing.placements]


@pytest.mark.parametrize("factor", [2.0**-10, 0.5, 2.0**10])
def test_another_unit_of_length_changes_nothing(factor: float) -> None:
    """Lengths times a power of two, which is exact, give the very layout times that."""
    items = bracket()
    scaled = [
        replace(i, polygon=affinity.scale(i.polygon, factor, factor, origin=(0, 0))) for i in items
    ]
    first = pack_strip(items, 4, tries=6)
    second = pack_strip(scaled, 4 * factor, tries=6)
    assert second.length == factor * first.length
    assert placed(second) == [(a, f, factor * x, factor * y) for a, f, x, y in placed(first)]


def test_the_place_of_an_outline_does_not_matter() -> None:
    """Outlines moved in their own coordinates lie where they lay, to 1e-9."""
    items = bracket()
    moved = [
        replace(i, polygon=affinity.translate(i.polygon, 8.0 * k - 16.0, 32.0))
        for k, i in enumerate(items)
    ]
    first, second = pack_strip(items, 4, tries=6), pack_strip(moved, 4, tries=6)
    assert second.length == pytest.approx(first.length, abs=1e-9)
    for a, b in zip(laid(items, first), laid(moved, second), strict=True):
        assert a.equals_exact(b, 1e-9)


def test_names_values_and_what_is_not_wanted_do_not_matter() -> None:
    """Other names, values, and items of which none is wanted leave the layout alone."""
    items = bracket()
    none = Item("none", outline("star", 30, 3), 0, (0.0, 45.0))
    renamed = [replace(i, name="x", value=float(k)) for k, i in enumerate(items)]
    first = pack_strip(items, 4, tries=6)
    second = pack_strip([none, *renamed, none], 4, tries=6)
    assert second.length == first.length
    assert placed(second) == placed(first)
    assert [p.item for p in second.placements] == [p.item + 1 for p in first.placements]


def jigsaw() -> list[Polygon]:
    """A rectangle of 6 x 4 in pieces, one with a notch."""
    cuts = [[(2, -1), (3, 5)], [(5, -1), (4, 2), (5, 5)], [(-1, 2), (3, 1)], [(2, 3), (7, 2)]]
    pieces = [box(0, 0, 6, 4)]
    for cut in cuts:
        pieces = [p for piece in pieces for p in split(piece, LineString(cut)).geoms]
    return pieces


def put_together(pieces: Sequence[Polygon], width: float, angles: tuple[float, ...]) -> float:
    """Length of the strip that the pieces are found to need."""
    items = [Item(f"piece {k}", p, 1, angles) for k, p in enumerate(pieces)]
    packing = pack_strip(items, width, tries=40)
    assert_sound(items, width, packing)
    return packing.length


@pytest.mark.parametrize("unit", [1e-3, 25.4, 1e6])
def test_the_best_is_found_in_any_unit(unit: float) -> None:
    """A jigsaw in metres, inches or nanometres is put together, to 1e-6 of its length."""
    pieces = [affinity.scale(p, unit, unit, origin=(0, 0)) for p in jigsaw()]
    assert put_together(pieces, 4 * unit, (0.0,)) == pytest.approx(6 * unit, rel=1e-6)


@pytest.mark.parametrize("turn", [90.0, 180.0])
def test_the_best_is_found_in_any_direction(turn: float) -> None:
    """A jigsaw turned as a whole is put together in a strip of its new width, to 1e-6."""
    pieces = [affinity.rotate(p, turn, origin=(0, 0)) for p in jigsaw()]
    length, width = (6, 4) if turn == 180 else (4, 6)
    assert put_together(pieces, width, (0.0,)) == pytest.approx(length, abs=1e-6)


def test_the_best_is_found_in_a_mirror() -> None:
    """Mirrored as a whole, and with pieces that may be turned upside down, to 1e-6."""
    pieces = [affinity.scale(p, -1, 1, origin=(0, 0)) for p in jigsaw()]
    assert put_together(pieces, 4, (0.0, 180.0)) == pytest.approx(6, abs=1e-6)


@settings(FEW, max_examples=3)
@given(st.permutations(jigsaw()))
def test_the_order_of_the_items_does_not_matter(pieces: list[Polygon]) -> None:
    """In any order a jigsaw is put together, to 1e-6; the layouts themselves may differ."""
    assert put_together(pieces, 4, (0.0,)) == pytest.approx(6, abs=1e-6)
