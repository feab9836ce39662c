"""Write the report of a plan again."""

from __future__ import annotations

from pathlib import Path

import click

from .options import as_json, print_json, quiet


@click.command()
@click.argument("folder", type=click.Path(path_type=Path))
@as_json
@quiet
def report(folder: Path, as_json: bool, quiet: bool) -> None:
    """Write report.html and the CSV lists of the plan in FOLDER again, from its plan.json.

    \b
    Example:
      nestlib report plans/frame
    """
    from nestlib.handover import rewrite_report

    path = rewrite_report(folder)
    if as_json:
        print_json({"report": str(path)})
    elif not quiet:
        click.echo(f"Wrote {path}")
