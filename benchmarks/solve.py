"""Solving one instance, and the figures of a solution."""

from __future__ import annotations

import json
import sys
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import click

from benchmarks.checking import is_valid, length
from benchmarks.instances import Instance, Placed, read_instance, rounded, solution
from nestlib.engine import pack_strip
from nestlib.errors import InputError
from nestlib.model import Progress


@dataclass(frozen=True)
class Result:
    """What came out of one run.

    Parameters
    ----------
    placed : tuple of Placed
        Every piece.
    containers : tuple of int
        Which container each filled one is.
    seconds : float
        Wall-clock time.
    value : float
        Density in per cent for strips, number of bins, or cost of the sheets.
    target : float or None
        Best published density, least number of bins known, or least cost proved.
    feasible : bool
        Whether shapely finds every piece in its place and no two that overlap.
    """

    placed: tuple[Placed, ...]
    containers: tuple[int, ...]
    seconds: float
    value: float
    target: float | None
    feasible: bool


def solve(
    instance: Instance,
    seconds: float,
    seed: int,
    workers: int,
    on_progress: Callable[[Progress], None] | None = None,
    tries: int | None = None,
) -> Result:
    """Pack an instance: a strip by the engine for strips, all else by the packer.

    Parameters
    ----------
    instance : Instance
        What to pack.
    seconds : float
        When to stop improving.
    seed : int
        Of all chance.
    workers : int
        Processes of the packer, where 1 works in this one; threads of the engine.
    on_progress : callable, optional
        Told how far it is.
    tries : int, optional
        Of the engine on a strip: their number then says what is done when, not the clock.

    Returns
    -------
    Result
    """
    began = time.monotonic()
    if instance.kind == "strip":
        placed, containers = _by_engine(instance, seconds, seed, workers, on_progress, tries)
        proved = None
    else:
        placed, containers, proved = _by_packer(instance, seconds, seed, workers, on_progress)
    took = time.monotonic() - began
    value, target = _value(instance, placed, containers, proved)
    return Result(placed, containers, took, value, target, is_valid(instance, placed, containers))


def _by_engine(
    instance: Instance,
    seconds: float,
    seed: int,
    workers: int,
    on_progress: Callable[[Progress], None] | None,
    tries: int | None,
) -> tuple[tuple[Placed, ...], tuple[int, ...]]:
    strip = pack_strip(
        instance.items,
        instance.data["width"],
        seconds=seconds,
        tries=tries,
        seed=seed,
        workers=workers,
        on_progress=on_progress,
    )
    placed = tuple(rounded(instance, p.item, p.rotation, p.x, p.y) for p in strip.placements)
    return placed, (0,)


def _by_packer(
    instance: Instance,
    seconds: float,
    seed: int,
    workers: int,
    on_progress: Callable[[Progress], None] | None,
) -> tuple[tuple[Placed, ...], tuple[int, ...], float | None]:
    from benchmarks.packer import fill  # needs OR-Tools, strips do not

    return fill(instance, seconds, seed, workers, on_progress)


def _value(
    instance: Instance,
    placed: tuple[Placed, ...],
    containers: tuple[int, ...],
    proved: float | None,
) -> tuple[float, float | None]:
    """Return what came out, and what it is compared with."""
    if instance.kind == "strip":
        best = instance.published
        density = 100 * instance.area / (instance.data["width"] * length(instance, placed))
        return density, None if best is None else best[0]
    if instance.kind == "bins":
        return len(containers), instance.data["optimum"]
    from benchmarks.packer import least_cost

    cost = sum(instance.data["sheets"][k]["cost"] for k in containers)
    return cost, least_cost(instance) if proved is None else proved


@click.command("solve")
@click.argument("instance", type=click.Path(path_type=Path))
@click.option("--seconds", default=10.0, show_default=True, help="When to stop improving.")
@click.option("--seed", default=1, show_default=True, help="Of all chance.")
@click.option("--workers", default=1, show_default=True, help="Processes, for strips threads.")
@click.option("--out", type=click.Path(path_type=Path), required=True, help="Solution to write.")
def command(instance: Path, seconds: float, seed: int, workers: int, out: Path) -> None:
    """Solve one INSTANCE and write its solution.

    Example: python -m benchmarks solve fu.json --seconds 10 --out fu.solution.json
    """
    try:
        problem = read_instance(instance)
        if problem.kind == "tour":
            sys.exit(_tour(problem, seconds, seed, out))
        result = solve(problem, seconds, seed, workers, on_progress=_show)
    except InputError as error:
        click.echo(str(error), err=True)
        sys.exit(error.exit_code)
    found = solution(problem, result.placed, result.containers)
    out.write_text(json.dumps(found), encoding="utf-8")
    click.echo(
        f"{problem.name}: {result.value:g} in {result.seconds:.1f} s, "
        f"{'valid' if result.feasible else 'NOT valid'}"
    )
    sys.exit(0 if result.feasible else 1)


def _tour(problem: Instance, seconds: float, seed: int, out: Path) -> int:
    """Solve an instance of kind tour; return the exit code."""
    from benchmarks.tours import solve_tour

    found = solve_tour(problem, seconds, seed)
    out.write_text(json.dumps({"order": list(found.order)}), encoding="utf-8")
    valid = "valid" if found.feasible else "NOT valid"
    click.echo(f"{problem.name}: {found.length} in {found.seconds:.1f} s, {valid}")
    return 0 if found.feasible else 1


def _show(progress: object) -> None:
    click.echo(str(progress), err=True)
