"""Write machine programs for a plan."""

from __future__ import annotations

from functools import partial
from pathlib import Path

import click

from .names import templates
from .options import as_json, print_json, quiet


@click.command()
@click.argument("folder", type=click.Path(path_type=Path), required=False)
@click.option(
    "--template",
    default="plain",
    show_default=True,
    help="How your control wants it spelt: a TOML file of your own.",
    shell_complete=templates,
)
@click.option("--print-template", is_flag=True, help="Print the plain template, to be edited.")
@as_json
@quiet
def program(
    folder: Path | None, template: str, print_template: bool, as_json: bool, quiet: bool
) -> None:
    """Write a machine program (sheet-001.nc and so on) for each layout of the plan in FOLDER,
    and verify it. Without a template that its owner has checked, a program is a drawing of
    the cutting order for a post, and no ready program.

    \b
    Examples:
      nestlib program --print-template > our-laser.toml
      nestlib program plans/frame --template our-laser.toml
    """
    from nestlib.handover import write_programs
    from nestlib.reporting import print_verification
    from nestlib.writing import plain_template_text, program_files

    if print_template:
        click.echo(plain_template_text(), nl=False)
        return
    if folder is None:
        raise click.UsageError("name the folder of a plan, or use --print-template")
    plan = write_programs(folder, template, on_note=partial(click.echo, err=True))
    check = plan.verification
    passed = check is not None and check.passed
    if as_json:
        files = [str(folder / name) for name in program_files(plan)]
        print_json({"programs": files, "verified": passed})
    elif check is not None and (not quiet or not passed):
        print_verification(check)
    raise SystemExit(0 if passed else 1)
