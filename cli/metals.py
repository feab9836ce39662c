"""Show materials, gauges, formats and what a machine can cut."""

from __future__ import annotations

import click

from .names import machine_names
from .options import as_json, print_json, quiet


@click.command()
@click.option(
    "--machine",
    "machine_name",
    help="What this machine can cut: a name or a TOML file.",
    shell_complete=machine_names,
)
@as_json
@quiet
def metals(machine_name: str | None, as_json: bool, quiet: bool) -> None:
    """Show the built-in materials, gauges, sheet formats and machines, or what one
    machine can cut.

    \b
    Examples:
      nestlib metals
      nestlib metals --machine co2-250
    """
    from nestlib import metals as data
    from nestlib.reporting import print_capabilities, print_catalogue

    if machine_name:
        machine = data.machine(machine_name)
        rows = data.capabilities(machine)
        if as_json:
            print_json({"machine": machine.name, "can_cut": [row.record() for row in rows]})
        elif not quiet:
            print_capabilities(machine, rows)
        return
    catalogue = data.catalogue()
    if as_json:
        print_json(catalogue)
    elif not quiet:
        print_catalogue(catalogue)
