"""The cut that frees a remnant: along its edge, half a slot beside it, across the sheet.

It begins and ends at the edge of the sheet, where the slot is open, so that the head
stays over metal (common practice, no source). Between it and the slots of the parts the
usual metal is left, since the remnant keeps that distance by itself.
"""

from __future__ import annotations

import numpy as np
import shapely
from shapely import LineString
from shapely.geometry.base import BaseGeometry

from nestlib.geometry.polygons import region
from nestlib.model.contour import Contour
from nestlib.model.layout import Layout, Remnant

#: Arcs are replaced by lines this close to them, in mm.
_CHORD = 0.005


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
