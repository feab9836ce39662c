"""Rows of a measurement in a file that grows while it is measured.

A file holds rows of one kind from one machine with one set of versions. A row that is there
is not measured again, so what was interrupted goes on where it was.
"""

from __future__ import annotations

import json
import os
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import click

from benchmarks.machine import commit, machine, today, versions

#: Where measurements are kept.
FOLDER = Path(__file__).with_name("measured")

Row = dict[str, Any]


class Measurement:
    """Rows of one kind, from one machine.

    Parameters
    ----------
    path : path
        File; it may exist.
    what : str
        Kind of the rows, as the command that measures them is called.
    keys : sequence of str
        What tells two rows apart.

    Raises
    ------
    click.ClickException
        If the file holds something else.
    """

    def __init__(self, path: Path, what: str, keys: Sequence[str]) -> None:
        self.path, self.keys = path, tuple(keys)
        self.head = {"what": what, "machine": machine(), "versions": versions()}
        self.rows: list[Row] = []
        self.commit = commit()
        if path.exists():
            self._resume()

    def _resume(self) -> None:
        there = json.loads(self.path.read_text(encoding="utf-8"))
        self.rows = there.pop("rows")
        for name, value in self.head.items():
            if there.get(name) != value:
                raise click.ClickException(
                    f"{self.path}: {name} is {there.get(name)}, here it is {value}. "
                    "Write to another file by --out, or remove this one"
                )

    def has(self, **key: Any) -> bool:
        """Tell whether a row is there already."""
        return any(all(row.get(k) == key[k] for k in self.keys) for row in self.rows)

    def _label(self) -> str:
        """Return the commit; a + if the sources changed after the measurement began."""
        return self.commit if commit() == self.commit else f"{self.commit.rstrip('+')}+"

    def add(self, row: Row) -> None:
        """Add a row and write the file."""
        self.rows.append({**row, "date": today(), "commit": self._label()})
        self.rows.sort(key=lambda r: [r[k] for k in self.keys])
        write(self.path, self.head, self.rows)


def write(path: Path, head: dict[str, Any], rows: Sequence[Row]) -> None:
    """Write a whole file or nothing: one row to a line."""
    lines = ",\n".join(f"  {json.dumps(row)}" for row in rows)
    start = json.dumps(head, indent=1)[:-2]
    path.parent.mkdir(parents=True, exist_ok=True)
    part = path.with_name(f"{path.name}.part")
    part.write_text(f'{start},\n "rows": [\n{lines}\n ]\n}}\n', encoding="utf-8")
    os.replace(part, path)


def file_of(what: str, *details: str) -> Path:
    """Return where rows of this machine are kept unless told otherwise."""
    name = "-".join([what, *details, f"{machine()['cores']}-cores"])
    return FOLDER / f"{name}.json"


def read_all(folder: Path = FOLDER) -> list[dict[str, Any]]:
    """Read all measurements of a folder, in the order of their names."""
    return [json.loads(p.read_text(encoding="utf-8")) for p in sorted(folder.glob("*.json"))]
