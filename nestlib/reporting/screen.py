"""Tables and lines on the terminal, in which a name is only ever text."""

from __future__ import annotations

import os

from rich import box
from rich.console import Console
from rich.table import Table

from nestlib.reporting import texts

#: Columns where nobody said how many there are: of a file or a pipe, whose lines never wrap.
_UNBROKEN = 1000


def new_console() -> Console:
    """Return the standard output; nothing in a name is taken for markup.

    Tables fit the terminal; in a file or a pipe they are as wide as they need, unless COLUMNS
    says otherwise.
    """
    out = Console(markup=False, emoji=False, highlight=False)
    if not out.is_terminal and "COLUMNS" not in os.environ:
        out.width = _UNBROKEN
    return out


def new_table(title: str, *columns: str) -> Table:
    """Return an empty table; a column whose name begins with > is aligned to the right.

    Such a column holds figures, which are never broken; where room is short, texts are.
    """
    table = Table(title=title or None, title_justify="left", box=box.SIMPLE_HEAD, pad_edge=False)
    for column in columns:
        right = column.startswith(">")
        table.add_column(
            column.removeprefix(">"),
            justify="right" if right else "left",
            overflow="fold",
            no_wrap=right,
        )
    return table


def add_row(table: Table, *values: object) -> None:
    """Add a row of texts."""
    table.add_row(*(texts.plain(v) for v in values))


def say(out: Console, text: str, style: str = "") -> None:
    """Print a line, broken only where somebody reads it on a terminal."""
    out.print(texts.plain(text), style=style or None, soft_wrap=not out.is_terminal)
