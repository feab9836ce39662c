"""Polygons that keep their distance by themselves.

A part is grown by half of the distance that two parts must keep, and a sheet is shrunk
by what is left to its edge. Parts whose clearance polygons do not overlap, in a room
that they do not leave, then keep every distance. All rounding goes to the safe side:
arcs are replaced by lines outside of them, and the offset is a little too large rather
than too small.

References
----------
Offsets are computed by Clipper's implementation of B. Vatti, "A generic solution to
polygon clipping", Communications of the ACM 35 (1992) 56-63.
"""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
import pyclipper
from shapely import MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry
from shapely.ops import unary_union

from nestlib.geometry.polygons import open_ring, region
from nestlib.model.contour import FloatArray
from nestlib.model.job import Spacing
from nestlib.model.part import Part
from nestlib.model.sheet import Sheet
from nestlib.tolerances import CHORD, GRID

#: A corner whose mitre would reach further than this many offsets is cut off square.
_MITRE_LIMIT = 4.0


def part_clearance(part: Part, spacing: Spacing, chord: float = CHORD) -> Polygon:
    """Return the polygon of a part, grown by half the distance between two parts.

    Parameters
    ----------
    part : Part
        Its outer contour grows and its holes shrink or vanish.
    spacing : Spacing
        Each part grows by ``kerf + spacing / 2``.
    chord : float
        Greatest distance in mm that is given away at an arc.

    Returns
    -------
    shapely.Polygon
        In the coordinates of the part.
    """
    exact = region(part.outer, part.inners, chord, "outside")
    grown = grow(exact, spacing.between_parts / 2, chord)
    return max(polygons(grown), key=lambda p: p.area)


def sheet_room(sheet: Sheet, spacing: Spacing, chord: float = CHORD) -> MultiPolygon:
    """Return the room that clearance polygons may use on a sheet.

    A contour keeps ``kerf + margin`` from the edge, and its clearance polygon reaches
    ``kerf + spacing / 2`` beyond it, so the edge moves in by ``margin - spacing / 2``.
    Where this is negative, a convex sheet moves its edges out instead; any other sheet
    leaves them where they are, because a hole made smaller would lose its corners.

    Parameters
    ----------
    sheet : Sheet
        Any outline, with holes and keep-out zones.
    spacing : Spacing
        Distances to keep.
    chord : float
        Greatest distance in mm that is given away at an arc.

    Returns
    -------
    shapely.MultiPolygon
        In the coordinates of the sheet; empty if the margin leaves nothing.
    """
    inset = spacing.margin - spacing.spacing / 2
    outline = region(sheet.outline, (), chord, "inside")
    blocked = [region(c, (), chord, "outside") for c in (*sheet.holes, *sheet.keep_outs)]
    if inset >= 0:
        room = shrink(outline, inset)
        blocked = [grow(b, inset, chord) for b in blocked]
    else:
        straight = (
            outline.equals(outline.convex_hull) and not blocked and not any(sheet.outline.bulges)
        )
        room = _offset([open_ring(outline.exterior)], -inset, mitred=True) if straight else outline
    free = room.difference(unary_union(blocked)) if blocked else room
    return MultiPolygon(polygons(free))


def grow(polygon: Polygon, distance: float, chord: float = CHORD) -> BaseGeometry:
    """Return everything within `distance` of a polygon, never less.

    Parameters
    ----------
    polygon : shapely.Polygon
        With or without holes.
    distance : float
        In mm, 0 or more.
    chord : float
        How much further than `distance` a rounded corner may reach, in mm.

    Returns
    -------
    shapely.Polygon or shapely.MultiPolygon
    """
    if distance == 0:
        return polygon
    # Clipper's rounded corners lie inside the true arc by up to `chord`.
    rings = [open_ring(r) for r in (polygon.exterior, *polygon.interiors)]
    return _offset(rings, distance + chord + GRID, chord=chord)


def shrink(polygon: Polygon, distance: float) -> BaseGeometry:
    """Return everything in a polygon that is at least `distance` from its edge, never more."""
    if distance == 0:
        return polygon
    rings = [open_ring(r) for r in (polygon.exterior, *polygon.interiors)]
    return _offset(rings, -distance - GRID, mitred=True)


def polygons(geometry: BaseGeometry) -> list[Polygon]:
    """Return the polygons in any geometry, without points and lines."""
    if isinstance(geometry, Polygon):
        return [] if geometry.is_empty else [geometry]
    return [p for g in getattr(geometry, "geoms", ()) for p in polygons(g)]


def _offset(
    rings: Iterable[FloatArray], distance: float, chord: float = CHORD, mitred: bool = False
) -> BaseGeometry:
    """Offset rings (outer and holes) by a signed distance on an integer grid."""
    offset = pyclipper.PyclipperOffset(_MITRE_LIMIT, chord / GRID)
    join = pyclipper.JT_MITER if mitred else pyclipper.JT_ROUND
    for i, points in enumerate(rings):
        grid = np.rint(points / GRID).astype(np.int64)
        # Clipper tells holes from outer rings by their direction.
        if pyclipper.Orientation(grid) != (i == 0):
            grid = grid[::-1]
        offset.AddPath(grid, join, pyclipper.ET_CLOSEDPOLYGON)
    tree = offset.Execute2(distance / GRID)
    return MultiPolygon(
        [
            Polygon(
                np.array(outer.Contour) * GRID, [np.array(h.Contour) * GRID for h in outer.Childs]
            )
            for outer in _outer_nodes(tree)
        ]
    )


def _outer_nodes(node: pyclipper.PyPolyNode) -> list[pyclipper.PyPolyNode]:
    """All nodes of a Clipper tree that are outer rings, at any depth."""
    found = []
    for outer in node.Childs:
        found.append(outer)
        for hole in outer.Childs:
            found.extend(_outer_nodes(hole))
    return found
