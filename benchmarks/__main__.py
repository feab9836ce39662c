"""``python -m benchmarks``: measure, and write what was measured.

Each command loads its module when it is called: strips need no OR-Tools, and processes
that are started to measure something import nothing but that.
"""

from __future__ import annotations

from importlib import import_module

import click

#: Modules that hold a `command` of their name.
COMMANDS = (
    "angles",
    "batch",
    "buy",
    "cold",
    "growth",
    "intake",
    "kernels",
    "pictures",
    "report",
    "report-size",
    "rules",
    "scaling",
    "sheets",
    "shop",
    "solve",
    "stock",
    "strips",
    "tours",
    "travel",
)


class _Commands(click.Group):
    """Commands that are loaded when they are called."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        if cmd_name not in COMMANDS:
            return None
        found: click.Command = import_module(f"benchmarks.{cmd_name.replace('-', '_')}").command
        return found


@click.command(cls=_Commands)
def main() -> None:
    """Measure how well and how fast nestlib packs open benchmark instances."""


if __name__ == "__main__":
    main()
