"""The cut that frees a remnant: along its edge, half a slot beside it, across the sheet.

It begins and ends at the edge of the sheet, where the slot is open, so that the head
stays over metal (common practice, no source). Between it and the slots of the parts the
usual metal is left, since the remnant keeps that distance by itself. A sheet may be a little
larger than it should be, or lie askew: on wish the cut begins and ends beyond the edge, which
is for controls that let the head leave the sheet.
"""

from __future__ import annotations

import numpy as np
import shapely
from shapely import LineString
from shapely.geometry.base import BaseGeometry

from nestlib.geometry.polygons import region
from nestlib.model.contour import Contour
from nestlib.model.layout import Layout, Remnant
from nestlib.model.sheet import Sheet

#: Arcs are replaced by lines this close to them, in mm.
_CHORD = 0.005

#: An end is at the sheet's edge within this, in mm: twice the chord.
_AT_EDGE = 0.01


def cut_offs(layout: Layout, kerf: float) -> list[Contour]:
    """Return the lines that free the remnants of a layout.

    Parameters
    ----------
    layout : Layout
        The sheet, and what is left of it.
    kerf : float
        Width of the slot in mm, above 0.

    Returns
    -------
    list of Contour
        Open, of straight lines; none where a remnant reaches over the whole sheet.
    """
    blocked = [region(c, chord=_CHORD) for c in layout.sheet.holes]
    metal = region(layout.sheet.outline, chord=_CHORD).difference(shapely.union_all(blocked))
    return [line for remnant in layout.remnants for line in _beside(remnant, metal, kerf)]


def run_on(line: Contour, sheet: Sheet, overrun: float) -> Contour:
    """Return a cut that runs on beyond the sheet's edge where it ends there.

    Parameters
    ----------
    line : Contour
        Open, of straight lines.
    sheet : Sheet
        Ends at its outline run on, unless they would come back onto the sheet.
    overrun : float
        How far, in mm; 0 changes nothing.
    """
    if overrun <= 0:
        return line
    outside = region(sheet.outline, chord=_CHORD)
    points = line.points.copy()
    for end, before in ((0, 1), (-1, -2)):
        way = points[end] - points[before]
        beyond = points[end] + overrun / np.hypot(*way) * way
        added = LineString([points[end], beyond])
        at_edge = shapely.distance(outside.exterior, shapely.Point(points[end])) <= _AT_EDGE
        if at_edge and outside.intersection(added).length <= _AT_EDGE:
            points[end] = beyond
    return Contour(points, closed=False)


def grown(remnant: Remnant, distance: float) -> BaseGeometry:
    """Return the region of a remnant and all around it within a distance, corners kept."""
    return region(remnant.outline).buffer(distance, join_style="mitre")


def _beside(remnant: Remnant, metal: BaseGeometry, kerf: float) -> list[Contour]:
    """What of the line around a remnant lies on the sheet."""
    found = grown(remnant, kerf / 2).exterior.intersection(metal)
    if found.geom_type != "LineString":
        found = shapely.line_merge(shapely.multilinestrings(_lines(found)))
    return [
        Contour(np.asarray(line.simplify(1e-9).coords)[:, :2], closed=False)
        for line in _lines(found)
        if line.length > kerf
    ]


def _lines(geometry: BaseGeometry) -> list[LineString]:
    return [g for g in getattr(geometry, "geoms", [geometry]) if isinstance(g, LineString)]
