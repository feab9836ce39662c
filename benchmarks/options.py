"""Options that several commands share."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import click

Command = Callable[..., Any]


class Names(click.ParamType[tuple[str, ...]]):
    """A list with commas between."""

    name = "list"

    def convert(self, value: Any, param: Any, ctx: Any) -> tuple[str, ...]:
        """Return the names."""
        return value if isinstance(value, tuple) else tuple(filter(None, value.split(",")))


class Numbers(click.ParamType[tuple[int, ...]]):
    """A list of whole numbers with commas between."""

    name = "numbers"

    def convert(self, value: Any, param: Any, ctx: Any) -> tuple[int, ...]:
        """Return the numbers."""
        if isinstance(value, tuple):
            return value
        try:
            return tuple(int(v) for v in value.split(","))
        except ValueError:
            self.fail(f"{value!r} is not a list of whole numbers like 1,2,4", param, ctx)


def instances(command: Command) -> Command:
    """Add the options that choose instances."""
    command = click.option(
        "--only", type=Names(), default="", help="Names of instances, with commas between."
    )(command)
    return click.option(
        "--instances",
        "folder",
        type=click.Path(path_type=Path, exists=True, file_okay=False),
        required=True,
        help="Folder of instance files.",
    )(command)


def out(command: Command) -> Command:
    """Add the option for the file of rows."""
    return click.option(
        "--out",
        type=click.Path(path_type=Path),
        help="File of rows; goes on with it if it exists. Default: in benchmarks/measured.",
    )(command)


def searched(seconds: float, seeds: str = "1,2,3,4,5") -> Callable[[Command], Command]:
    """Return what adds the options of a search."""

    def add(command: Command) -> Command:
        command = click.option(
            "--seeds", type=Numbers(), default=seeds, show_default=True, help="Of all chance."
        )(command)
        return click.option(
            "--seconds", default=seconds, show_default=True, help="When to stop improving."
        )(command)

    return add


def side_by_side(command: Command) -> Command:
    """Add the options that say how many runs and threads there are at a time."""
    command = click.option(
        "--parallel",
        type=click.IntRange(min=1),
        default=1,
        show_default=True,
        help="Runs at a time, each on cores of its own.",
    )(command)
    return click.option(
        "--workers",
        type=click.IntRange(min=1),
        default=1,
        show_default=True,
        help="Threads, and cores, of one run.",
    )(command)


def solutions(command: Command) -> Command:
    """Add the option for the file of solutions."""
    return click.option(
        "--solutions",
        type=click.Path(path_type=Path, dir_okay=False),
        help="File to which each solution is added as one line of JSON.",
    )(command)
