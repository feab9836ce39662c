"""What makes no sense as an argument of a search is refused at once, whatever is packed."""

from __future__ import annotations

import math
from concurrent.futures import ProcessPoolExecutor, ThreadPoolExecutor
from typing import Any

import numpy as np
import pytest
from shapely import box

from nestlib.engine import Item, pack_sheet, pack_strip

UNIT = Item("a", box(0, 0, 1, 1), 2)


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        ({}, "give seconds or tries"),
        ({"seconds": -1.0}, "seconds is -1.0: give a number from 0 on"),
        ({"seconds": math.nan}, "seconds is nan: give a number from 0 on"),
        ({"seconds": "1"}, "seconds is '1': give a number from 0 on"),
        ({"tries": -1}, "tries is -1: give a whole number from 0 on"),
        ({"tries": 1.5}, "tries is 1.5: give a whole number from 0 on"),
        ({"tries": 1, "seconds": math.nan}, "seconds is nan"),
        ({"tries": 1, "seed": -1}, "seed is -1: give a whole number from 0 on"),
        ({"tries": 1, "seed": 0.5}, "seed is 0.5: give a whole number from 0 on"),
        ({"tries": 1, "seed": None}, "seed is None: give a whole number from 0 on"),
        ({"tries": 1, "workers": 0}, "workers is 0: give a whole number from 1 on, or an executor"),
        ({"tries": 1, "workers": -2}, "workers is -2: give a whole number from 1 on"),
        ({"tries": 1, "workers": 1.5}, "workers is 1.5: give a whole number from 1 on"),
        ({"tries": 1, "workers": "two"}, "workers is 'two': give a whole number from 1 on"),
        ({"tries": 1, "workers": None}, "workers is None: give a whole number from 1 on"),
    ],
)
def test_what_makes_no_sense_is_refused(arguments: dict[str, Any], message: str) -> None:
    """One message that names the argument, from strips and from sheets alike."""
    for items in ([], [UNIT]):
        with pytest.raises(ValueError, match=message):
            pack_strip(items, 1, **arguments)
        with pytest.raises(ValueError, match=message):
            pack_sheet(items, box(0, 0, 3, 3), **arguments)


def test_numbers_of_numpy_are_numbers() -> None:
    """They give what those of Python give."""
    plain: dict[str, Any] = {"tries": 3, "seed": 5, "workers": 2}
    numpy = {name: np.int64(value) for name, value in plain.items()}
    assert pack_strip([UNIT], 1, **numpy) == pack_strip([UNIT], 1, **plain)
    room = box(0, 0, 3, 3)
    assert pack_sheet([UNIT], room, **numpy) == pack_sheet([UNIT], room, **plain)


def test_only_threads_can_fill_a_sheet() -> None:
    """A pool of processes is refused; one of threads gives what one thread gives."""
    room = box(0, 0, 3, 3)
    with ProcessPoolExecutor(1) as processes, pytest.raises(ValueError, match="only threads"):
        pack_sheet([UNIT], room, tries=3, workers=processes)  # type: ignore[arg-type]
    with ThreadPoolExecutor(2) as threads:
        found = pack_sheet([UNIT], room, tries=3, workers=threads)
    assert found == pack_sheet([UNIT], room, tries=3)
