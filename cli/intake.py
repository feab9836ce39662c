"""Turn an ERP export into jobs."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from .options import as_json, print_json, quiet

if TYPE_CHECKING:
    from nestlib.intake import CheckDrawing, Draft, Intake

#: More rows than this are counted and not listed.
_LISTED = 20


@click.command()
@click.argument("export", type=click.Path(path_type=Path))
@click.option(
    "--mapping",
    type=click.Path(path_type=Path),
    help="What the export means; drafted if missing.  [default: intake.toml beside the export]",
)
@click.option(
    "--out",
    type=click.Path(path_type=Path),
    help="Folder of the jobs.  [default: jobs/NAME-OF-THE-EXPORT]",
)
@click.option(
    "--drawings",
    "folders",
    multiple=True,
    type=click.Path(path_type=Path, exists=True, file_okay=False),
    help="For the draft: folder of drawings; may be repeated.  [default: that of the export]",
)
@click.option("--confirm", is_flag=True, help="Say in the mapping that it has been checked.")
@click.option("--check", is_flag=True, help="Also read each drawing; set aside what cannot be cut.")
@click.option("--overwrite", is_flag=True, help="Replace what was taken in to the same folder.")
@as_json
@quiet
def intake(
    export: Path,
    mapping: Path | None,
    out: Path | None,
    folders: tuple[Path, ...],
    confirm: bool,
    check: bool,
    overwrite: bool,
    as_json: bool,
    quiet: bool,
) -> None:
    """Turn EXPORT (CSV, XLSX or JSON lines from an ERP) into job files and part lists, by metal
    and thickness. Bad rows are set aside in set-aside.csv with the reason; the others go on.

    The first run drafts a mapping for this form of export: check it, then run again with
    --confirm. The same export once more changes nothing.

    \b
    Examples:
      nestlib intake orders.csv --drawings drawings    # drafts intake.toml
      nestlib intake orders.csv --confirm              # writes jobs/orders
      nestlib nest --each jobs/orders/*.toml

    \b
    Exit codes:
      0  every row was taken, or nothing has changed since the last run
      1  done, but rows were set aside, a draft waits to be checked, or --check finds drawings
         unfit whose rows were taken in before (--overwrite sets them aside)
      2  the export or the mapping cannot be used
    """
    from nestlib.input_files import read_bytes
    from nestlib.intake import ASIDE_FILE, take_in
    from nestlib.locking import only_one

    read_bytes(export)  # whatever is wrong with it is said before anything is made
    mapping = mapping or export.parent / "intake.toml"
    out = out or Path("jobs") / export.stem
    with only_one(out.parent):
        if not mapping.exists():
            draft = _drafted(export, mapping, folders)
            if as_json:
                print_json({"state": "draft", "mapping": str(mapping), "check": draft.to_check})
            elif not quiet:
                _tell_draft(draft, mapping)
            raise SystemExit(1)
        if confirm:
            _confirm(mapping)
        done = take_in(export, mapping, out, overwrite=overwrite, check=_checker(check))
    if as_json:
        print_json(_summary(done))
    elif not quiet:
        _tell(done)
    elif done.aside and done.changed:
        click.echo(f"{done.folder / ASIDE_FILE}: {len(done.aside)} rows set aside", err=True)
    if not as_json:
        for number, why in done.unfit:
            click.echo(f"Warning: row {number} was taken in without --check: {why}", err=True)
    raise SystemExit(1 if done.unfit or (done.aside and done.changed) else 0)


def _checker(wanted: bool) -> CheckDrawing | None:
    """What reads each drawing, if it is wanted."""
    if not wanted:
        return None
    from nestlib.from_drawings import demand_fit

    return demand_fit


def _drafted(export: Path, mapping: Path, folders: tuple[Path, ...]) -> Draft:
    from nestlib.intake import draft_mapping, read_export
    from nestlib.writing.failures import write_text

    draft = draft_mapping(read_export(export), folders or (export.parent,), mapping.parent)
    write_text(mapping, draft.text)
    return draft


def _confirm(mapping: Path) -> None:
    """Say in the mapping that it was checked, unless it says so or is no mapping."""
    import tomllib

    from nestlib.input_files import read_text
    from nestlib.intake import confirmed
    from nestlib.writing.failures import write_text

    text = read_text(mapping)
    try:
        said = tomllib.loads(text).get("confirmed")
    except tomllib.TOMLDecodeError:
        return  # the reader says where
    if said is not True:
        write_text(mapping, confirmed(text))


def _tell_draft(draft: Draft, mapping: Path) -> None:
    click.echo(f"Drafted {mapping}. Check every line of it, these first:")
    for text in draft.to_check:
        click.echo(f"  - {text}")
    click.echo("Then run the same command again with --confirm.")


def _tell(done: Intake) -> None:
    from nestlib.intake import ASIDE_FILE
    from nestlib.intake.record import RECORD_FILE
    from nestlib.reporting import print_table

    rows = [
        (
            file.name,
            job.metal,
            job.thickness,
            len(job.parts),
            sum(part.quantity for part in job.parts),
        )
        for file, job in zip(done.job_files, done.jobs, strict=True)
    ]
    if rows:
        print_table("", ("Job", "Metal", "Thickness", ">Parts", ">Pieces"), rows)
    into = f" into {len(done.jobs)} jobs in {done.folder}" if done.jobs else ""
    click.echo(f"{done.rows} rows: {len(done.taken)} taken{into}.")
    for rows_of, what in (
        (done.again, "say only once more what another row says"),
        (done.before, "were taken in before, with another export"),
    ):
        if rows_of:
            click.echo(f"{len(rows_of)} {what}.")
    for row, reason in done.aside[:_LISTED]:
        click.echo(f"Set aside: row {row.number}: {reason}.")
    if len(done.aside) > _LISTED:
        click.echo(f"and {len(done.aside) - _LISTED} more, all in {done.folder / ASIDE_FILE}.")
    if done.either:
        click.echo("Warning: check these quantities, which may be meant with a decimal sign:")
    for wanted in done.either[:_LISTED]:
        click.echo(f"  row {wanted.row}: {wanted.written} read as {wanted.quantity}")
    if len(done.either) > _LISTED:
        click.echo(f"  and {len(done.either) - _LISTED} more, all in {done.folder / RECORD_FILE}")
    if not done.changed:
        click.echo("Nothing has changed.")


def _summary(done: Intake) -> dict[str, Any]:
    """Return what a script wants to know without opening intake.json."""
    from nestlib.intake.taking_in import jobs_record, told_record

    return {
        "state": "done" if done.changed else "unchanged",
        "folder": str(done.folder),
        "rows": done.rows,
        "taken": len(done.taken),
        "again": len(done.again),
        "taken_before": len(done.before),
        "jobs": jobs_record(done, [str(file) for file in done.job_files]),
        "unfit": [{"row": number, "reason": why} for number, why in done.unfit],
        **told_record(done),
    }
