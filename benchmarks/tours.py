"""Closed tours of published instances, against their optima."""

from __future__ import annotations

import math
import sys
import time
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import click

from benchmarks import options
from benchmarks.instances import Instance, instance_files, read_instance
from benchmarks.measured import Measurement, Row, file_of
from benchmarks.pinned import Job, run_all
from nestlib.cutting.closed_tour import closed_tour

KEYS = ("instance", "seconds", "seed")

#: From so many points on a tour gets thirty seconds, below ten.
_LARGE = 500


@dataclass(frozen=True)
class Found:
    """A tour.

    Parameters
    ----------
    order : tuple of int
        Points.
    length : int
        Sum of the rounded distances.
    seconds : float
        Wall-clock time.
    feasible : bool
        Whether every point, or one point of every cluster, is visited once.
    """

    order: tuple[int, ...]
    length: int
    seconds: float
    feasible: bool


def solve_tour(instance: Instance, seconds: float, seed: int) -> Found:
    """Find a tour of an instance of kind tour."""
    points, clusters = instance.data["points"], instance.data.get("clusters")
    began = time.monotonic()
    order = closed_tour(points, clusters, seconds=seconds, seed=seed, whole=True)
    took = time.monotonic() - began
    groups = clusters or [[i] for i in range(len(points))]
    return Found(tuple(order), rounded_length(points, order), took, _visits(order, groups))


def rounded_length(points: Sequence[Sequence[float]], order: Sequence[int]) -> int:
    """Return the length of a closed tour by the rounded distances of TSPLIB.

    Examples
    --------
    >>> rounded_length([(0, 0), (1, 1)], [0, 1])
    2
    """
    pairs = zip(order, [*order[1:], *order[:1]], strict=True)
    return sum(int(math.dist(points[a], points[b]) + 0.5) for a, b in pairs)


def _visits(order: Sequence[int], groups: Sequence[Sequence[int]]) -> bool:
    stops = set(order)
    once = all(len(stops.intersection(group)) == 1 for group in groups)
    return once and len(order) == len(stops) == len(groups)


def carry_out(path: Path, seconds: float, seed: int) -> Row:
    """Measure one run."""
    instance = read_instance(path)
    found = solve_tour(instance, seconds, seed)
    return {
        "instance": instance.name,
        "seconds": seconds,
        "seed": seed,
        "points": len(instance.data["points"]),
        "stops": len(found.order),
        "length": found.length,
        "optimum": instance.data["optimum"],
        "valid": found.feasible,
        "took": round(found.seconds, 2),
    }


def _seconds(path: Path, given: float | None) -> float:
    if given is not None:
        return given
    return 30.0 if len(read_instance(path).data["points"]) >= _LARGE else 10.0


@click.command("tours")
@options.instances
@click.option("--seconds", type=float, help="When to stop. Default: 10, from 500 points 30.")
@click.option("--seeds", type=options.Numbers(), default="1,2,3,4,5", show_default=True)
@options.out
def command(
    folder: Path,
    only: tuple[str, ...],
    seconds: float | None,
    seeds: tuple[int, ...],
    out: Path | None,
) -> None:
    """Measure tours on one core.

    Example: python -m benchmarks tours --instances instances/tsp
    """
    measurement = Measurement(out or file_of("tours"), "tours", KEYS)
    paths = instance_files(folder, ["tour"], only)
    runs = [(path, _seconds(path, seconds), seed) for path in paths for seed in seeds]
    missing = [r for r in runs if not measurement.has(instance=r[0].stem, seconds=r[1], seed=r[2])]

    def done(_: Job, row: dict[str, Any]) -> None:
        measurement.add(row)
        click.echo(f"{row['instance']} (seed {row['seed']}): {row['length']} of {row['optimum']}")

    # Kernels are compiled before any clock runs.
    warm = [Job(carry_out, (path, 0.0, 0)) for path, *_ in missing]
    run_all(warm, 1, lambda *_: None)
    sys.exit(run_all([Job(carry_out, run) for run in missing], 1, done) > 0)
