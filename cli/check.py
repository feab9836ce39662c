"""Check drawings before anything is cut from them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from nestlib.errors import InputError, Problem

from .names import metal_names
from .options import FiniteRange, as_json, known_unit, print_json, quiet

if TYPE_CHECKING:
    from nestlib import Drawing, Finding

Checked = tuple["Drawing", tuple["Finding", ...]]


@click.command()
@click.argument("files", nargs=-1, required=True, type=click.Path(path_type=Path))
@click.option("--thickness", help='Of the metal: "1.5", "0.060 in" or, with --metal, "16 ga".')
@click.option(
    "--metal",
    default="mild-steel",
    show_default=True,
    help="Material, for gauges.",
    shell_complete=metal_names,
)
@click.option("--kerf", type=FiniteRange(0), help="Width of the slot in mm.")
@click.option("--sheet", "sizes", multiple=True, help="3000x1500 (mm) or 48x96in; may repeat.")
@click.option("--units", callback=known_unit, help="Unit of drawings that give none.")
@click.option("--join", type=FiniteRange(0), help="Gap in mm that is closed. [default: 0.05]")
@click.option(
    "--picture",
    is_flag=True,
    help="Draw each with its findings: FILE.check.svg",
)
@click.option(
    "--list",
    "part_list",
    type=click.Path(path_type=Path),
    help="Also write a part list of what can be cut, such as parts.csv, to fill in quantities.",
)
@as_json
@quiet
def check(
    files: tuple[Path, ...],
    thickness: str | None,
    metal: str,
    kerf: float | None,
    sizes: tuple[str, ...],
    units: str | None,
    join: float | None,
    picture: bool,
    part_list: Path | None,
    as_json: bool,
    quiet: bool,
) -> None:
    """Check drawings FILES (DXF or SVG): what parts they hold and what is wrong with them.

    One bad file never stops the others.

    \b
    Examples:
      nestlib check drawings/*.dxf --thickness 1.5 --kerf 0.2 --picture
      nestlib check drawings/*.dxf --list parts.csv

    \b
    Exit codes:
      0  no drawing has an error
      1  a drawing has an error
      2  a drawing cannot be read at all
    """
    import nestlib as nl
    from nestlib.drawings import check_record
    from nestlib.metals import parse_size
    from nestlib.reporting import print_check
    from nestlib.tolerances import JOIN

    if part_list is not None:
        _demand_new(part_list)
    nl.material(metal)  # a wrong name is told even where no thickness needs it
    depth = nl.metal(metal, thickness).thickness if thickness else None
    sheets = [nl.Sheet(size, nl.Contour.rectangle(*parse_size(size))) for size in sizes]
    checked: list[Checked] = []
    unreadable: list[Problem] = []
    records: list[dict[str, Any]] = []
    gap = JOIN if join is None else join
    for path in files:
        try:
            drawing = nl.read_drawing(path, fallback_units=units, join=gap)
        except InputError as error:
            unreadable += error.problems
            records.append({"file": str(path), "problems": [asdict(p) for p in error.problems]})
            continue
        findings = nl.check_drawing(drawing, thickness=depth, kerf=kerf, sheets=sheets)
        checked.append((drawing, findings))
        records.append(check_record(drawing, findings))
        if quiet:
            _print_errors(drawing, findings)
        elif not as_json:
            print_check(drawing, findings)
        if picture:
            records[-1]["picture"] = _draw(drawing, findings, quiet)
    if part_list is not None:
        _list(part_list, checked, join, quiet)
    if as_json:
        print_json(records)
    if unreadable:
        raise InputError(unreadable)
    raise SystemExit(_exit_code(checked))


def _print_errors(drawing: Drawing, findings: Sequence[Finding]) -> None:
    """Tell only what keeps a drawing from being cut."""
    for found in findings:
        if found.level == "error":
            click.echo(f"{drawing.file}: {found.message}. {found.remedy}.", err=True)


def _draw(drawing: Drawing, findings: Sequence[Finding], quiet: bool) -> str:
    """Write FILE.check.svg beside the drawing, and return its path."""
    from nestlib.drawings import picture
    from nestlib.writing import write_text

    target = Path(f"{drawing.file}.check.svg")
    write_text(target, picture(drawing, findings))
    if not quiet:
        click.echo(f"Drew {target}", err=True)
    return str(target)


def _demand_new(path: Path) -> None:
    """Refuse to write over a list, whose quantities would be lost."""
    if path.suffix.lower() != ".csv":
        raise click.UsageError(f"--list writes CSV: call it {path.with_suffix('.csv')}")
    if path.exists():
        raise InputError(
            Problem(str(path), "", "there is a list already", "Remove it, or choose another name")
        )


def _list(path: Path, checked: Sequence[Checked], join: float | None, quiet: bool) -> None:
    """Write a part list of the drawings without errors, if there are any."""
    from nestlib.jobs.listing import draft_part_list
    from nestlib.writing import write_text

    good = [d for d, findings in checked if d.parts and all(f.level != "error" for f in findings)]
    if not good:
        click.echo(f"No drawing can be cut: {path} was not written", err=True)
        return
    write_text(path, draft_part_list(good, path.parent))
    if not quiet:
        count = sum(len(drawing.parts) for drawing in good)
        told = "1 part," if count == 1 else f"{count} parts, each"
        click.echo(f"Wrote {path}: {told} as often as it is drawn; fill in quantities", err=True)
    if join is not None:
        click.echo(f"The list does not say it: nest it with --join {join:g}, too", err=True)


def _exit_code(checked: Sequence[Checked]) -> int:
    return int(any(f.level == "error" for _, findings in checked for f in findings))
