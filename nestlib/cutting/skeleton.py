"""What is left of a sheet around its parts, cut into pieces that can be carried.

A piece of the skeleton is free only if slots surround it. The slots of the parts are
there already, so the cheapest cuts are short ones from slot to slot: a chain of them that
begins and ends at the edge, and in between jumps from the slot of one part to that of the
next, takes the skeleton apart (a closed curve separates the plane: Jordan's theorem).
Which chain is best is a shortest path whose nodes are the slots and whose edges are the cuts
that are allowed, between both sides of a piece (E. W. Dijkstra, "A note on two problems in
connexion with graphs", Numerische Mathematik 1 (1959) 269-271). What is too large is taken
apart until nothing is, or until no chain is worth its cuts.

Terms
-----
region
    Polygon of metal that the slots have left in one: sheet, less the parts with their slots,
    less remnants with theirs, less the slots of the cuts made so far.
bridge
    A straight cut within a region, from edge to edge. Its beam ends on the edge, so at the
    outer side of a part's slot, a whole slot away from the part: the round end of its own
    slot reaches half a slot into the open one, which joins them, and half a slot of
    room stays before the part. The proof is the polygon that is left.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator, Sequence
from typing import NamedTuple

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.sparse import coo_array
from scipy.sparse.csgraph import dijkstra
from shapely import LineString, Polygon
from shapely.geometry.base import BaseGeometry

from nestlib.cutting.bridges import Fences, bridges
from nestlib.model.contour import FloatArray
from nestlib.model.job import Unloading
from nestlib.model.layout import SkeletonPiece

#: A bridge counts like so many mm more for its pierce, and this part of its distance from
#: where the region is best cut: our own simple rule.
_PIERCE, _OFF_TARGET = 10.0, 0.25

#: Bridges lie within this part of a region's length from there; if none do, within more.
_BANDS = (0.15, 0.35)

#: Parts of the length at which regions are cut that cannot be cut well in their middle.
_ELSEWHERE = (0.25, 0.75)

#: A division is even if all that it leaves has by this part less area than the whole, or less
#: length along a side that is too long; if by less than this, it is not worth its cuts (unless
#: nothing stays too large): our own simple rule.
_EVEN, _LEAST = 0.3, 0.1

#: Regions of less than this are dust, in mm².
_DUST = 1e-3

#: Both ends of a straight cut, in mm.
Line = tuple[tuple[float, float], tuple[float, float]]


def skeleton(
    sheet: BaseGeometry, parts: Sequence[Polygon], kept: Sequence[BaseGeometry], kerf: float
) -> list[Polygon]:
    """Return what the slots of parts and remnants leave of a sheet.

    Parameters
    ----------
    sheet : shapely geometry
        Its metal, holes left out.
    parts : sequence of Polygon
        What each outer contour encloses: what lies in it falls out with it.
    kept : sequence of shapely geometry
        Remnants, grown by their slot.
    kerf : float
        Width of a slot in mm.
    """
    gone = shapely.union_all([*shapely.buffer(list(parts), kerf), *kept])
    return _regions(sheet.difference(gone))


def too_large(piece: SkeletonPiece, limits: Unloading, weight: Callable[[float], float]) -> bool:
    """Return whether a piece is heavier or longer than it shall be."""
    heavy = limits.piece_weight is not None and weight(piece.area) > limits.piece_weight
    return heavy or (limits.piece_size is not None and max(piece.size) > limits.piece_size)


def piece_of(polygon: Polygon) -> SkeletonPiece:
    """Return what matters of a region to the one who carries it."""
    x0, y0, x1, y1 = polygon.bounds
    return SkeletonPiece(float(polygon.area), (x1 - x0, y1 - y0))


def take_apart(
    regions: Sequence[Polygon],
    fences: Fences,
    limits: Unloading,
    weight: Callable[[float], float],
    kerf: float,
) -> list[Line]:
    """Return cuts after which no region is too large, or none of these can be cut.

    Parameters
    ----------
    regions : sequence of Polygon
        As `skeleton` returns them.
    fences : Fences
        What bridges have to keep away from.
    limits : Unloading
        What a piece may weigh and measure.
    weight : callable
        Weight in kg of an area in mm².
    kerf : float
        Width of a slot in mm, above 0.

    Returns
    -------
    list of Line
        In cutting order: one that ends in the slot of another comes after it.
    """
    lines: list[Line] = []
    waiting = list(regions)
    while waiting:
        whole = waiting.pop()
        piece = piece_of(whole)
        if not too_large(piece, limits, weight):
            continue
        division = _division(whole, fences, limits, weight, kerf)
        if division is not None:
            lines += division.chain
            waiting += division.regions
    return lines


def without(whole: BaseGeometry, lines: Sequence[Line], kerf: float) -> list[Polygon]:
    """Return the regions that are left of metal when straight lines are cut in it."""
    slots = [LineString(line).buffer(kerf / 2) for line in lines]
    return _regions(whole.difference(shapely.union_all(slots)))


def _regions(geometry: BaseGeometry) -> list[Polygon]:
    found = getattr(geometry, "geoms", [geometry])
    return [g for g in found if isinstance(g, Polygon) and g.area > _DUST]


def _places(
    piece: SkeletonPiece, limits: Unloading, weight: Callable[[float], float]
) -> list[tuple[int, float]]:
    """Across which axis a piece is best cut, and at which part of its length; then the other.

    What is n times too large is cut so that whole parts of n come to lie on each side.
    """
    times = [1.0, 1.0]
    for axis in (0, 1):
        if limits.piece_size is not None:
            times[axis] = piece.size[axis] / limits.piece_size
    longer = int(piece.size[1] > piece.size[0])
    if limits.piece_weight is not None and max(times) <= 1:
        times[longer] = weight(piece.area) / limits.piece_weight
    first = max((longer, 1 - longer), key=lambda axis: times[axis])
    n = math.ceil(max(times[first], 1.0) - 1e-9) or 1
    n = max(n, 2)
    best = (n // 2) / n
    places = [(first, best), (first, 0.5), (1 - first, 0.5)]
    return places + [(axis, share) for share in _ELSEWHERE for axis in (first, 1 - first)]


class _Division(NamedTuple):
    """A chain of bridges, and what it leaves of a region."""

    chain: list[Line]
    regions: list[Polygon]


def _division(
    whole: Polygon,
    fences: Fences,
    limits: Unloading,
    weight: Callable[[float], float],
    kerf: float,
) -> _Division | None:
    """The first division that is even; or else, of those worth their cuts, the best."""
    best: tuple[float, _Division] | None = None
    for chain in _chains(whole, fences, _places(piece_of(whole), limits, weight)):
        found = without(whole, chain, kerf)
        if len(found) < 2:
            continue
        fine = not any(too_large(piece_of(p), limits, weight) for p in found)
        share = _taken(piece_of(whole), [piece_of(p) for p in found], limits)
        if fine or share >= _EVEN:
            return _Division(chain, found)
        if share >= _LEAST and (best is None or share > best[0]):
            best = share, _Division(chain, found)
    return best and best[1]


def _taken(whole: SkeletonPiece, found: Sequence[SkeletonPiece], limits: Unloading) -> float:
    """By which part of it a division makes a piece smaller: its area, or a side too long."""
    shares = [1 - max(p.area for p in found) / whole.area]
    for axis in (0, 1):
        if limits.piece_size is not None and whole.size[axis] > limits.piece_size:
            shares.append(1 - max(p.size[axis] for p in found) / whole.size[axis])
    return max(shares)


def _chains(
    whole: Polygon, fences: Fences, places: Iterable[tuple[int, float]]
) -> Iterator[list[Line]]:
    """Chains of bridges, those near the first place first."""
    for axis, share in places:
        # Seen so that the cut runs upright.
        seen = _turned(whole) if axis else whole
        around = fences.turned() if axis else fences
        for band in _BANDS:
            found = _upright(seen, around, share, band)
            if found:
                yield [_back(line) for line in found] if axis else found


def _turned(polygon: Polygon) -> Polygon:
    return shapely.transform(polygon, lambda xy: xy[:, ::-1])


def _back(line: Line) -> Line:
    (x0, y0), (x1, y1) = line
    return (y0, x0), (y1, x1)


def _upright(whole: Polygon, fences: Fences, share: float, band: float) -> list[Line]:
    """The best chain from the lower side of a region to the upper one, near some place."""
    x0, _, x1, _ = whole.bounds
    at, wide = x0 + share * (x1 - x0), band * (x1 - x0)
    rims = _rims(whole, at, wide)
    if rims is None:
        return []
    found = bridges(whole, rims, at, wide, fences)
    if not len(found.lines):
        return []
    costs = shapely.length(shapely.linestrings(found.lines)) + _PIERCE
    costs = costs + _OFF_TARGET * np.abs(found.lines[:, :, 0].mean(axis=1) - at)
    return _shortest(found.lines, found.rims, costs, len(rims))


def _rims(whole: Polygon, at: float, wide: float) -> list[BaseGeometry] | None:
    """Edges between which cuts run: the lower side, the upper side, each opening."""
    _, y0, _, y1 = whole.bounds
    across = whole.intersection(LineString([(at, y0 - 1), (at, y1 + 1)]))
    if across.is_empty:
        return None
    middle = (across.bounds[1] + across.bounds[3]) / 2
    edge = LineString(whole.exterior.coords)
    sides = [
        edge.intersection(shapely.box(at - wide, low, at + wide, high))
        for low, high in ((y0 - 1, middle), (middle, y1 + 1))
    ]
    if any(side.is_empty for side in sides):
        return None
    rings = [LineString(ring.coords) for ring in whole.interiors]
    near = shapely.box(at - wide, y0, at + wide, y1)
    return [*sides, *(ring for ring in rings if ring.intersects(near))]


def _shortest(
    lines: FloatArray, rims: NDArray[np.intp], costs: FloatArray, nodes: int
) -> list[Line]:
    """The cheapest chain from node 0 to node 1."""
    order = np.argsort(costs, kind="stable")
    best: dict[tuple[int, int], int] = {}
    for i in order.tolist():
        a, b = sorted(rims[i].tolist())
        best.setdefault((a, b), i)
    pairs = np.array(list(best))
    weights = costs[list(best.values())]
    graph = coo_array((weights, (pairs[:, 0], pairs[:, 1])), shape=(nodes, nodes)).tocsr()
    distance, before = dijkstra(graph, directed=False, indices=0, return_predecessors=True)
    if not np.isfinite(distance[1]):
        return []
    return list(_walked(lines, rims, best, before.tolist()))[::-1]


def _walked(
    lines: FloatArray, rims: NDArray[np.intp], best: dict[tuple[int, int], int], before: list[int]
) -> Iterator[Line]:
    """The bridges of a way, backward from node 1, each run forward."""
    here = 1
    while here != 0:
        there = before[here]
        i = best[(min(here, there), max(here, there))]
        a, b = lines[i] if int(rims[i][0]) == there else lines[i][::-1]
        yield (float(a[0]), float(a[1])), (float(b[0]), float(b[1]))
        here = there
