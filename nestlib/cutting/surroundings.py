"""What the leads of a layout have to keep away from."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import LineString, Polygon
from shapely.geometry.base import BaseGeometry

from nestlib.geometry.flatten import flatten
from nestlib.geometry.polygons import region
from nestlib.model.contour import Contour, FloatArray
from nestlib.model.sheet import Sheet

#: Arcs are replaced by lines this close to them, and distances are asked for so much more.
CHECK_CHORD = 0.005

#: Leads taken are looked up by squares of this size, in mm: a few times as long as a lead.
_GRID = 25.0

Cell = tuple[int, int]


class Surroundings:
    """Pieces, sheet and the leads chosen so far.

    Parameters
    ----------
    metal : sequence of shapely.Polygon
        Every piece where it lies, without its holes; with arcs within `CHECK_CHORD`.
    sheet : Sheet
        Leads stay on it, out of its holes and keep-out zones, a kerf away from its edge.
    kerf : float
        Width of a slot in mm. Beside every piece lies its slot, so a lead's own is free of it
        at one and a half kerfs from the piece.
    """

    def __init__(self, metal: Sequence[Polygon], sheet: Sheet, kerf: float) -> None:
        self._metal = metal
        self._tree = shapely.STRtree(metal)
        self.kerf = kerf
        self._apart = 1.5 * kerf + CHECK_CHORD
        self._room = _room(sheet, kerf + CHECK_CHORD)
        self._taken: dict[Cell, list[BaseGeometry]] = {}
        shapely.prepare(self._room)
        shapely.prepare(metal)

    def free(
        self, points: FloatArray, own: int, beside: Contour | None = None
    ) -> NDArray[np.bool_]:
        """Return which leads may be cut.

        Parameters
        ----------
        points : ndarray, shape (n, m, 2)
            Points along each lead, from its pierce point to where it enters the contour.
        own : int
            Which of the pieces the contour belongs to.
        beside : Contour, optional
            Another lead of the same contour, which is touched by their common end only.

        Returns
        -------
        ndarray of bool, shape (n,)
            True if the lead stays on the sheet, off the slots of all other pieces and the
            leads taken before, and leaves its own piece for good.
        """
        lines = shapely.linestrings(points)
        fine = shapely.covers(self._room, lines) & self._leaves(points, self._metal[own])
        for other in [*self._pieces_near(points, own), *self._taken_near(points)]:
            fine &= ~shapely.dwithin(other, lines, self._apart)
        if beside is not None:
            far = shapely.linestrings(points[:, : points.shape[1] // 2 + 1])
            fine &= ~shapely.dwithin(_line(beside), far, self._apart)
        return np.asarray(fine)

    def take(self, lead: Contour) -> None:
        """Keep later leads away from this one."""
        line = _line(lead)
        for cell in _cells(*line.bounds):
            self._taken.setdefault(cell, []).append(line)

    def _leaves(self, points: FloatArray, metal: Polygon) -> NDArray[np.bool_]:
        """Whether the half with the pierce point keeps off the metal and the rest outside.

        The last tenth is not asked: it ends on the contour.
        """
        m = points.shape[1]
        far = shapely.linestrings(points[:, : m // 2 + 1])
        near = shapely.linestrings(points[:, m // 2 : m - m // 10])
        length = shapely.length(far) + shapely.length(near)
        away = np.minimum(self._apart, 0.15 * length)
        return ~np.asarray(shapely.intersects(metal, near) | shapely.dwithin(metal, far, away))

    def _pieces_near(self, points: FloatArray, own: int) -> list[Polygon]:
        around = shapely.box(*self._reach(points))
        return [self._metal[i] for i in sorted(self._tree.query(around)) if i != own]

    def _taken_near(self, points: FloatArray) -> list[BaseGeometry]:
        found = (self._taken.get(cell, ()) for cell in _cells(*self._reach(points)))
        return list({id(line): line for lines in found for line in lines}.values())

    def _reach(self, points: FloatArray) -> tuple[float, float, float, float]:
        """Bounding box of everything that may come too close to the leads."""
        x0, y0 = points.min(axis=(0, 1)) - self._apart
        x1, y1 = points.max(axis=(0, 1)) + self._apart
        return float(x0), float(y0), float(x1), float(y1)


def _line(lead: Contour) -> BaseGeometry:
    return LineString(flatten(lead, CHECK_CHORD))


def _cells(x0: float, y0: float, x1: float, y1: float) -> Iterator[Cell]:
    """Squares of a grid that a box touches."""
    for column in range(math.floor(x0 / _GRID), math.floor(x1 / _GRID) + 1):
        for row in range(math.floor(y0 / _GRID), math.floor(y1 / _GRID) + 1):
            yield column, row


def _room(sheet: Sheet, inset: float) -> BaseGeometry:
    """The sheet without holes and keep-out zones, less `inset` all around."""
    blocked = [region(c, (), CHECK_CHORD, "outside") for c in (*sheet.holes, *sheet.keep_outs)]
    outline = region(sheet.outline, (), CHECK_CHORD, "inside")
    return outline.difference(shapely.union_all(blocked)).buffer(-inset)
