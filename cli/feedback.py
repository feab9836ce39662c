"""Tell the ERP what plans mean for each order line."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from .options import as_json, print_json, quiet

if TYPE_CHECKING:
    from nestlib import Plan

#: Files that are written.
_JSON, _CSV = "feedback.json", "feedback.csv"


@click.command()
@click.argument("plans", nargs=-1, required=True, type=click.Path(path_type=Path))
@click.option(
    "--jobs",
    "folders",
    multiple=True,
    type=click.Path(path_type=Path),
    help="Folder of an intake, or of several: lines of it that no plan holds are told, too; may "
    "be repeated.  [default: folders of the plans' job files]",
)
@click.option(
    "--out",
    type=click.Path(path_type=Path),
    default=Path("feedback"),
    show_default=True,
    help=f"Folder that gets {_JSON} and {_CSV}.",
)
@as_json
@quiet
def feedback(
    plans: tuple[Path, ...], folders: tuple[Path, ...], out: Path, as_json: bool, quiet: bool
) -> None:
    """Write what the plans in the folders PLANS mean for each order line: planned quantity,
    layouts, minutes, kg and share of the cost. Pieces go to what is due first, then to the
    line that stands first; shares add up to the plan to the last digit.

    Lines of an intake that have no plan (their job failed, or their row was set aside) get a
    row with 0 planned and the reason. Where all jobs of an intake failed, --jobs tells of it.

    \b
    Example:
      nestlib feedback plans/* --jobs jobs --out outbox

    \b
    Exit codes:
      0  done
      1  done, but an order line is not planned whole, or a plan is not verified
      2  a folder holds no plan, or that of --jobs no intake, or nothing can be written
    """
    from nestlib.locking import only_one
    from nestlib.orders import COLUMNS, order_feedback
    from nestlib.writing.failures import write_text
    from nestlib.writing.tables import csv_text

    read = _read(plans)
    intakes = _intakes(folders, [Path(plan.job.source) for _, plan in read if plan.job.source])
    record = order_feedback([(str(folder), plan) for folder, plan in read], intakes)
    with only_one(out):
        text = json.dumps(record, ensure_ascii=False, allow_nan=False, indent=1)
        write_text(out / _JSON, text + "\n")
        write_text(out / _CSV, csv_text(COLUMNS, record["lines"]))
    if as_json:
        print_json(record)
    elif not quiet:
        _tell(record, out)
    whole = all(row["missing"] == 0 and row["verified"] for row in record["lines"])
    raise SystemExit(0 if whole else 1)


def _read(folders: tuple[Path, ...]) -> list[tuple[Path, Plan]]:
    """Read all plans, and report the problems of all at once."""
    import nestlib as nl
    from nestlib.gathering import Gathering

    gathering, read = Gathering(), list[tuple[Path, Any]]()
    for folder in folders:
        with gathering.going_on():
            read.append((folder, nl.read_plan(folder)))
    gathering.finish()
    return read


def _intakes(folders: tuple[Path, ...], job_files: list[Path]) -> dict[str, dict[str, Any]]:
    """Return the records of the intakes in some folders, and of those that made job files."""
    from nestlib.errors import JobError, Problem
    from nestlib.intake.record import read_record

    found: dict[Path, dict[str, Any]] = {}
    for folder in folders:
        inside = sorted(path for path in folder.glob("*") if path.is_dir())
        records = {path.resolve(): read_record(path) for path in (folder, *inside)}
        known = {path: record for path, record in records.items() if record is not None}
        if not known:
            remedy = "Give the folder that nestlib intake wrote, or the one around several"
            raise JobError(Problem(str(folder), "", "the folder holds no intake", remedy))
        found |= known
    for path in dict.fromkeys(file.resolve().parent for file in job_files):
        record = read_record(path)
        if record is not None:
            found.setdefault(path, record)
    return {str(path): record for path, record in found.items()}


def _tell(record: dict[str, Any], out: Path) -> None:
    from nestlib.reporting import print_table

    columns = ("Order line", "Part", ">Planned", "Layouts", ">Minutes", ">kg", ">Cost")
    rows = [
        (
            row["line"] or "nobody's",
            row["part"] or "",
            f"{row['planned']} of {'?' if row['ordered'] is None else row['ordered']}",
            ", ".join(str(on["layout"]) for on in row["layouts"]) or "none",
            "" if row["minutes"] is None else f"{row['minutes']:.3f}",
            f"{row['kg']:.3f}",
            "" if row["cost"] is None else f"{row['cost']:.2f} {row['currency']}".strip(),
        )
        for row in record["lines"]
    ]
    print_table("", columns, rows)
    for row in record["lines"]:
        if row["reason"]:
            click.echo(f"No plan for {row['line']}: {row['reason']}.")
    for missing in dict.fromkeys(what for plan in record["plans"] for what in plan["not_stated"]):
        click.echo(f"Not stated: {missing}")
    click.echo(f"Wrote {out / _JSON} and {out / _CSV}.")
