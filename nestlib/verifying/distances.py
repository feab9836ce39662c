"""Do the drawn contours keep their distance from each other and from the sheet's edge?

Polygons decide where they can: one whose arcs are lines with their ends on the arc is
wrong by a known amount. Where that could change the verdict, the distance is worked
out exactly from the lines and arcs themselves. So nothing that is too close by more
than the verifier's tolerance is missed, and nothing else is reported.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from nestlib.model import Sheet, Spacing, Violation
from nestlib.tolerances import VERIFY
from nestlib.verifying.curves import Curve
from nestlib.verifying.shapes import Piece, exact_distance, joined, line_of, polygon_of

#: Grid in mm on which two polygons are intersected.
_GRID = 1e-6

#: How many pairs are worked out exactly to find the smallest distance on a layout.
_MOST_EXACT = 200


@dataclass(frozen=True)
class Found:
    """What one check of a layout's distances found."""

    violations: tuple[Violation, ...]
    smallest: float | None


def between_pieces(
    pieces: Sequence[Piece],
    spacing: Spacing,
    file: str,
    name: Callable[[int], str],
    together: Mapping[int, int] = MappingProxyType({}),
) -> Found:
    """Check each two pieces of a layout; a piece in another's hole is no exception.

    Pieces that share cuts are left to `nestlib.verifying.bundles`.

    Parameters
    ----------
    pieces : sequence of Piece
        As drawn.
    spacing : Spacing
        Distances demanded.
    file : str
        The layout, for the messages.
    name : callable
        Gives a piece's name for people.
    together : mapping of int to int
        Index of a piece that shares cuts -> which of the bundles it belongs to.

    Returns
    -------
    Found
    """
    needed = spacing.between_parts
    tree = shapely.STRtree([p.polygon for p in pieces])
    error = max((p.error for p in pieces), default=0.0)
    close = _pairs(tree, pieces, needed + 2 * error + VERIFY)
    violations, smallest = [], np.inf
    for i, j in close:
        one, other = pieces[i], pieces[j]
        if i in together and together[i] == together.get(j):
            continue
        distance = piece_distance(one, other)
        smallest = min(smallest, distance)
        if distance == 0 and (shared := _shared(one, other)):
            text = f"{name(i)} and {name(j)} overlap by {shared:.4g} mm²"
            place = _middle(one.polygon.intersection(other.polygon))
            violations.append(Violation("parts-overlap", file, text, place))
        elif distance < needed - VERIFY:
            text = (
                f"{name(i)} and {name(j)} are {distance:.6f} mm apart; {needed:.6f} mm are demanded"
            )
            place = _middle(shapely.shortest_line(one.polygon, other.polygon))
            violations.append(Violation("parts-too-close", file, text, place))
    if np.isinf(smallest):
        smallest = _smallest(_bodies(pieces, together))
    return Found(tuple(violations), float(smallest) if np.isfinite(smallest) else None)


def to_sheet(
    pieces: Sequence[Piece], sheet: Sheet, spacing: Spacing, file: str, name: Callable[[int], str]
) -> Found:
    """Check each piece of a layout against the sheet's edge, holes and keep-out zones.

    Parameters are those of `between_pieces`, and the sheet.
    """
    outline = Curve.of(sheet.outline)
    blocked = [Curve.of(c) for c in (*sheet.holes, *sheet.keep_outs)]
    metal = polygon_of(outline)
    for curve in blocked:
        metal = metal.difference(polygon_of(curve))
    shapely.prepare(metal)
    edges = [outline, *blocked]
    edge = shapely.union_all([line_of(c) for c in edges])
    error = max(c.flat[1] for c in edges)
    violations, smallest = [], np.inf
    for i, piece in enumerate(pieces):
        if reaches_beyond(piece, metal, error):
            text = f"{name(i)} does not lie within the sheet '{sheet.name}' and its free metal"
            place = _middle(piece.polygon)
            violations.append(Violation("outside-sheet", file, text, place))
            smallest = 0.0
            continue
        distance = float(shapely.distance(piece.polygon, edge))
        slack = piece.error + error
        if slack and distance - slack < max(smallest, spacing.to_edge):
            distance = exact_distance(piece.edge, joined(edges), distance + slack)
        smallest = min(smallest, distance)
        if distance < spacing.to_edge - VERIFY:
            text = (
                f"{name(i)} is {distance:.6f} mm from the edge of the sheet, a hole in it or a "
                f"keep-out zone; {spacing.to_edge:.6f} mm are demanded"
            )
            place = _middle(shapely.shortest_line(piece.polygon, edge))
            violations.append(Violation("too-close-to-edge", file, text, place))
    return Found(tuple(violations), float(smallest) if pieces else None)


