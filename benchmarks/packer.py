"""Bins and sheets of several sizes, solved by `nestlib.packing`."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import Executor, ProcessPoolExecutor
from contextlib import AbstractContextManager, nullcontext

from shapely import MultiPolygon, box

from benchmarks.instances import Instance, Placed, rounded
from nestlib.model import Progress
from nestlib.packing import After, Container, Shape, lower_bound, pack

#: Placements, which container each filled one is, and the least cost that was proved; None if
#: the search ended before its first proof, or some pieces found no place.
Filled = tuple[tuple[Placed, ...], tuple[int, ...], float | None]


def fill(
    instance: Instance,
    seconds: float,
    seed: int,
    workers: int,
    on_progress: Callable[[Progress], None] | None,
) -> Filled:
    """Place all pieces into as few bins, or as cheap sheets, as the packer can.

    Parameters
    ----------
    instance : Instance
        Of kind bins or sheets.
    seconds : float
        When to stop improving.
    seed : int
        Of all chance.
    workers : int
        Processes; 1 works in this one.
    on_progress : callable, optional
        Told how far it is.
    """
    with _executor(workers) as executor:
        packing = pack(
            _shapes(instance),
            _containers(instance),
            stop=After(seconds),
            seed=seed,
            executor=executor,
            on_progress=on_progress,
        )
    filled = [sheet for sheet in packing.sheets for _ in range(sheet.runs)]
    placed = tuple(
        rounded(instance, p.shape, p.rotation, p.x, p.y, k)
        for k, sheet in enumerate(filled)
        for p in sheet.placements
    )
    proved = None if packing.bound is None else packing.bound.cost
    return placed, tuple(sheet.container for sheet in filled), proved


def least_cost(instance: Instance) -> float:
    """Return what no choice of sheets can cost less than."""
    return lower_bound(_shapes(instance), _containers(instance)).cost


def _executor(workers: int) -> AbstractContextManager[Executor | None]:
    return ProcessPoolExecutor(workers) if workers > 1 else nullcontext()


def _shapes(instance: Instance) -> tuple[Shape, ...]:
    return tuple(
        Shape(i.name, i.polygon, i.polygon.area, i.quantity, i.rotations) for i in instance.items
    )


def _containers(instance: Instance) -> tuple[Container, ...]:
    if instance.kind == "bins":
        costs: list[float | None] = [None]
    else:
        costs = [s["cost"] for s in instance.data["sheets"]]
    return tuple(
        Container(f"{k}", MultiPolygon([box(0, 0, w, h)]), w * h, None, cost=cost)
        for k, ((w, h), cost) in enumerate(zip(instance.rooms, costs, strict=True))
    )
