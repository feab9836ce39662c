"""Parts and a strip made ready for the kernels."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from shapely import affinity
from shapely.geometry import Polygon

from nestlib.engine.catalogue import (
    Catalogue,
    Floats,
    Ints,
    Kind,
    Turn,
    catalogue,
    distinct_turns,
)
from nestlib.engine.compaction import Pieces, pieces
from nestlib.engine.convex import convex_pieces
from nestlib.engine.fields import Fields, fields, no_fields
from nestlib.engine.fitting import fits, fitting_turns
from nestlib.engine.holes import without_useless_holes
from nestlib.engine.items import Item, centred
from nestlib.engine.lattice import Lattice, lattices
from nestlib.engine.overlap import Shapes
from nestlib.engine.simplify import simplified

#: Parts this deep in each other, in units of the side of the mean part, touch.
CONTACT = 1e-9

#: With more pairs of orientations than this no fields are worked out.
MOST_PAIRS = 25_000_000


@dataclass(frozen=True)
class StripProblem:
    """Shapes in units of the side of the mean part.

    Parameters
    ----------
    scale : float
        Units per length of the parts.
    width : float
        Width of the strip in units.
    offsets : tuple of (float, float)
        Where each kind's reference point is in its outline, in lengths of
        the parts.
    kind : ndarray of int64, shape (n,)
        Kind of each part.
    size : ndarray, shape (n,)
        Area of its convex hull.
    shapes : Shapes
        Its orientations and their overlaps.
    pieces : Pieces
        Its orientations as convex pieces.
    walls : ndarray, shape (w, 2)
        Reference points of the walls, which are the last of the parts.
    kinds : tuple of Kind
        The outlines and their turns, those of the walls last.
    lattices : tuple of Lattice
        On which parts can be laid: none, or a coarse one before a fine one.
    """

    scale: float
    width: float
    offsets: tuple[tuple[float, float], ...]
    kind: Ints
    size: Floats
    shapes: Shapes
    pieces: Pieces
    walls: Floats
    kinds: tuple[Kind, ...]
    lattices: tuple[Lattice, ...] = ()

    @classmethod
    def of(cls, parts: Sequence[Item], width: float, walls: Sequence[Polygon] = ()) -> StripProblem:
        """Scale the parts so that their mean area is 1 and lay out their orientations.

        Walls are polygons in the strip that no part may overlap, and stay where they are.
        """
        n = sum(p.quantity for p in parts)
        scale = float(np.sqrt(n / sum(p.polygon.area * p.quantity for p in parts)))
        useful = without_useless_holes([p.polygon for p in parts])
        middles = [centred(p) for p in useful]
        kinds = [
            _kind(replace(part, polygon=middle), width, scale)
            for part, (middle, _) in zip(parts, middles, strict=True)
        ]
        blocks = [_scaled(p, scale) for wall in walls for p in map(Polygon, convex_pieces(wall))]
        middle = [centred(p) for p in blocks]
        kinds += [Kind(p, (0.0,)) for p, _ in middle]
        quantities = [*(p.quantity for p in parts), *(1 for _ in blocks)]
        cat = catalogue(kinds)
        fld = _fields(cat, kinds, [p.quantity for p in parts])
        kind = np.repeat(np.arange(len(kinds)), quantities).astype(np.int64)
        size = np.array([k.polygon.convex_hull.area for k in kinds])[kind]
        return cls(
            scale,
            width * scale,
            tuple(o for _, o in middles),
            kind,
            size,
            Shapes(cat, fld),
            pieces(cat, kinds),
            np.array([at for _, at in middle]).reshape(-1, 2),
            tuple(kinds),
        )

    def with_turns(self, turns: Sequence[Sequence[Turn]], tabulate: bool = True) -> StripProblem:
        """Return the same parts with other turns.

        Parameters
        ----------
        turns : sequence of sequence of (float, bool)
            For every kind its angles, and whether it is mirrored; those of walls last.
        tabulate : bool
            Whether to work out fields.
        """
        kinds = [
            Kind(k.polygon, *(tuple(a for a, f in own if f == flip) for flip in (False, True)))
            for k, own in zip(self.kinds, turns, strict=True)
        ]
        cat = catalogue(kinds)
        many = np.bincount(self.kind[: self.movable], minlength=len(kinds))
        fld = _fields(cat, kinds, many.tolist()) if tabulate else no_fields(cat)
        made = pieces(cat, kinds)
        return replace(self, shapes=Shapes(cat, fld), pieces=made, kinds=tuple(kinds), lattices=())

    def with_lattices(self) -> StripProblem:
        """Return the same, ready to be laid on lattices; only for strips without walls."""
        return replace(self, lattices=lattices(self.shapes, self.kinds, CONTACT))

    @property
    def cat(self) -> Catalogue:
        """Return the orientations."""
        return self.shapes.cat

    @property
    def movable(self) -> int:
        """Return how many parts there are besides the walls."""
        return len(self.kind) - len(self.walls)


def _fields(cat: Catalogue, kinds: Sequence[Kind], quantities: Sequence[int]) -> Fields:
    """Work out the overlaps of kinds, of which the last ones are walls."""
    if len(cat.angle) ** 2 > MOST_PAIRS:
        return no_fields(cat)
    walls = [0] * (len(kinds) - len(quantities))
    return fields(cat, kinds, 0.0, quantities=[*quantities, *walls])


def _scaled(polygon: Polygon, scale: float) -> Polygon:
    return affinity.scale(polygon, scale, scale, origin=(0.0, 0.0))


def _kind(part: Item, width: float, scale: float) -> Kind:
    """Simplify an outline, unless that makes it too wide for the strip."""
    turns = fitting_turns(part, width)
    outline = simplified(part.polygon)
    if not all(fits(outline, turn, width) for turn in turns):
        outline = part.polygon
    turns = distinct_turns(outline, turns)
    angles = [tuple(a for a, f in turns if f == flip) for flip in (False, True)]
    return Kind(_scaled(outline, scale), *angles)
