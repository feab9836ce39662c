"""One clear message for everything that can go wrong while writing."""

from __future__ import annotations

import errno
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from nestlib.errors import OutputError, Problem

_REASONS: dict[int | None, tuple[str, str]] = {
    errno.ENOSPC: ("the disk is full", "Free some space or write to another disk"),
    errno.EDQUOT: ("the disk quota is used up", "Free some space or write to another disk"),
    errno.EACCES: ("writing there is not allowed", "Choose a folder that you may write to"),
    errno.EPERM: ("writing there is not allowed", "Choose a folder that you may write to"),
    errno.EROFS: ("the disk is read-only", "Choose a folder on another disk"),
    errno.ENOENT: (
        "the folder above it cannot be made",
        "Choose another folder",
    ),
    errno.ENOTDIR: ("something above it is a file, not a folder", "Choose another folder"),
    errno.EISDIR: ("a folder of that name is in the way", "Choose another name"),
    errno.ENAMETOOLONG: ("the name is too long", "Choose a shorter one"),
}


def output_error(target: Path, problem: str, remedy: str) -> OutputError:
    """Return the error that says why `target` cannot be written and what to do."""
    return OutputError(str(Problem(str(target), "", f"cannot be written: {problem}", remedy)))


@contextmanager
def writing_to(target: Path) -> Iterator[None]:
    """Turn operating system errors into one clear `OutputError` about `target`.

    Parameters
    ----------
    target : Path
        What the user asked to be written.

    Raises
    ------
    OutputError
        If anything inside the ``with`` block raises `OSError`.
    """
    try:
        yield
    except OSError as error:
        unknown = (error.strerror or str(error), "Choose another place to write to")
        raise output_error(target, *_REASONS.get(error.errno, unknown)) from error


def write_text(path: str | Path, text: str) -> None:
    """Write a text file in UTF-8, its line ends as they are, whole or not at all.

    A lone surrogate, as in a file name that is no valid text, is spelt ``\\udcXX``.

    Raises
    ------
    OutputError
        If it cannot be written.
    """
    with _draft_of(Path(path)) as draft:
        draft.write_text(text, encoding="utf-8", errors="backslashreplace", newline="")


def write_bytes(path: str | Path, content: bytes) -> None:
    """Write a file whole or not at all.

    Raises
    ------
    OutputError
        If it cannot be written.
    """
    with _draft_of(Path(path)) as draft:
        draft.write_bytes(content)


@contextmanager
def _draft_of(path: Path) -> Iterator[Path]:
    """Give a file to write that takes the name of `path` at the end, or is removed."""
    draft = path.with_name(f".{path.name}.part")
    with writing_to(path):
        try:
            yield draft
            draft.replace(path)
        except BaseException:
            draft.unlink(missing_ok=True)
            raise
