"""The drawing of a row: the file that fits the first pattern that any file fits."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from fnmatch import fnmatchcase
from pathlib import Path

_ENDINGS = (".dxf", ".svg")


class DrawingIndex:
    """The drawings in some folders, known by their names; case does not count.

    Parameters
    ----------
    folders : iterable of Path
        Searched with all folders in them; hidden ones are left out.
    """

    def __init__(self, folders: Iterable[Path]) -> None:
        self._by_name: dict[str, list[Path]] = {}
        for folder in folders:
            for path in sorted(folder.rglob("*")):
                if path.suffix.lower() in _ENDINGS and not path.name.startswith("."):
                    self._by_name.setdefault(path.name.lower(), []).append(path)
        self._known: dict[str, list[Path]] = {}

    def __len__(self) -> int:
        return sum(map(len, self._by_name.values()))

    def fitting(self, pattern: str) -> list[Path]:
        """Return the drawings of a name; without an ending, of any; ``*`` and ``?`` fit any."""
        if pattern not in self._known:
            self._known[pattern] = self._fitting(pattern.lower())
        return self._known[pattern]

    def _fitting(self, pattern: str) -> list[Path]:
        if not pattern.endswith(_ENDINGS) and "*" not in pattern:
            return [path for ending in _ENDINGS for path in self._fitting(pattern + ending)]
        if "*" in pattern or "?" in pattern:
            names = [name for name in self._by_name if fnmatchcase(name, pattern)]
            return [path for name in names for path in self._by_name[name]]
        return self._by_name.get(pattern, [])


def find_drawing(index: DrawingIndex, patterns: Iterable[str], value: Callable[[str], str]) -> Path:
    """Return the one drawing of a row.

    Parameters
    ----------
    index : DrawingIndex
        The drawings that there are.
    patterns : iterable of str
        Names with titles or fields in braces; a pattern with an empty one is passed over.
    value : callable
        From what stands in braces to the text of the row's cell.

    Raises
    ------
    ValueError
        If none or several fit; the message says so in plain words.
    """
    tried = []
    for pattern in patterns:
        name = fill(pattern, value)
        if not name:
            continue
        found = index.fitting(name)
        if len(found) > 1:
            raise ValueError(f"{len(found)} drawings fit {name}: {', '.join(map(str, found[:3]))}")
        if found:
            return found[0]
        tried.append(name)
    if not tried:
        raise ValueError("the row says nothing by which its drawing could be found")
    raise ValueError(f"there is no drawing {' or '.join(tried)}")


def fill(pattern: str, value: Callable[[str], str]) -> str:
    """Return a pattern with the row's texts put in; empty if one of them is.

    A path in a cell counts by its last name; signs of patterns in it mean themselves.

    Examples
    --------
    >>> fill("{part}.dxf", {"part": "C:\\\\cad\\\\A-1"}.get)
    'A-1.dxf'
    """
    texts = [_last(value(name) or "") for name in re.findall(r"\{([^{}]*)\}", pattern)]
    if not all(texts):
        return ""
    given = iter(texts)
    return re.sub(r"\{[^{}]*\}", lambda _: next(given), pattern)


def _last(text: str) -> str:
    return re.sub(r"[*?\[\]]", "", re.split(r"[\\/]", text.strip())[-1])
