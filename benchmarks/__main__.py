"""``python -m benchmarks``: solve instances and write the table of results."""

from __future__ import annotations

import json
import sys
from pathlib import Path

import click

from benchmarks.instances import KINDS, read_instance, solution
from benchmarks.solve import solve
from benchmarks.table import table
from nestlib.errors import InputError


@click.group()
def main() -> None:
    """Measure how well nestlib packs open benchmark instances."""


@main.command("solve")
@click.argument("instance", type=click.Path(path_type=Path))
@click.option("--seconds", default=10.0, show_default=True, help="When to stop improving.")
@click.option("--seed", default=1, show_default=True, help="Of all chance.")
@click.option("--workers", default=1, show_default=True, help="Processes, for strips threads.")
@click.option("--out", type=click.Path(path_type=Path), required=True, help="Solution to write.")
def solve_command(instance: Path, seconds: float, seed: int, workers: int, out: Path) -> None:
    """Solve one INSTANCE and write its solution.

    Example: python -m benchmarks solve fu.json --seconds 10 --out fu.solution.json
    """
    try:
        problem = read_instance(instance)
        result = solve(problem, seconds, seed, workers, on_progress=_show)
    except InputError as error:
        click.echo(str(error), err=True)
        sys.exit(error.exit_code)
    out.write_text(json.dumps(solution(problem, result.packing)), encoding="utf-8")
    click.echo(
        f"{problem.name}: {result.value:g} in {result.seconds:.1f} s, "
        f"{'valid' if result.feasible else 'NOT valid'}"
    )
    sys.exit(0 if result.feasible else 1)


@main.command("table")
@click.option(
    "--instances", type=click.Path(path_type=Path, exists=True, file_okay=False), required=True
)
@click.option("--seconds", default=10.0, show_default=True, help="For each instance.")
@click.option("--seed", default=1, show_default=True, help="Of all chance.")
@click.option("--workers", default=1, show_default=True, help="Processes, for strips threads.")
@click.option("--only", default="*", show_default=True, help="Names to solve, a glob pattern.")
@click.option(
    "--out", type=click.Path(path_type=Path), default=Path(__file__).with_name("RESULTS.md")
)
@click.option("--solutions", type=click.Path(path_type=Path), help="Folder for all solutions.")
def table_command(
    instances: Path,
    seconds: float,
    seed: int,
    workers: int,
    only: str,
    out: Path,
    solutions: Path | None,
) -> None:
    """Solve every instance of a folder and write the table of results.

    Example: python -m benchmarks table --instances instances/ --seconds 10
    """
    rows = []
    for path in sorted(instances.glob(f"{only}.json")):
        if json.loads(path.read_text(encoding="utf-8")).get("kind") not in KINDS:
            continue
        instance = read_instance(path)
        result = solve(instance, seconds, seed, workers)
        rows.append((instance, result))
        click.echo(f"{instance.name}: {result.value:g} (compare {result.target})")
        if solutions is not None:
            solutions.mkdir(parents=True, exist_ok=True)
            text = json.dumps(solution(instance, result.packing))
            (solutions / path.name).write_text(text, encoding="utf-8")
        out.write_text(table(rows, seconds, seed, workers), encoding="utf-8")


def _show(progress: object) -> None:
    click.echo(str(progress), err=True)


if __name__ == "__main__":
    main()
