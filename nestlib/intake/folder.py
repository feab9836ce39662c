"""The folder of an intake: written whole or not at all, and only if something has changed."""

from __future__ import annotations

import shutil
import uuid
from collections.abc import Mapping
from pathlib import Path

from nestlib.intake.record import RECORD_FILE, read_record
from nestlib.writing.failures import output_error, write_text, writing_to


def write_folder(target: Path, files: Mapping[str, str], *, overwrite: bool = False) -> bool:
    """Write the files of an intake.

    Parameters
    ----------
    target : Path
        The folder; it may exist if it is empty.
    files : mapping
        Texts by their names.
    overwrite : bool
        Whether an older intake in it may be replaced.

    Returns
    -------
    bool
        False if exactly this is there already; nothing is touched then.

    Raises
    ------
    OutputError
        If something is in the way or the operating system refuses.
    """
    if holds(target, files):
        return False
    _demand_free(target, overwrite)
    draft = target.with_name(f".{target.name}.{uuid.uuid4().hex[:8]}.part")
    with writing_to(target):
        draft.mkdir(parents=True)
        try:
            for name, text in files.items():
                write_text(draft / name, text)
            _swap(draft, target)
        except BaseException:
            shutil.rmtree(draft, ignore_errors=True)
            raise
    return True


def holds(folder: Path, files: Mapping[str, str]) -> bool:
    """Return whether exactly these files are in a folder."""
    return _texts(folder) == dict(files)


def _texts(folder: Path) -> dict[str, str] | None:
    """Texts of the files of a folder; None if it is none, or holds anything else."""
    if not folder.is_dir():
        return None
    try:
        return {p.name: p.read_bytes().decode("utf-8") for p in folder.iterdir()}
    except (OSError, ValueError):
        return None


def _demand_free(target: Path, overwrite: bool) -> None:
    if not target.exists():
        return
    if not target.is_dir():
        raise output_error(target, "a file of that name is in the way", "Choose another folder")
    names = {path.name for path in target.iterdir()}
    if not names:
        return
    record = read_record(target)
    own = names - {RECORD_FILE, *(record or {}).get("files", ())}
    if record is None or own:
        problem = f"the folder holds {min(own or names)}, which is of no intake"
        raise output_error(target, problem, "Choose another folder")
    if not overwrite:
        problem = "another export or mapping was taken in there, or with other drawings"
        raise output_error(target, problem, "Choose another folder, or replace it (--overwrite)")


def _swap(draft: Path, target: Path) -> None:
    """Give the draft the target's name; on failure the old folder is put back."""
    old = target.with_name(f".{target.name}.{uuid.uuid4().hex[:8]}.old")
    if target.exists():
        target.rename(old)
    try:
        draft.rename(target)
    except BaseException:
        if old.exists():
            old.rename(target)
        raise
    shutil.rmtree(old, ignore_errors=True)
