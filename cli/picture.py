"""Write a picture of a layout."""

from __future__ import annotations

from pathlib import Path

import click

from .options import as_json, print_json, quiet


@click.command()
@click.argument("folder", type=click.Path(path_type=Path))
@click.option(
    "--layout", type=click.IntRange(1), default=1, show_default=True, help="Its number, from 1."
)
@click.option(
    "--out", type=click.Path(path_type=Path), help="An .svg or .png.  [default: layout-N.svg]"
)
@click.option(
    "--width", type=click.IntRange(16, 20000), default=1600, show_default=True, help="Of a PNG."
)
@as_json
@quiet
def picture(
    folder: Path, layout: int, out: Path | None, width: int, as_json: bool, quiet: bool
) -> None:
    """Write a picture of one layout of the plan in FOLDER, as SVG or PNG.

    \b
    Examples:
      nestlib picture plans/frame --layout 2 --out frame-2.svg
      nestlib picture plans/frame --out frame.png --width 2400
    """
    from nestlib.shop_papers import write_picture

    out = out or Path(f"layout-{layout}.svg")
    write_picture(folder, layout, out, width)
    if as_json:
        print_json({"picture": str(out)})
    elif not quiet:
        click.echo(f"Wrote {out}")
