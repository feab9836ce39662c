"""Exact contours, and the polygons that stand for them. Knows only the model."""

from nestlib.geometry.arcs import (
    arc_angle,
    arc_bulge,
    arc_centre,
    arc_direction,
    arc_point,
    arc_radius,
)
from nestlib.geometry.beside import beside, place_on
from nestlib.geometry.clearance import grow, part_clearance, polygons, sheet_room, shrink
from nestlib.geometry.flatten import flatten
from nestlib.geometry.polygons import line, open_ring, region, ring
from nestlib.geometry.transform import cos_sin, mirrored, moved, placed, turned, turning

__all__ = [
    "arc_angle",
    "arc_bulge",
    "arc_centre",
    "arc_direction",
    "arc_point",
    "arc_radius",
    "beside",
    "cos_sin",
    "flatten",
    "grow",
    "line",
    "mirrored",
    "moved",
    "open_ring",
    "part_clearance",
    "place_on",
    "placed",
    "polygons",
    "region",
    "ring",
    "sheet_room",
    "shrink",
    "turned",
    "turning",
]