def piece_distance(one: Piece, other: Piece) -> float:
    """Return the true distance of two pieces in mm.

    It is 0 if their polygons share more than their errors may explain.
    """
    flat = float(shapely.distance(one.polygon, other.polygon))
    slack = one.error + other.error
    if slack == 0:
        return flat
    if flat == 0 and _shared(one, other):
        return 0.0
    return exact_distance(one.edge, other.edge, flat + slack)


def reaches_beyond(piece: Piece, metal: BaseGeometry, error: float) -> bool:
    """Return whether a piece reaches beyond the metal further than the polygons may err.

    Parameters
    ----------
    piece : Piece
        As drawn.
    metal : shapely geometry
        Where it has to lie.
    error : float
        How far the edge of `metal` may lie from the curves that it stands for, in mm.
    """
    if metal.covers(piece.polygon):
        return False
    beyond = piece.polygon.difference(metal)
    return bool(beyond.area > (VERIFY + piece.error + error) * piece.outer.length)


def _pairs(tree: shapely.STRtree, pieces: Sequence[Piece], reach: float) -> list[tuple[int, int]]:
    """All pairs of pieces within reach of each other, once each."""
    if len(pieces) < 2:
        return []
    found = tree.query([p.polygon for p in pieces], predicate="dwithin", distance=reach)
    return [(int(i), int(j)) for i, j in found.T if i < j]


def _shared(one: Piece, other: Piece) -> float:
    """The area in mm² that two pieces share; 0 if the polygons' errors may explain it."""
    # On a grid: GEOS may take two polygons whose edges agree to 1e-13 for one in the other.
    area = float(shapely.intersection(one.polygon, other.polygon, grid_size=_GRID).area)
    shorter = min(one.outer.length, other.outer.length)
    return area if area > (VERIFY + one.error + other.error) * shorter else 0.0


def _bodies(pieces: Sequence[Piece], together: Mapping[int, int]) -> list[Piece]:
    """Pieces that share cuts as one, and all others."""
    groups: dict[int, list[Piece]] = {}
    for i, bundle in together.items():
        groups.setdefault(bundle, []).append(pieces[i])
    whole = [
        Piece(
            joined([p.edge for p in group]),
            (),
            shapely.union_all([p.polygon for p in group]),
            max(p.error for p in group),
        )
        for group in groups.values()
    ]
    return [*(p for i, p in enumerate(pieces) if i not in together), *whole]


def _smallest(pieces: Sequence[Piece]) -> float:
    """The smallest distance on a layout whose pieces all keep theirs."""
    if len(pieces) < 2:
        return np.inf
    shapes = [p.polygon for p in pieces]
    (ones, others), flat = shapely.STRtree(shapes).query_nearest(
        shapes, exclusive=True, return_distance=True, all_matches=False
    )
    best = np.inf
    for k in np.argsort(flat)[:_MOST_EXACT]:
        one, other = pieces[ones[k]], pieces[others[k]]
        if flat[k] - one.error - other.error > best:
            break
        best = min(best, piece_distance(one, other))
    return best


def _middle(shape: BaseGeometry) -> tuple[float, float] | None:
    if shape.is_empty:
        return None
    centre = shape.representative_point() if shape.area else shape.centroid
    return float(centre.x), float(centre.y)
