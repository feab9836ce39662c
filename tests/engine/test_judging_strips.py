"""The judge of packed strips finds faults."""

from __future__ import annotations

import pytest
from shapely import box

from nestlib.engine import Item, ItemPlacement, StripPacking
from tests.strips import assert_sound

TILES = [Item("tile", box(0, 0, 1, 1), 2, (0.0, 90.0))]


def pair(x: float = 1.0, y: float = 0.0, turn: float = 0.0, flip: bool = False) -> StripPacking:
    """Two tiles in a strip of 2 x 1, the second as given."""
    second = ItemPlacement(0, turn, flip, x, y)
    return StripPacking(2.0, (ItemPlacement(0, 0.0, False, 0.0, 0.0), second))


def test_contacts_are_sound() -> None:
    """Side by side, turned about a corner, and 1e-9 deep in each other."""
    for packing in (pair(), pair(2.0, 0.0, 90.0), pair(1.0 - 1e-9)):
        assert_sound(TILES, 1.0, packing)


@pytest.mark.parametrize(
    "packing",
    [
        pytest.param(pair(1.0 - 5e-8), id="overlap"),
        pytest.param(pair(0.0), id="one on the other"),
        pytest.param(pair(1.0 + 5e-8), id="beyond the end"),
        pytest.param(pair(1.0, 5e-8), id="above"),
        pytest.param(pair(1.0, -5e-8), id="below"),
        pytest.param(pair(2.0, 1.0, 180.0), id="turned as not allowed"),
        pytest.param(pair(2.0, 0.0, 0.0, True), id="flipped as not allowed"),
        pytest.param(StripPacking(2.0, pair().placements[:1]), id="one missing"),
        pytest.param(StripPacking(2.0, pair().placements * 2), id="two too many"),
    ],
)
def test_faults_are_found(packing: StripPacking) -> None:
    """Each of them by itself."""
    with pytest.raises(AssertionError):
        assert_sound(TILES, 1.0, packing)
