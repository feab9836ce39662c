"""Check a written plan again."""

from __future__ import annotations

from dataclasses import asdict
from pathlib import Path

import click

from .options import as_json, print_json, quiet


@click.command()
@click.argument("folder", type=click.Path(path_type=Path))
@as_json
@quiet
def verify(folder: Path, as_json: bool, quiet: bool) -> None:
    """Check the plan in FOLDER again, from its files alone: every distance, count, turn
    and contour.

    \b
    Example:
      nestlib verify plans/frame

    \b
    Exit codes:
      0  every rule is kept
      1  a rule is broken, or nothing at all was placed
      2  the folder holds no plan that can be read
    """
    import nestlib as nl
    from nestlib.reporting import print_verification

    result = nl.verify(folder)
    if as_json:
        print_json({"passed": result.passed, **asdict(result)})
    elif not quiet or not result.passed:
        print_verification(result)
    raise SystemExit(0 if result.passed else 1)
