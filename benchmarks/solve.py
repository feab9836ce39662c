"""Solving one instance, and the figures of a solution."""

from __future__ import annotations

import time
from collections.abc import Callable
from concurrent.futures import Executor, ProcessPoolExecutor
from contextlib import AbstractContextManager, nullcontext
from dataclasses import dataclass

from shapely import affinity, intersection
from shapely.geometry.base import BaseGeometry
from shapely.strtree import STRtree

from benchmarks.instances import Instance
from nestlib.engine import Item, pack_strip
from nestlib.model import Progress
from nestlib.packing import After, Packing, Shape, lower_bound, pack
from nestlib.packing.interface import PackedPlacement, PackedSheet


@dataclass(frozen=True)
class Result:
    """What came out of one run.

    Parameters
    ----------
    packing : Packing
        The layouts.
    seconds : float
        Wall-clock time.
    value : float
        Density in per cent for strips, number of bins, or cost of the sheets.
    target : float or None
        Best published density, least number of bins known, or least cost proved by area.
    feasible : bool
        Whether shapely finds every piece in its place and no two that overlap.
    """

    packing: Packing
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
) -> Result:
    """Pack an instance: a strip by the engine for strips, all else by the packer.

    A strip with a part that may turn by any angle is left to the packer too.

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

    Returns
    -------
    Result
    """
    began = time.monotonic()
    method = _by_engine if _is_for_engine(instance) else _by_packer
    packing = method(instance, seconds, seed, workers, on_progress)
    took = time.monotonic() - began
    value, target = _value(instance, packing)
    return Result(
        packing, took, value, target, not packing.unplaced and _is_valid(instance, packing)
    )


def _is_for_engine(instance: Instance) -> bool:
    return instance.kind == "strip" and all(s.rotations is not None for s in instance.shapes)


def _by_engine(
    instance: Instance,
    seconds: float,
    seed: int,
    workers: int,
    on_progress: Callable[[Progress], None] | None,
) -> Packing:
    parts = [Item(str(s.name), s.polygon, s.quantity, s.rotations or ()) for s in instance.shapes]
    strip = pack_strip(
        parts,
        instance.data["width"],
        seconds=seconds,
        seed=seed,
        workers=workers,
        on_progress=on_progress,
    )
    placements = tuple(
        PackedPlacement(p.item, p.rotation, p.flip, p.x, p.y) for p in strip.placements
    )
    return Packing((PackedSheet(0, placements, 1),), (), strip.stopped)


def _by_packer(
    instance: Instance,
    seconds: float,
    seed: int,
    workers: int,
    on_progress: Callable[[Progress], None] | None,
) -> Packing:
    with _executor(workers) as executor:
        return pack(
            instance.shapes,
            instance.containers,
            stop=After(seconds),
            seed=seed,
            executor=executor,
            on_progress=on_progress,
        )


def _executor(workers: int) -> AbstractContextManager[Executor | None]:
    return ProcessPoolExecutor(workers) if workers > 1 else nullcontext()


def _value(instance: Instance, packing: Packing) -> tuple[float, float | None]:
    if instance.kind == "strip":
        ends = [g.bounds[2] for s in packing.sheets for g in _laid(instance.shapes, s.placements)]
        area = sum(s.area * s.quantity for s in instance.shapes)
        published = instance.data.get("published", {})
        density = 100 * area / (instance.data["width"] * max(ends))
        return density, next(iter(published.values()), None)
    if instance.kind == "bins":
        return sum(s.runs for s in packing.sheets), instance.data["optimum"]
    cost = sum((instance.containers[s.container].cost or 0.0) * s.runs for s in packing.sheets)
    return cost, lower_bound(instance.shapes, instance.containers).cost


def _laid(shapes: tuple[Shape, ...], placements: tuple[PackedPlacement, ...]) -> list[BaseGeometry]:
    return [
        affinity.translate(
            affinity.rotate(shapes[p.shape].polygon, p.rotation, origin=(0, 0)), p.x, p.y
        )
        for p in placements
    ]


def _is_valid(instance: Instance, packing: Packing) -> bool:
    """Look for overlaps and for pieces that reach outside, by shapely alone."""
    for sheet in packing.sheets:
        laid = _laid(instance.shapes, sheet.placements)
        room = instance.containers[sheet.container].room
        forgiven = 1e-9 * room.envelope.area
        if any(g.difference(room).area > forgiven for g in laid):
            return False
        first, second = STRtree(laid).query(laid, predicate="intersects")
        pairs = [(i, j) for i, j in zip(first, second, strict=True) if i < j]
        # On a grid: GEOS 3.14 can return a whole triangle for two that only touch.
        grid = 1e-12 * max(room.bounds)
        if any(intersection(laid[i], laid[j], grid_size=grid).area > forgiven for i, j in pairs):
            return False
    return True
