"""Reading values out of JSON that anybody may have edited."""

from __future__ import annotations

import math
from collections.abc import Iterator
from datetime import date
from typing import Any

from nestlib.errors import Problem

#: Greatest number that a plan may hold; a sheet of a thousand kilometres is a mistake.
_LARGEST = 1e9

_ABSENT: Any = object()


class Field:
    """One value and where it stands; what is wrong with it goes to a shared list.

    After a problem the getters return a harmless default, so that reading goes on and
    all problems are found at once.

    Parameters
    ----------
    value : object
        As `json` gave it.
    problems : list of Problem
        Where problems are collected.
    file : str
        The file, for the messages.
    place : str
        Path of the value, for example ``layouts[0].runs``.
    """

    def __init__(self, value: Any, problems: list[Problem], file: str, place: str = "") -> None:
        self.value = value
        self.place = place
        self._problems = problems
        self._file = file

    def __getitem__(self, key: str) -> Field:
        if isinstance(self.value, dict):
            if key not in self.value:
                self.wrong(f"'{key}' is missing")
            return self._child(self.value.get(key, _ABSENT), key)
        if self.value is not _ABSENT:
            self.wrong("a table with named values is needed here")
        return self._child(_ABSENT, key)

    def __iter__(self) -> Iterator[Field]:
        if self.value is not _ABSENT and not isinstance(self.value, list):
            self.wrong(f"a list is needed, not {self._shown()}")
        for i, value in enumerate(self.value if isinstance(self.value, list) else ()):
            yield Field(value, self._problems, self._file, f"{self.place}[{i}]")

    @property
    def given(self) -> bool:
        """Whether there is a value, and it is not null."""
        return self.value is not None and self.value is not _ABSENT

    def has(self, key: str) -> bool:
        """Whether this is a table that says something under a key."""
        return isinstance(self.value, dict) and key in self.value

    def number(self, low: float = -_LARGEST) -> float:
        """Return a finite number that is at least `low`."""
        value = self.value
        if value is _ABSENT:
            return max(low, 0.0)
        real = isinstance(value, int | float) and not isinstance(value, bool)
        if not real or not abs(value) <= _LARGEST or value < low:
            self.wrong(f"a number from {low:g} to {_LARGEST:g} is needed, not {self._shown()}")
            return max(low, 0.0)
        return float(value)

    def whole(self, low: int = 0) -> int:
        """Return a whole number that is at least `low`."""
        value = self.number(low)
        if value != math.floor(value):
            self.wrong(f"a whole number is needed, not {self._shown()}")
        return math.floor(value)

    def text(self) -> str:
        """Return a text."""
        if self.value is _ABSENT:
            return ""
        if not isinstance(self.value, str):
            self.wrong(f"a text is needed, not {self._shown()}")
            return ""
        return self.value

    def flag(self) -> bool:
        """Return true or false."""
        if self.value is not _ABSENT and not isinstance(self.value, bool):
            self.wrong(f"true or false is needed, not {self._shown()}")
        return self.value is True

    def day(self) -> date:
        """Return a date, written as year-month-day."""
        try:
            return date.fromisoformat(self.text())
        except ValueError:
            self.wrong(f"a date such as 2030-05-01 is needed, not {self._shown()}")
            return date.max

    def point(self) -> tuple[float, float]:
        """Return x and y."""
        numbers = [f.number() for f in self]
        if len(numbers) == 2:
            return numbers[0], numbers[1]
        if self.value is not _ABSENT and isinstance(self.value, list):
            self.wrong("x and y are needed")
        return 0.0, 0.0

    def wrong(self, problem: str) -> None:
        """Note that this value cannot be used."""
        remedy = "Write the plan again, or restore the file as it was written"
        self._problems.append(Problem(self._file, self.place, problem, remedy))

    def _child(self, value: Any, key: str) -> Field:
        place = f"{self.place}.{key}" if self.place else key
        return Field(value, self._problems, self._file, place)

    def _shown(self) -> str:
        text = repr(self.value)
        return text if len(text) <= 40 else text[:37] + "..."
