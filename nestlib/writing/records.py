"""Reading back the record of a folder: JSON text of a known form and version."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from nestlib.errors import InputError, Problem
from nestlib.writing.folder import FolderKind


def load_record(path: Path, kind: FolderKind, version: int) -> dict[str, Any]:
    """Return the record of a folder.

    Parameters
    ----------
    path : Path
        The record itself.
    kind : FolderKind
        What it has to be.
    version : int
        The only one that can be read.

    Raises
    ------
    InputError
        If it cannot be read, or is something else.
    """
    noun = kind.noun
    try:
        record = json.loads(path.read_text(encoding="utf-8"))
    except OSError as error:
        reason = error.strerror or str(error)
        raise record_problem(path, f"cannot be read: {reason}", f"Name a {noun} folder") from error
    except (ValueError, RecursionError) as error:
        raise record_problem(path, "is not JSON text", f"Name a {noun} folder") from error
    if not isinstance(record, dict) or record.get("format") != kind.format:
        remedy = f"Name a folder that holds a {kind.record}"
        raise record_problem(path, f"is not a {noun}", remedy)
    if record.get("version") != version:
        own = f"has version {record.get('version')!r}, and this program reads version {version}"
        raise record_problem(path, own, "Use the program that wrote it")
    return record


def record_problem(path: Path, problem: str, remedy: str) -> InputError:
    """Return what is wrong with a record."""
    return InputError(Problem(str(path), "", problem, remedy))
