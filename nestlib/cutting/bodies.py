"""What the cuts of a layout free: pieces and slugs, their metal, their weight, their fate."""

from __future__ import annotations

from collections.abc import Sequence

import shapely
from shapely.geometry.base import BaseGeometry

from nestlib.cutting.order import Piece, nesting
from nestlib.cutting.tipping import fate
from nestlib.geometry.mass import centre_of_mass
from nestlib.geometry.polygons import region
from nestlib.model.contour import Contour
from nestlib.model.job import Job
from nestlib.model.layout import Cut, Layout

#: Arcs are replaced by lines this close to them, in mm.
_CHORD = 0.05

Point = tuple[float, float]


class Bodies:
    """Pieces and slugs as they rest on the support; alike ones are looked at once.

    Where the offset of the support is not known, it does not matter where a body lies,
    only how it is turned.

    Parameters
    ----------
    pieces : sequence of Piece
        Where they lie.
    layout : Layout
        The placements.
    job : Job
        The machine's support, and the kerf.
    """

    def __init__(self, pieces: Sequence[Piece], layout: Layout, job: Job) -> None:
        self._pieces = {p.placement: p for p in pieces}
        self._layout, self._support, self._kerf = layout, job.machine.support, job.spacing.kerf
        index = [p.placement for p in pieces]
        self._inside = {
            (index[i], hole): [index[k] for k in found]
            for (i, hole), found in nesting(pieces).items()
        }
        self._fates: dict[tuple[object, ...], str] = {}
        self._centres: dict[tuple[object, ...], Point] = {}

    def fate(self, cut: Cut) -> str | None:
        """What becomes of it; None if nothing is known of the support."""
        if self._support is None:
            return None
        alike = self._alike(cut)
        if self._support.offset is not None:
            alike = (*alike, cut.placement)
        if alike not in self._fates:
            metal = self._metal(cut)
            self._fates[alike] = fate(metal, self.centre(cut), self._support)
        return self._fates[alike]

    def centre(self, cut: Cut) -> Point:
        """Its centre of mass; alike ones are only moved."""
        p = self._layout.placements[cut.placement]
        alike = self._alike(cut)
        if alike not in self._centres:
            x, y = self._balance(cut)
            self._centres[alike] = x - p.x, y - p.y
        x, y = self._centres[alike]
        return x + p.x, y + p.y

    def _alike(self, cut: Cut) -> tuple[object, ...]:
        """The same for what differs only in where it lies."""
        p = self._layout.placements[cut.placement]
        emptied = cut.role == "inner" and (cut.placement, cut.index) in self._inside
        return (p.part, p.rotation, p.flip, cut.role, cut.index, cut.placement if emptied else None)

    def _balance(self, cut: Cut) -> Point:
        piece = self._pieces[cut.placement]
        if cut.role == "outer":
            return centre_of_mass(piece.outer, piece.inners)
        return centre_of_mass(piece.inners[cut.index], self._nested(cut))

    def _nested(self, cut: Cut) -> list[Contour]:
        """Outer contours of the pieces that were cut out of a slug."""
        return [self._pieces[k].outer for k in self._inside.get((cut.placement, cut.index), ())]

    def _metal(self, cut: Cut) -> BaseGeometry:
        """The piece, or the slug: what the slots leave of the hole's metal."""
        piece = self._pieces[cut.placement]
        if cut.role == "outer":
            return region(piece.outer, piece.inners, _CHORD)
        slug = region(piece.inners[cut.index], chord=_CHORD).buffer(-self._kerf)
        lost = [region(c, chord=_CHORD).buffer(self._kerf) for c in self._nested(cut)]
        return slug.difference(shapely.union_all(lost)) if lost else slug
