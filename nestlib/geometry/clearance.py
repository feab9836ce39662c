"""Polygons that keep their distance by themselves.

A part is grown by half of the distance that two parts must keep, and a sheet is shrunk
by what is left to its edge. Parts whose clearance polygons do not overlap, in a room
that they do not leave, then keep every distance. Arcs are replaced by tangents outside
of them, so no distance is ever too small; straight edges keep theirs exactly, but for
the grid of integers on which Clipper works (B. Vatti, "A generic solution to polygon
clipping", Communications of the ACM 35 (1992) 56-63).
"""

from __future__ import annotations

import math

import numpy as np
import pyclipper
from numpy.typing import NDArray
from shapely import MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry
from shapely.geometry.polygon import orient
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
    Where this is negative, a convex outline moves out instead; other outlines, holes and
    keep-out zones stay where they are, because grown less they would lose their corners.

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
        convex = outline.equals(outline.convex_hull)
        room = _mitred(outline, -inset) if convex else outline
    free = room.difference(unary_union(blocked)) if blocked else room
    return MultiPolygon(polygons(free))


def grow(polygon: Polygon, distance: float, chord: float = CHORD) -> BaseGeometry:
    """Return everything within `distance` of a polygon, never less.

    Straight edges move by exactly `distance`, and corners are rounded by tangents of the
    true arc, so that parts which fit exactly still do.

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

    References
    ----------
    X. Chen, S. McMains, "Polygon offsetting by computing winding numbers", ASME Design
    Automation Conference (2005): the raw offset curves overlap themselves, and what they
    wind about once or more is the offset.
    """
    if distance == 0:
        return polygon
    polygon = orient(polygon)
    clipper = pyclipper.Pyclipper()
    for points in _rings(polygon):
        clipper.AddPath(_to_grid(_raw_offset(points, distance, chord)), pyclipper.PT_SUBJECT, True)
    tree = clipper.Execute2(pyclipper.CT_UNION, pyclipper.PFT_POSITIVE, pyclipper.PFT_POSITIVE)
    return _from_tree(tree)


def shrink(polygon: Polygon, distance: float) -> BaseGeometry:
    """Return everything in a polygon that is at least `distance` from its edge, never more."""
    return _mitred(polygon, -distance) if distance else polygon


def polygons(geometry: BaseGeometry) -> list[Polygon]:
    """Return the polygons in any geometry, without points and lines."""
    if isinstance(geometry, Polygon):
        return [] if geometry.is_empty else [geometry]
    return [p for g in getattr(geometry, "geoms", ()) for p in polygons(g)]


def _raw_offset(points: FloatArray, distance: float, chord: float) -> FloatArray:
    """Every edge moved to its right, joined by tangents at corners that turn left.

    At corners that turn right the edges stay joined through the corner itself; what they
    cut off of each other then winds negatively.
    """
    edges = np.roll(points, -1, axis=0) - points
    keep = np.hypot(*edges.T) > 0
    points, edges = points[keep], edges[keep]
    normals = np.stack([edges[:, 1], -edges[:, 0]], axis=1) / np.hypot(*edges.T)[:, None]
    before = np.roll(normals, 1, axis=0)
    turn = np.arctan2(
        before[:, 0] * normals[:, 1] - before[:, 1] * normals[:, 0],
        np.sum(before * normals, axis=1),
    )
    raw = [
        _corner(point, first, last, angle, distance, chord)
        for point, first, last, angle in zip(points, before, normals, turn, strict=True)
    ]
    return np.concatenate(raw)


def _corner(
    point: FloatArray,
    first: FloatArray,
    last: FloatArray,
    turn: float,
    distance: float,
    chord: float,
) -> FloatArray:
    """From the end of one moved edge to the start of the next, about their corner."""
    ends = point + distance * np.stack([first, last])
    if turn < 0:
        return np.array([ends[0], point, ends[1]])
    half = math.acos(distance / (distance + chord))
    pieces = max(1, math.ceil(turn / (2 * half) - 1e-9))
    angles = math.atan2(first[1], first[0]) + turn / (2 * pieces) * np.arange(1, 2 * pieces, 2)
    reach = distance / math.cos(turn / (2 * pieces))
    tangents = point + reach * np.stack([np.cos(angles), np.sin(angles)], axis=1)
    return np.concatenate([ends[:1], tangents, ends[1:]])


def _mitred(polygon: Polygon, distance: float) -> BaseGeometry:
    """Move every edge by a signed distance and keep the corners sharp."""
    offset = pyclipper.PyclipperOffset(_MITRE_LIMIT)
    for points in _rings(orient(polygon)):
        offset.AddPath(_to_grid(points), pyclipper.JT_MITER, pyclipper.ET_CLOSEDPOLYGON)
    return _from_tree(offset.Execute2(distance / GRID))


def _rings(polygon: Polygon) -> list[FloatArray]:
    return [open_ring(r) for r in (polygon.exterior, *polygon.interiors)]


def _to_grid(points: FloatArray) -> NDArray[np.int64]:
    return np.rint(points / GRID).astype(np.int64)


def _from_tree(tree: pyclipper.PyPolyNode) -> MultiPolygon:
    """Polygons with their holes, from Clipper's tree of rings."""
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
