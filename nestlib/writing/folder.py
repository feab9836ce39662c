"""Either the whole plan folder or nothing."""

from __future__ import annotations

import json
import shutil
import uuid
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from fnmatch import fnmatch
from pathlib import Path

from nestlib.writing.failures import output_error, writing_to
from nestlib.writing.plan_json import FORMAT, PLAN_FILE

#: What people look at first.
REPORT_FILE = "report.html"

#: What goes to the machine and into the crates, if it is asked for.
SHOP_FILE, LABELS_FILE = "shop-sheets.pdf", "part-labels.pdf"


@dataclass(frozen=True)
class FolderKind:
    """A kind of folder that appears whole or not at all.

    Parameters
    ----------
    noun : str
        What it holds, for messages.
    record : str
        Its file whose key ``format`` says what it is.
    format : str
        What that key says.
    files : tuple of str
        Everything that it holds, ``*`` for any characters.
    """

    noun: str
    record: str
    format: str
    files: tuple[str, ...]


#: What a plan folder holds.
PLAN = FolderKind("plan", PLAN_FILE, FORMAT, (
    PLAN_FILE, REPORT_FILE, "sheet-*.dxf", "parts.csv", "sheets.csv", "remnants.csv",
    "path-[0-9]*.csv", "sheet-*.nc", SHOP_FILE, LABELS_FILE,
))  # fmt: skip


@contextmanager
def plan_folder(
    target: str | Path, *, overwrite: bool = False, kind: FolderKind = PLAN
) -> Iterator[Path]:
    """Write a plan folder, or another kind, so that it appears whole or not at all.

    Parameters
    ----------
    target : str or Path
        The folder to make. It may exist if it is empty.
    overwrite : bool
        Whether a plan folder that is already there may be replaced. Nothing else ever is.
    kind : FolderKind
        What is written, and what may be replaced.

    Yields
    ------
    Path
        A new folder beside `target`, whose parents are made, to write into. It takes the
        target's name at the end of the ``with`` block, and is removed with these parents if
        the block raises; the old folder is left as it was until then.

    Raises
    ------
    OutputError
        If something is in the way or the operating system refuses.
    """
    demand_free(target, overwrite=overwrite, kind=kind)
    shown, target = Path(target), Path(target).resolve()
    with writing_to(shown):
        draft = _beside(target, "part")
        missing = [folder for folder in draft.parents if not folder.exists()]
        draft.mkdir(parents=True)
    try:
        with writing_to(shown):
            yield draft
            _swap(draft, target)
    except BaseException:
        shutil.rmtree(draft, ignore_errors=True)
        for folder in missing:
            with suppress(OSError):
                folder.rmdir()
        raise


def demand_free(target: str | Path, *, overwrite: bool = False, kind: FolderKind = PLAN) -> None:
    """Raise now what `plan_folder` would raise later, before hours of work are spent.

    Parameters
    ----------
    target : str or Path
        The folder that is to be made.
    overwrite : bool
        Whether a plan folder that is already there may be replaced.
    kind : FolderKind
        What is to be written, and what may be replaced.

    Raises
    ------
    OutputError
        If something is in the way or the operating system refuses.
    """
    shown, target = Path(target), Path(target).resolve()
    with writing_to(shown):
        new = not target.exists() or (target.is_dir() and not any(target.iterdir()))
    if not new:
        _demand_ours(shown, target, overwrite, kind)
    with writing_to(shown):
        _demand_writable(shown, target)


def _demand_ours(shown: Path, target: Path, overwrite: bool, kind: FolderKind) -> None:
    """Raise if something is there that must not be replaced."""
    if not target.is_dir():
        raise output_error(shown, "a file of that name is in the way", "Choose another folder")
    noun = kind.noun
    if not is_plan_folder(target, kind):
        raise output_error(
            shown, f"the folder holds something that is not a {noun}", "Choose an empty folder"
        )
    own = [p.name for p in target.iterdir() if not _is_ours(p.name, kind)]
    if own:
        also = f"the folder also holds {own[0]}, which is not part of the {noun}"
        raise output_error(shown, also, "Move it away or choose another folder")
    if not overwrite:
        remedy = f"Choose another folder or replace the old {noun} (--overwrite, or overwrite=True)"
        raise output_error(shown, f"it already holds a {noun}", remedy)


def _demand_writable(shown: Path, target: Path) -> None:
    """Raise if no folder can be made where the draft will lie: made and removed, to be sure."""
    parent = next(p for p in target.parents if p.exists())
    if not parent.is_dir():
        raise output_error(shown, f"{parent} is a file, not a folder", "Choose another folder")
    trial = parent / _beside(target, "part").name
    try:
        trial.mkdir()
        trial.rmdir()
    except FileNotFoundError as error:  # what a folder says in which nobody can make anything
        problem = f"nothing may be written in {parent}"
        raise output_error(shown, problem, "Choose another folder") from error


def _is_ours(name: str, kind: FolderKind) -> bool:
    """Whether a file of a folder was written by us and may be replaced."""
    return any(fnmatch(name, pattern) for pattern in kind.files)


def is_plan_folder(folder: Path, kind: FolderKind = PLAN) -> bool:
    """Return whether a folder holds a plan, or another kind, that this library wrote."""
    try:
        record = json.loads((folder / kind.record).read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return False
    return isinstance(record, dict) and record.get("format") == kind.format


def _swap(draft: Path, target: Path) -> None:
    """Give the draft the target's name; on failure the old target is put back."""
    if not target.exists():
        draft.rename(target)
        return
    old = _beside(target, "old")
    target.rename(old)
    try:
        draft.rename(target)
    except BaseException:
        old.rename(target)
        raise
    shutil.rmtree(old, ignore_errors=True)


def _beside(target: Path, ending: str) -> Path:
    return target.with_name(f".{target.name}.{uuid.uuid4().hex[:8]}.{ending}")
