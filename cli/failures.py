"""What the user sees when something goes wrong: one message and an exit code."""

from __future__ import annotations

import sys
import tempfile
import traceback
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import click

from nestlib.errors import NestlibError, StoppedError

STOPPED = 3
INTERNAL = 4


@contextmanager
def told_to_the_user(ctx: click.Context) -> Iterator[None]:
    """Turn every exception into one message on stderr and a documented exit code."""
    try:
        yield
    except StoppedError as error:
        click.echo(f"{error}; nothing more was written.", err=True)
        ctx.exit(error.exit_code)
    except NestlibError as error:
        click.echo(f"Error: {error}", err=True)
        ctx.exit(error.exit_code)
    except KeyboardInterrupt:
        click.echo("Stopped; nothing more was written.", err=True)
        ctx.exit(STOPPED)
    except (click.ClickException, click.exceptions.Exit, click.Abort):
        raise
    except Exception as error:
        click.echo(_internal(error), err=True)
        ctx.exit(INTERNAL)


def _internal(error: Exception) -> str:
    """Save what a developer needs and say where it is."""
    summary = f"Error: an internal error ({type(error).__name__}: {error})."
    try:
        with tempfile.NamedTemporaryFile(
            "w", prefix="nestlib-error-", suffix=".txt", delete=False, encoding="utf-8"
        ) as file:
            file.write(f"{' '.join(sys.argv)}\n{traceback.format_exc()}")
        return f"{summary} Please send us {Path(file.name)}, with the input if you can."
    except OSError:
        return f"{summary} Please send us this message, with the input if you can."
