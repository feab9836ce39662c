"""Options that several commands share."""

from __future__ import annotations

import json
import math
from collections.abc import Callable
from datetime import datetime
from typing import Any, TypeVar

import click

Command = TypeVar("Command", bound=Callable[..., Any])


class FiniteRange(click.FloatRange):
    """A number in a range; "nan" and "inf" are none, though Python takes them for numbers."""

    def convert(
        self, value: Any, param: click.Parameter | None, ctx: click.Context | None
    ) -> float:
        """Return the number, or fail with a message."""
        number = float(super().convert(value, param, ctx))
        if not math.isfinite(number):
            self.fail(f"{value!r} is not a finite number.", param, ctx)
        return number


class Day(click.DateTime):
    """A day, as it is written in job files and lists, too."""

    def convert(
        self, value: Any, param: click.Parameter | None, ctx: click.Context | None
    ) -> datetime:
        """Return the day as its first moment, or fail with a message."""
        try:
            return datetime.strptime(str(value), "%Y-%m-%d")
        except ValueError:
            self.fail(f"{value!r} is no day; write a day as 2026-11-26.", param, ctx)


def as_json(command: Command) -> Command:
    """Add --json."""
    return click.option("--json", "as_json", is_flag=True, help="Print JSON for scripts.")(command)


def quiet(command: Command) -> Command:
    """Add --quiet."""
    return click.option("--quiet", "-q", is_flag=True, help="Print errors only.")(command)


def print_json(record: object) -> None:
    """Print a record as JSON, whole numbers and text untouched."""
    click.echo(json.dumps(record, ensure_ascii=False, indent=2, allow_nan=False))


def known_unit(context: click.Context, option: click.Parameter, value: str | None) -> str | None:
    """Refuse a unit that there is not, whether or not a drawing needs it."""
    from nestlib.drawings.units import unit_name

    try:
        return None if value is None else unit_name(value)
    except ValueError as error:
        raise click.BadParameter(str(error)) from None
