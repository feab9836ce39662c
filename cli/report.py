"""Write the report of a plan again, and what is printed of it."""

from __future__ import annotations

from functools import partial
from pathlib import Path
from typing import Any

import click

from .options import as_json, print_json, quiet


@click.command()
@click.argument("folder", type=click.Path(path_type=Path))
@click.option("--pdf", is_flag=True, help="Also write shop-sheets.pdf: a page for each layout.")
@click.option(
    "--paper",
    type=click.Choice(["a4", "letter"]),
    default="a4",
    show_default=True,
    help="Size of the pages of a PDF.",
)
@click.option(
    "--labels",
    type=click.Choice(["a4-24", "letter-30", "100x50", "62x29"]),
    help=(
        "Also write part-labels.pdf, a label for each part and order line: on a sheet of 24"
        " (70 x 37 mm) or 30 (2 5/8 x 1 in), or one a page in mm."
    ),
)
@as_json
@quiet
def report(
    folder: Path, pdf: bool, paper: str, labels: str | None, as_json: bool, quiet: bool
) -> None:
    """Write report.html and the CSV lists of the plan in FOLDER again, from its plan.json;
    if asked for, also shop sheets to print and labels for the parts. If FOLDER holds an order
    of nestlib buy, purchase.html, purchase.pdf and its lists, from its buy.json.

    \b
    Examples:
      nestlib report plans/frame
      nestlib report plans/frame --pdf --paper letter
      nestlib report plans/frame --labels a4-24
      nestlib report purchase --paper letter
    """
    from nestlib.writing.buy_json import BUY
    from nestlib.writing.folder import is_plan_folder

    if is_plan_folder(folder, BUY):
        if pdf or labels is not None:
            raise click.UsageError("--pdf and --labels are for plans; an order has its PDF anyway")
        from nestlib.handover_purchase import rewrite_purchase

        _tell({"report": str(rewrite_purchase(folder, paper))}, as_json, quiet)
        return
    from nestlib.handover import rewrite_report

    written: dict[str, Any] = {"report": str(rewrite_report(folder))}
    if pdf or labels is not None:
        from nestlib.shop_papers import write_part_labels, write_shop_sheets

        note = partial(click.echo, err=True)
        if pdf:
            written["shop_sheets"] = str(write_shop_sheets(folder, paper, note))
        if labels is not None:
            written["part_labels"] = str(write_part_labels(folder, labels, note))
    _tell(written, as_json, quiet)


def _tell(written: dict[str, Any], as_json: bool, quiet: bool) -> None:
    """Say which files were written."""
    if as_json:
        print_json(written)
    elif not quiet:
        click.echo("\n".join(f"Wrote {path}" for path in written.values()))
