"""Tables and lines on the terminal, in which a name is only ever text."""

from __future__ import annotations

from rich import box
from rich.console import Console
from rich.table import Table

from nestlib.reporting import texts


def new_console() -> Console:
    """Return the standard output; nothing in a name is taken for markup."""
    return Console(markup=False, emoji=False, highlight=False)


def new_table(title: str, *columns: str) -> Table:
    """Return an empty table; a column whose name begins with > is aligned to the right."""
    table = Table(title=title or None, title_justify="left", box=box.SIMPLE_HEAD, pad_edge=False)
    for column in columns:
        right = column.startswith(">")
        table.add_column(
            column.removeprefix(">"), justify="right" if right else "left", overflow="fold"
        )
    return table


def add_row(table: Table, *values: object) -> None:
    """Add a row of texts."""
    table.add_row(*(texts.plain(v) for v in values))


def say(out: Console, text: str, style: str = "") -> None:
    """Print a line, broken only where somebody reads it on a terminal."""
    out.print(texts.plain(text), style=style or None, soft_wrap=not out.is_terminal)
