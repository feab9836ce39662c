"""Plans that put on one sheet what may not lie there, or tell dates and kits wrongly."""

from __future__ import annotations

from copy import deepcopy
from typing import Any

import pytest

from nestlib.errors import InputError
from nestlib.verifying import verify


def _codes(folder: Any) -> set[str]:
    return {v.code for v in verify(folder.write()).violations}


def _plate(folder: Any, **more: Any) -> None:
    folder.record["parts"][0].update(more)


def _disc(folder: Any, **more: Any) -> None:
    folder.record["parts"][1].update(more)


@pytest.mark.parametrize(("most", "codes"), [(None, set()), (2, set()), (1, {"too-many-on-sheet"})])
def test_pieces_on_a_sheet_are_counted(folder: Any, most: int | None, codes: set[str]) -> None:
    """Two plates lie on the sheet."""
    _plate(folder, most_per_sheet=most)
    assert _codes(folder) == codes


@pytest.mark.parametrize("said", [["disc"], ["plate"], ["disc", "plate"]])
def test_what_has_to_lie_apart_is_named(folder: Any, said: list[str]) -> None:
    """The plates, of which there are two, and the disc, whichever of them says so."""
    _plate(folder, apart=said)
    found = [v for v in verify(folder.write()).violations if v.code == "not-apart"]
    assert len(found) == len(said)
    assert {v.layout for v in found} == {"sheet-001.dxf"}
    _plate(folder, apart=[])
    _disc(folder, apart=["plate"])
    assert _codes(folder) == {"not-apart"}


def test_one_piece_that_lies_apart_from_its_like_is_fine(folder: Any) -> None:
    """There is one disc; a name that no placement has is no violation either."""
    _disc(folder, apart=["disc", "nobody"])
    assert _codes(folder) == set()


def _two_layouts(folder: Any) -> None:
    """The same layout twice, and twice as many of everything."""
    record = folder.record
    record["layouts"].append(deepcopy(record["layouts"][0]))
    record["sheets"][0]["quantity"] = 2
    for key in ("weight", "cost"):
        record[key] *= 2
    for part in record["parts"]:
        part["quantity"] *= 2
        part["placed"] *= 2


def _without_disc(layout: dict[str, Any]) -> dict[str, Any]:
    """Take the disc, placement 2, out of a layout of the plan."""
    layout["path"] = [cut for cut in layout["path"] if cut["placement"] != 2]
    disc: dict[str, Any] = layout["placements"].pop()
    return disc


def test_a_piece_moved_to_another_sheet_is_found(folder: Any) -> None:
    """One disc on each sheet is right; moved in the plan to the first one it is not."""
    _two_layouts(folder)
    _disc(folder, most_per_sheet=1)
    assert _codes(folder) == set()
    first, second = folder.record["layouts"]
    first["placements"].append(_without_disc(second))
    assert "too-many-on-sheet" in _codes(folder)


def test_dates_and_their_last_layouts_are_compared(folder: Any) -> None:
    """Both layouts hold plates: they are done with the second."""
    _two_layouts(folder)
    _plate(folder, due="2030-05-01", last_layout=2)
    assert _codes(folder) == set()
    _plate(folder, last_layout=1)
    assert _codes(folder) == {"figure-differs"}


def test_layouts_are_in_the_order_of_their_dates(folder: Any) -> None:
    """The disc is due first, but the plan cuts another sheet before the one that holds it."""
    _two_layouts(folder)
    _without_disc(folder.record["layouts"][0])
    _plate(folder, due="2030-05-02")
    _disc(folder, due="2030-05-02")
    assert "layouts-out-of-order" not in _codes(folder)
    _disc(folder, due="2030-05-01")
    assert "layouts-out-of-order" in _codes(folder)


@pytest.mark.parametrize(
    ("parts", "layouts", "codes"),
    [
        (["plate", "disc"], [1], set()),
        (["plate"], [1], {"figure-differs"}),
        (["plate", "disc"], [], {"figure-differs"}),
    ],
)
def test_kits_are_where_the_plan_says(
    folder: Any, parts: list[str], layouts: list[int], codes: set[str]
) -> None:
    """Both parts belong to the stand."""
    _plate(folder, kit="stand")
    _disc(folder, kit="stand")
    folder.record["kits"] = [{"name": "stand", "parts": parts, "layouts": layouts}]
    assert _codes(folder) == codes


@pytest.mark.parametrize(
    "more",
    [
        {"due": "tomorrow"},
        {"due": 3},
        {"most_per_sheet": 0},
        {"most_per_sheet": "2"},
        {"apart": "disc"},
        {"apart": [1]},
        {"kit": 1},
        {"last_layout": 0.5},
    ],
)
def test_what_cannot_be_understood_is_refused(folder: Any, more: dict[str, Any]) -> None:
    """With the place in the file, not as a violation."""
    _plate(folder, **more)
    with pytest.raises(InputError, match=rf"parts\[0\]\.{next(iter(more))}"):
        verify(folder.write())
