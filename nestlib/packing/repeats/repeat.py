"""The densest periodic arrangements of one outline: lattices, double lattices and rows.

In a lattice all copies lie the same way. In a double lattice every second copy is turned by
180 degrees; for convex outlines that is dense, and often the best there is.

References
----------
G. Kuperberg, W. Kuperberg, "Double-lattice packings of convex bodies in the plane", Discrete
and Computational Geometry 5 (1990) 389-397.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from shapely import Polygon, affinity, box

from nestlib.geometry.transform import turning
from nestlib.packing.kernels import FloatArray
from nestlib.packing.repeats.guesses import Guess, guesses
from nestlib.packing.repeats.no_fit import NoFit
from nestlib.packing.repeats.polish import meetings, polished

#: Guesses of each kind that are made exact, and arrangements of each kind that are kept.
_TRIED, _KEPT = 6, 2

#: Outlines whose smallest box is below this share of the one along the axes are laid level.
_SLIM = 0.6

#: Outlines whose difference is below this share of their area look alike.
_ALIKE = 1e-6

#: Arrangements whose cells differ by less than this share are the same.
_SAME = 1e-4


@dataclass(frozen=True, eq=False)
class Repeat:
    """A periodic arrangement of one outline, seen from the centroids of its copies.

    Parameters
    ----------
    steps : ndarray, shape (2, 2)
        The two steps that repeat the cell, in mm.
    places : ndarray, shape (k, 2)
        Where the copies of a cell lie; the first at (0, 0), a second one turned by 180 degrees.
    area : float
        Of one copy, what its outline encloses, in mm².
    """

    steps: FloatArray
    places: FloatArray
    area: float

    @property
    def density(self) -> float:
        """Share of the plane that the copies cover."""
        return len(self.places) * self.area / abs(float(np.linalg.det(self.steps)))

    def moved(self, matrix: FloatArray) -> Repeat:
        """Return the arrangement turned or mirrored by a matrix, with which rows are multiplied."""
        return Repeat(self.steps @ matrix, self.places @ matrix, self.area)


def repeats(
    polygon: Polygon,
    *,
    paired: bool = True,
    seed: int = 0,
    over: Callable[[], bool] = lambda: False,
) -> list[Repeat]:
    """Return dense periodic arrangements of an outline.

    Parameters
    ----------
    polygon : shapely.Polygon
        The outline; what lies in its holes does not count.
    paired : bool
        Whether copies may be turned by 180 degrees.
    seed : int
        Of all chance.
    over : callable
        Asked now and then whether to end early, with what was found by then.

    Returns
    -------
    list of Repeat
        The densest first; among them the best in level and in upright rows.

    Examples
    --------
    >>> from shapely import box
    >>> best = repeats(box(0, 0, 2, 1))[0]
    >>> round(best.density, 6), len(best.places)
    (1.0, 1)
    """
    outline = Polygon(polygon.exterior)
    centre = outline.centroid
    outline = affinity.translate(outline, -centre.x, -centre.y)
    opposite = affinity.scale(outline, -1, -1, origin=(0, 0))
    others = [None, opposite] if paired and not look_alike(outline, opposite) else [None]
    found: list[Repeat] = []
    for other in others:
        pairs = meetings(outline, other)
        for guess in _tried(_guessed(outline, other)):
            if over():
                break
            exact = polished(guess, pairs, seed)
            if exact is not None:
                places = np.vstack([np.zeros((1, 2)), exact[1]])
                found.append(Repeat(exact[0], places, outline.area))
    return _best(found)


def _guessed(outline: Polygon, other: Polygon | None) -> list[Guess]:
    """Guess arrangements; a slim outline that lies aslant is laid level for that.

    On a raster as coarse as a slim outline is wide nothing could be told.
    """
    angle = _slant(outline)
    level, second = (g and affinity.rotate(g, -angle, origin=(0, 0)) for g in (outline, other))
    mixed = None if second is None else NoFit.of(level, second)
    found = guesses(NoFit.of(level, level), mixed, outline.area)
    return [g.turned(turning(angle)) for g in found] if angle else found


def _slant(outline: Polygon) -> float:
    """Degrees by which an outline is turned that fills its smallest box much better."""
    smallest = outline.minimum_rotated_rectangle
    if smallest.area > _SLIM * box(*outline.bounds).area:
        return 0.0
    (x, y), (u, v) = smallest.exterior.coords[:2]
    return float(np.degrees(np.arctan2(v - y, u - x)))


def look_alike(a: Polygon, b: Polygon) -> bool:
    """Return whether two outlines that lie around their centroids are the same."""
    return bool(a.symmetric_difference(b).area < _ALIKE * a.area)


def _tried(found: list[Guess]) -> list[Guess]:
    return [g for row in ("", "x", "y") for g in [h for h in found if h.row == row][:_TRIED]]


def _best(found: list[Repeat]) -> list[Repeat]:
    """The best of all and the best in rows along x and along y, none of them twice."""
    found = sorted(found, key=lambda r: -r.density)
    kept: list[Repeat] = []
    for test in (_is_any, _is_level, _is_upright):
        own: list[Repeat] = []
        for r in filter(test, found):
            if len(own) < _KEPT and not any(_are_same(r, other) for other in own):
                own.append(r)
        kept += [r for r in own if not any(r is other for other in kept)]
    return sorted(kept, key=lambda r: -r.density)


def _is_any(_: Repeat) -> bool:
    return True


def _is_level(r: Repeat) -> bool:
    return bool(np.abs(r.steps[:, 1]).min() < _SAME * np.sqrt(r.area))


def _is_upright(r: Repeat) -> bool:
    return bool(np.abs(r.steps[:, 0]).min() < _SAME * np.sqrt(r.area))


def _are_same(a: Repeat, b: Repeat) -> bool:
    return len(a.places) == len(b.places) and abs(a.density / b.density - 1) < _SAME
