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
    and contour. Exit code 1 if a rule is broken, or if nothing at all was placed.

    \b
    Example:
      nestlib verify plans/frame
    """
    import nestlib as nl
    from nestlib.reporting import print_verification

    result = nl.verify(folder)
    if as_json:
        print_json({"passed": result.passed, **asdict(result)})
    elif not quiet or not result.passed:
        print_verification(result)
    raise SystemExit(0 if result.passed else 1)
