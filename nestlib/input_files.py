"""The bytes and the text of files that people name."""

from __future__ import annotations

import difflib
import os
from pathlib import Path

from nestlib.errors import JobError, Problem
from nestlib.suggesting import nearest


def read_text(path: str | Path) -> str:
    """Return the text of a UTF-8 file.

    Raises
    ------
    JobError
        If it is missing, a folder, empty, unreadable or not UTF-8.
    """
    try:
        return read_bytes(path).decode("utf-8-sig")
    except UnicodeDecodeError as error:
        place = f"byte {error.start + 1}"
        raise JobError(
            Problem(str(path), place, "this is not UTF-8 text", "Save the file as UTF-8")
        ) from None


def read_bytes(path: str | Path) -> bytes:
    """Return what is in a file.

    Raises
    ------
    JobError
        If it is missing, a folder, empty or unreadable.
    """
    file = str(path)
    try:
        data = Path(path).read_bytes()
    except FileNotFoundError:
        raise JobError(Problem(file, "", "there is no such file", similar_file(path))) from None
    except IsADirectoryError:
        remedy = "Name the file in it"
        raise JobError(Problem(file, "", "this is a folder, not a file", remedy)) from None
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        remedy = "Check its name and that you may read it"
        raise JobError(Problem(file, "", f"cannot be opened ({reason})", remedy)) from None
    if not data.strip():
        raise JobError(Problem(file, "", "the file is empty", "Check that it was saved"))
    return data


def seen_from(folder: str | Path, path: str | Path) -> str:
    """Return a path as it is named in a file that lies in a folder; whole on another drive."""
    try:
        return Path(os.path.relpath(path, folder)).as_posix()
    except ValueError:  # another drive
        return Path(path).absolute().as_posix()


def similar_file(path: str | Path) -> str:
    """Return the remedy for a missing file: a similar name in the folder, if there is one."""
    path = Path(path)
    folder = path.parent
    if not folder.is_dir():
        return f"There is no folder {folder} either; check the path"
    stem = nearest(path.stem, {p.stem.lower() for p in folder.iterdir()})
    names = [p.name for p in folder.iterdir() if p.stem.lower() == stem]
    # Equal endings make any two names look alike, so these only choose among equal stems.
    return (
        f"Did you mean {_likest(path.name, names)}?" if names else "Check the name and the folder"
    )


def _likest(name: str, names: list[str]) -> str:
    return difflib.get_close_matches(name, names, n=1, cutoff=0)[0]
