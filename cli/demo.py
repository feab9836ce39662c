"""Write the demo job."""

from __future__ import annotations

from importlib.resources import files
from importlib.resources.abc import Traversable
from pathlib import Path

import click

from nestlib.errors import OutputError

from .options import as_json, print_json, quiet


@click.command()
@click.argument("folder", type=click.Path(path_type=Path), default="stands")
@as_json
@quiet
def demo(folder: Path, as_json: bool, quiet: bool) -> None:
    """Write the demo job into FOLDER ("stands" by default): three jobs of a workshop
    that builds bicycle-repair stands for towns, with their drawings.

    \b
    Example:
      nestlib demo stands && nestlib nest stands/*.toml --out plans
    """
    if folder.exists():
        raise OutputError(f"{folder} already exists. Name a folder that does not.")
    try:
        written = _copy(files("nestlib_demo"), folder)
    except OSError as error:
        raise OutputError(
            f"{folder} cannot be written: {error.strerror}. Choose another."
        ) from error
    jobs = sorted(str(p) for p in written if p.suffix == ".toml" and p.parent == folder)
    if as_json:
        print_json({"folder": str(folder), "jobs": jobs, "files": len(written)})
    elif not quiet:
        click.echo(
            f"Wrote {len(written)} files. Now run:\n  nestlib nest {' '.join(jobs)} --out plans"
        )


def _copy(source: Traversable, target: Path) -> list[Path]:
    """Copy a folder of package data, without Python's own files."""
    target.mkdir(parents=True)
    written: list[Path] = []
    for entry in sorted(source.iterdir(), key=lambda e: e.name):
        if entry.name.startswith("__") or entry.name.endswith(".py"):
            continue
        if entry.is_dir():
            written += _copy(entry, target / entry.name)
        else:
            path = target / entry.name
            path.write_bytes(entry.read_bytes())
            written.append(path)
    return written
