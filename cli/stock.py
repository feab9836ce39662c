"""The rack: sheets and remnants, and what was done with them."""

from __future__ import annotations

from importlib import import_module

import click

from .groups import Group

#: Commands of the group and the modules that hold them.
_COMMANDS = {
    "add": "stock_changes",
    "list": "stock_lists",
    "history": "stock_lists",
    "hold": "stock_changes",
    "release": "stock_changes",
    "use": "stock_changes",
    "count": "stock_changes",
    "move": "stock_changes",
    "scrap": "stock_changes",
    "export": "stock_lists",
    "label": "stock_lists",
    "money": "stock_lists",
}


class _Commands(Group):
    """Commands in the order of the work."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        return list(_COMMANDS)

    def get_command(self, ctx: click.Context, name: str) -> click.Command | None:
        if name not in _COMMANDS:
            return None
        home = import_module(f".{_COMMANDS[name]}", __package__)
        command: click.Command = getattr(home, f"stock_{name}")
        return command


@click.group(cls=_Commands)
def stock() -> None:
    """Keep the rack: sheets and remnants in a ledger that several programs share.

    The rack is a file in your data folder, unless --stock or the environment variable
    NESTLIB_STOCK names another file or the URL of a PostgreSQL database. The first
    `nestlib stock add` makes it, in a folder that is there; the other commands need one that
    is there.

    \b
    Examples:
      nestlib stock add --metal mild-steel --thickness 3 --size 3000x1500 --quantity 4
      nestlib stock list --metal mild-steel --remnants
      nestlib nest job.toml --from-stock --out plan
      nestlib stock use plan

    \b
    Exit codes:
      0  done, or done before
      2  wrong usage, bad input, or the rack does not have that
      3  stopped by the user; nothing was changed
      4  an internal error, with a file to send
    """
