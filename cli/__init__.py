"""The command ``nestlib``: one thin file per command, loaded when it is called."""

from __future__ import annotations

import io
import sys
from importlib import import_module
from typing import Any

import click

from .failures import told_to_the_user
from .groups import Group
from .pipes import outlive_readers

#: Commands in the order of the work.
COMMANDS = {
    "demo": "Write the demo job, ready to be nested.",
    "check": "Check drawings before anything is cut from them.",
    "metals": "Show materials, gauges, formats and what a machine can cut.",
    "stock": "Keep the rack: sheets, remnants, and what was done with them.",
    "intake": "Turn an ERP export into jobs, by metal and thickness.",
    "buy": "Work out which sheets to order.",
    "nest": "Turn jobs into verified, cut-ready sheets.",
    "verify": "Check a written plan again, from its files alone.",
    "program": "Write machine programs for a plan, through a template.",
    "feedback": "Tell the ERP what plans mean for each order line.",
    "report": "Write the report of a plan again, shop sheets and labels.",
    "picture": "Write a picture of a layout, as SVG or PNG.",
    "help": "Tell about job files, part lists and other topics.",
    "completion": "Print what makes a shell complete commands and names.",
}


class Commands(Group):
    """A group whose commands are imported one at a time, so that help answers at once."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        """Return the names in the order of the work."""
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, name: str) -> click.Command | None:
        """Import one command."""
        if name not in COMMANDS:
            return None
        command: click.Command = getattr(import_module(f".{name}", __package__), name)
        return command

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """List the commands without importing them."""
        with formatter.section("Commands"):
            formatter.write_dl(list(COMMANDS.items()))

    def invoke(self, ctx: click.Context) -> Any:
        """Run a command; whatever goes wrong becomes one message and an exit code."""
        _print_anything()
        outlive_readers()
        with told_to_the_user(ctx):
            return super().invoke(ctx)


def _print_anything() -> None:
    """Let a terminal or a file that lacks a character show a question mark for it."""
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="replace")


@click.group(cls=Commands, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(package_name="nestlib")
def main() -> None:
    """Turn sheet-metal drawings and quantities into verified, cut-ready sheets.

    \b
    Examples:
      nestlib demo stands
      nestlib nest stands/*.toml --out plans
      nestlib help job

    \b
    Exit codes:
      0  done
      1  done, but a piece could not be placed or a check failed
      2  wrong usage or bad input
      3  stopped by the user, with the best so far written
      4  an internal error, with a file to send
    """
