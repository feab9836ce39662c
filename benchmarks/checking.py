"""Is a solution one? Looked at by shapely alone, without any code of the search."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

from shapely import affinity, box, intersection
from shapely.geometry.base import BaseGeometry
from shapely.strtree import STRtree

from benchmarks.instances import Instance, Placed

#: Shares of the container's area that count as nothing.
_FORGIVEN = 1e-9


def laid(instance: Instance, placed: Sequence[Placed]) -> list[BaseGeometry]:
    """Return the outline of every piece in its place."""
    return [
        affinity.translate(
            affinity.rotate(instance.items[p.item].polygon, p.rotation, origin=(0, 0)), p.x, p.y
        )
        for p in placed
    ]


def length(instance: Instance, placed: Sequence[Placed]) -> float:
    """Return where the last piece of a strip ends."""
    return float(max(g.bounds[2] for g in laid(instance, placed)))


def is_valid(instance: Instance, placed: Sequence[Placed], containers: Sequence[int]) -> bool:
    """Tell whether all pieces lie at allowed angles, within their containers and apart.

    Parameters
    ----------
    instance : Instance
        What was to be placed.
    placed : sequence of Placed
        Where it is.
    containers : sequence of int
        Which container each filled one is.
    """
    counts = Counter(p.item for p in placed)
    if any(counts[k] != item.quantity for k, item in enumerate(instance.items)):
        return False
    if not all(_is_allowed(instance.items[p.item].rotations, p.rotation) for p in placed):
        return False
    return all(
        _lie_apart(laid(instance, [p for p in placed if p.sheet == k]), instance.rooms[container])
        for k, container in enumerate(containers)
    )


def _is_allowed(angles: tuple[float, ...] | None, angle: float) -> bool:
    return angles is None or any(abs((angle - a + 180) % 360 - 180) < 1e-6 for a in angles)


def _lie_apart(pieces: list[BaseGeometry], room: tuple[float, float]) -> bool:
    size = max(room[1], *(g.bounds[2] for g in pieces))
    inside = box(0, 0, min(room[0], size), room[1])
    forgiven = _FORGIVEN * inside.area
    if any(g.difference(inside).area > forgiven for g in pieces):
        return False
    first, second = STRtree(pieces).query(pieces, predicate="intersects")
    pairs = [(i, j) for i, j in zip(first, second, strict=True) if i < j]
    # On a grid: GEOS 3.14 can return a whole triangle for two that only touch.
    grid = 1e-12 * size
    return all(
        intersection(pieces[i], pieces[j], grid_size=grid).area <= forgiven for i, j in pairs
    )
