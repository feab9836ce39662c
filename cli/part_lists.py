"""Jobs as they are named on the command line: job files, and part lists with a few words."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from .names import machine_names, metal_names
from .options import Command

if TYPE_CHECKING:
    from nestlib import Job

#: Endings of part lists.
_LISTS = (".csv", ".xlsx", ".tsv", ".txt")

#: Stands in a list whose sheets come from elsewhere, and is left out again.
ANY_SHEET = ("100x100",)

_SHEETS = click.option(
    "--sheet",
    "sheets",
    multiple=True,
    help="For a part list: 3000x1500 (mm) or 48x96in; may be repeated.",
)

_WORDS = (
    click.option(
        "--metal",
        help="For a part list: material, for example mild-steel.",
        shell_complete=metal_names,
    ),
    click.option("--thickness", help='For a part list: "1.5", "16 ga" or "0.060 in".'),
    click.option(
        "--machine",
        help="For a part list: a machine's name or its own TOML file.",
        shell_complete=machine_names,
    ),
    click.option("--kerf", type=float, help="For a part list: width of the slot in mm."),
    click.option("--spacing", type=float, help="For a part list: metal between two slots in mm."),
    click.option("--margin", type=float, help="For a part list: metal left at the edge in mm."),
    click.option("--units", help="For a part list: unit of drawings that give none."),
    click.option("--join", type=float, help="For a part list: gap in mm that is closed."),
)


def words_for_lists(command: Command) -> Command:
    """Add what a part list needs besides its parts, but for the sheets."""
    for option in reversed(_WORDS):
        command = option(command)
    return command


def sheets_for_lists(command: Command) -> Command:
    """Add --sheet."""
    return _SHEETS(command)


def is_list(path: Path) -> bool:
    """Return whether a file is a part list, by its name."""
    return path.suffix.lower() in _LISTS


def given_for_lists(jobs: Iterable[Path], for_lists: Mapping[str, Any]) -> dict[str, Any]:
    """Return what was said for part lists, if that suits the jobs.

    Parameters
    ----------
    jobs : iterable of Path
        All that are named.
    for_lists : mapping
        Values of the options; the sheets are `ANY_SHEET` where they come from elsewhere.

    Raises
    ------
    click.UsageError
        If a part list lacks what it needs, or a job file says the same itself.
    """
    given = {key: value for key, value in for_lists.items() if value not in (None, ())}
    for path in jobs:
        _demand_options(path, given)
    return given


def _demand_options(path: Path, given: dict[str, Any]) -> None:
    """Refuse a part list without what it needs, and a job file with it."""
    if given.get("sheets") == ANY_SHEET and path.suffix.lower() == ".toml":
        given = {key: value for key, value in given.items() if key != "sheets"}
    if is_list(path):
        missing = [_option(key) for key in ("metal", "thickness", "sheets") if key not in given]
        if missing:
            raise click.UsageError(f"a part list also needs {', '.join(missing)}")
    elif given and path.suffix.lower() not in (".dxf", ".svg"):
        options, verb = ", ".join(map(_option, given)), "is" if len(given) == 1 else "are"
        raise click.UsageError(f"{options} {verb} for part lists; {path} says that itself")


def _option(key: str) -> str:
    return "--sheet" if key == "sheets" else f"--{key}"


def read_job_or_list(path: Path, force: bool, given: dict[str, Any]) -> Job:
    """Return the job of a job file, or of a part list with what was said for it.

    What is read otherwise than its drawing says is told at once, however quiet it shall be.
    """
    import nestlib as nl

    if is_list(path):
        job = nl.job_from_list(path, force=force, **given)
    else:
        job = nl.read_job(path, force=force)
    for caution in job.cautions:
        click.echo(f"Warning: {caution}", err=True)
    return job
