"""What a job was when it was nested: a digest by which finished plans are recognised."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

from nestlib.jobs import PartLine, read_job_file, read_part_list, resolve

#: Endings of part lists, which need a few words besides.
LIST_ENDINGS = (".csv", ".xlsx", ".tsv", ".txt")

#: Words of how to nest that may be files; their content counts, not where they lie.
_FILES = ("template", "machine")


def job_digest(path: str | Path, how: Mapping[str, Any]) -> str:
    """Return a digest of a job: its file, part list, drawings and machine file, and how it is
    to be nested.

    Parameters
    ----------
    path : str or Path
        A job file or a part list.
    how : mapping
        Whatever else changes the plan, as plain data: seed, time, and for a part list metal,
        thickness and sheets.

    Raises
    ------
    JobError
        If the job cannot be understood; of its drawings only that they are there counts.
    """
    named = {key: value for key, value in how.items() if key in _FILES and _is_file(value)}
    plain = {**how, **{key: Path(value).name for key, value in named.items()}}
    digest = hashlib.sha256(json.dumps(plain, sort_keys=True, default=str).encode())
    files = {str(file) for file in _files(Path(path))}
    for file in (*sorted(files), *named.values()):
        if Path(file).is_file():
            digest.update(hashlib.sha256(Path(file).read_bytes()).digest())
    return digest.hexdigest()


def is_list(path: Path) -> bool:
    """Return whether a job is a part list."""
    return path.suffix.lower() in LIST_ENDINGS


def _is_file(value: object) -> bool:
    return isinstance(value, str) and Path(value).is_file()


def _files(path: Path) -> Iterator[Path]:
    """Everything that a job is read from; a name of a built-in machine is no file."""
    yield path
    if is_list(path):
        yield from _drawings(read_part_list(path))
        return
    read = read_job_file(path)
    table, folder = read.table, path.parent
    yield resolve(folder, table.machine)
    yield from (resolve(folder, s.drawing) for s in table.sheet if s.drawing)
    yield from _drawings(read.lines)
    if table.parts:
        yield resolve(folder, table.parts)
        yield from _drawings(read_part_list(resolve(folder, table.parts)))


def _drawings(lines: list[PartLine]) -> Iterator[Path]:
    return (line.drawing for line in lines)
