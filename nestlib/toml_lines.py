"""In which line of a TOML file each table, key and list item stands.

The parser of the standard library forgets positions; this scanner walks once through a
text that the parser has already accepted, and notes them. A path is a tuple of keys and
positions counted from 0, for example ``("part", 2, "quantity")``.
"""

from __future__ import annotations

import contextlib
import re
import tomllib
from collections.abc import Mapping

Path = tuple[str | int, ...]

_BLANK = re.compile(r"(?:[ \t\r\n]|#[^\n]*)*")
_KEY = re.compile(r"""[ \t]*("(?:\\.|[^"\\])*"|'[^']*'|[A-Za-z0-9_-]+)[ \t]*""")
_STRING = re.compile(
    r'"""(?:\\.|[^\\])*?"{3,5}|' r"'''.*?'{3,5}|" r'"(?:\\.|[^"\\])*"|' r"'[^']*'", re.DOTALL
)
_PLAIN = re.compile(r"[^,\]}#\r\n]*")


def toml_lines(text: str) -> dict[Path, int]:
    """Return the line, counted from 1, of everything in a TOML text.

    Parameters
    ----------
    text : str
        Text that `tomllib` accepts. Of any other text, what could be made out.

    Returns
    -------
    dict
        From path to line number.

    Examples
    --------
    >>> toml_lines("a = 1\\n[[part]]\\nname = 'x'\\n")
    {('a',): 1, ('part', 0): 2, ('part', 0, 'name'): 3}
    """
    scanner = _Scanner(text)
    # An approximate line is better than none.
    with contextlib.suppress(_LostError, tomllib.TOMLDecodeError, RecursionError):
        scanner.document()
    return scanner.lines


def line_of(lines: Mapping[Path, int], path: Path) -> int | None:
    """Return the line of a path, or of the nearest table around it; None if unknown."""
    for end in range(len(path), 0, -1):
        if path[:end] in lines:
            return lines[path[:end]]
    return None


class _LostError(Exception):
    """The scanner met something that it does not know."""


class _Scanner:
    """One walk through the text, from left to right."""

    def __init__(self, text: str) -> None:
        self.text = text
        self.at = 0
        self.line = 1  # of `self.at`
        self.lines: dict[Path, int] = {}
        self.counts: dict[Path, int] = {}

    def document(self) -> None:
        """Read tables and keys until the end of the text."""
        table: Path = ()
        self.skip(_BLANK)
        while self.at < len(self.text):
            if self.text.startswith("[", self.at):
                table = self.header()
            else:
                self.pair(table)
            self.skip(_BLANK)

    def header(self) -> Path:
        """Read ``[table]`` or ``[[table]]`` and return its path."""
        line, brackets = self.line, 2 if self.text.startswith("[[", self.at) else 1
        self.at += brackets
        *parents, last = self.dotted_key()
        self.at += brackets
        path = (*self.inside((), parents), last)
        if brackets == 2:
            self.counts[path] = self.counts.get(path, 0) + 1
        path = self.inside(path[:-1], [last])
        self.lines[path] = line
        return path

    def inside(self, path: Path, keys: list[str]) -> Path:
        """Follow keys from a path; one that names a list of tables means its last table."""
        for key in keys:
            path = (*path, key)
            if path in self.counts:
                path = (*path, self.counts[path] - 1)
        return path

    def pair(self, table: Path) -> None:
        """Read ``key = value``."""
        line = self.line
        path = (*table, *self.dotted_key())
        if not self.text.startswith("=", self.at):
            raise _LostError
        self.at += 1
        self.lines[path] = line
        self.skip(_BLANK)
        self.value(path)

    def value(self, path: Path) -> None:
        """Read a value and note the lines of what lies inside it."""
        start = self.text[self.at : self.at + 1]
        if start == "[":
            self.items(path, "]")
        elif start == "{":
            self.items(path, "}")
        elif start in ('"', "'"):
            self.skip(_STRING)
        else:
            self.skip(_PLAIN)

    def items(self, path: Path, end: str) -> None:
        """Read the items of a list or the pairs of an inline table."""
        self.at += 1
        self.skip(_BLANK)
        index = 0
        while not self.text.startswith(end, self.at):
            if end == "]":
                self.lines[(*path, index)] = self.line
                self.value((*path, index))
            else:
                self.pair(path)
            index += 1
            self.skip(_BLANK)
            if self.text.startswith(",", self.at):
                self.at += 1
                self.skip(_BLANK)
            elif not self.text.startswith(end, self.at):
                raise _LostError
        self.at += 1

    def dotted_key(self) -> list[str]:
        """Read ``a.b."c d"``."""
        keys = [self.key()]
        while self.text.startswith(".", self.at):
            self.at += 1
            keys.append(self.key())
        return keys

    def key(self) -> str:
        """Read one bare or quoted key."""
        key = self.skip(_KEY).strip()
        return str(tomllib.loads(f"k = {key}")["k"]) if key[:1] in ('"', "'") else key

    def skip(self, pattern: re.Pattern[str]) -> str:
        """Move behind what matches, counting lines, and return it."""
        match = pattern.match(self.text, self.at)
        if match is None:
            raise _LostError
        self.line += match[0].count("\n")
        self.at = match.end()
        return match[0]
