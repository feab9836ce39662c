"""Rough periodic arrangements, by trying all on a raster.

A cell holds a piece, or a piece and a second one beside it. Displacements that overlap are
marked on a raster for both. For every place of the second piece that touches the first, two
steps that repeat the cell without overlaps are looked for among those at which cells touch;
the smaller the cell they span, the better. Rows along x and along y, in which one step is
level or upright, are ranked by themselves, because they waste less at the edges of a sheet.

References
----------
A. M. Costa, A. M. Gomes, J. F. Oliveira, "Heuristic approaches to large-scale periodic
packing of irregular shapes on a rectangular sheet", European Journal of Operational Research
192 (2009) 29-40: lattices of no-fit polygons with translations for variables.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from nestlib.packing.kernels import FloatArray, IntArray
from nestlib.packing.repeats.no_fit import NoFit

#: Cells of the raster for the reach of a piece.
FINE = 36

#: Depths, in cells of the raster, that may be due to rounding.
_ROUNDING = 0.8

#: Areas that are smaller than the pieces by more than this are due to rounding only.
_LEAST = 0.94

#: Guesses that differ by no more cells than this are the same.
_SAME = 2

#: Guesses of each kind.
KEPT = 12

#: Multiples of the steps, other than their sums, at which cells may meet as well.
_FURTHER = np.array([(2, 0), (0, 2), (2, 1), (1, 2), (2, -1), (1, -2), (3, 1), (3, -1), (3, 2)])
_FURTHEST = np.array([(1, 3), (1, -3), (2, 3), (3, -2), (2, -3), (2, 2), (2, -2), (3, 0), (0, 3)])

Mask = NDArray[np.bool_]

#: Place of the second piece, if there is one, and at which steps cells overlap.
_Cell = tuple[tuple[int, int] | None, Mask]


@dataclass(frozen=True, eq=False)
class Guess:
    """A rough arrangement.

    Parameters
    ----------
    steps : ndarray, shape (2, 2)
        The two steps that repeat the cell.
    beside : ndarray, shape (k, 2)
        Where further pieces of the cell lie, seen from the first.
    row : str
        "x" or "y" if the first step is level or upright; else empty.
    """

    steps: FloatArray
    beside: FloatArray
    row: str = ""

    def turned(self, matrix: FloatArray) -> Guess:
        """Return the arrangement turned by a matrix; its rows are as good as any."""
        return Guess(self.steps @ matrix, self.beside @ matrix)


@dataclass(frozen=True)
class _Found:
    """Steps and place of the second piece on the raster, and the area of the cell."""

    area: int
    u: tuple[int, int]
    v: tuple[int, int]
    beside: tuple[int, int] | None

    def is_like(self, other: _Found) -> bool:
        mine, theirs = ((*f.u, *f.v, *(f.beside or ())) for f in (self, other))
        return all(abs(a - b) <= _SAME for a, b in zip(mine, theirs, strict=True))


def guesses(own: NoFit, mixed: NoFit | None, area: float) -> list[Guess]:
    """Return rough arrangements, those with the smallest cells of each kind.

    Parameters
    ----------
    own : NoFit
        Of a piece and its like.
    mixed : NoFit, optional
        Of a piece and the second piece of the cell, of which two must meet as `own` says.
    area : float
        Area of one piece.
    """
    reach = own.reach if mixed is None else np.maximum(own.reach, mixed.reach)
    unit = reach / FINE
    size = FINE + 2
    own_mask = _mask(own, unit, size)
    pieces = area / (unit[0] * unit[1])
    if mixed is None:
        found = _over_cells([(None, np.pad(own_mask, size))], pieces)
    else:
        found = _over_cells(_pairs(own_mask, _mask(mixed, unit, size), size), 2 * pieces)
    return [_guess(f, row, unit) for row, kept in found.items() for f in kept]


def _guess(found: _Found, row: str, unit: FloatArray) -> Guess:
    beside = np.array([found.beside] if found.beside else [], dtype=float).reshape(-1, 2)
    return Guess(np.array([found.u, found.v]) * unit, beside * unit, row)


def _mask(no_fit: NoFit, unit: FloatArray, size: int) -> Mask:
    """Mark displacements that overlap for certain, from -size to size both ways."""
    scaled = no_fit.scaled(*unit)
    ticks = np.arange(-size, size + 1.0)
    rows = (scaled.depths(np.column_stack([np.full(len(ticks), x), ticks])) for x in ticks)
    return np.array(list(rows)) > _ROUNDING


def _pairs(own: Mask, mixed: Mask, size: int) -> Iterator[_Cell]:
    """Yield each place of the second piece that touches the first, and where cells overlap."""
    wide = np.pad(mixed, 3 * size)  # 4 * size both ways
    middle, far = 4 * size, 2 * size
    padded = np.pad(own, size)
    for x, y in np.argwhere(_edge(mixed)) - size:
        rows, columns = (
            slice(middle + x - far, middle + x + far + 1),
            slice(middle + y - far, middle + y + far + 1),
        )
        beside = wide[rows, columns]
        yield (int(x), int(y)), padded | beside | beside[::-1, ::-1]


def _edge(blocked: Mask) -> Mask:
    """Free places beside blocked ones."""
    near = np.zeros_like(blocked)
    near[1:] |= blocked[:-1]
    near[:-1] |= blocked[1:]
    near[:, 1:] |= blocked[:, :-1]
    near[:, :-1] |= blocked[:, 1:]
    return np.asarray(near & ~blocked)


def _over_cells(cells: Iterable[_Cell], pieces: float) -> dict[str, list[_Found]]:
    """Rank what is found for all cells: rows along x, along y, and all."""
    found: dict[str, list[_Found]] = {"": [], "x": [], "y": []}
    for beside, blocked in cells:
        far = blocked.shape[0] // 2
        touching = np.argwhere(_edge(blocked)) - far
        half = touching[(touching[:, 0] > 0) | ((touching[:, 0] == 0) & (touching[:, 1] > 0))]
        wide = np.pad(blocked, 3 * far)
        firsts = {"": half, "x": half[half[:, 1] == 0], "y": half[half[:, 0] == 0]}
        for row, first in firsts.items():
            worst = found[row][-1].area if len(found[row]) >= 4 * KEPT else np.inf
            best = _smallest(first, half, wide, _LEAST * pieces, worst)
            if best is not None:
                area, u, v = best
                found[row] = sorted([*found[row], _Found(area, u, v, beside)], key=_area)[
                    : 4 * KEPT
                ]
    return {row: _different(every) for row, every in found.items()}


def _area(found: _Found) -> int:
    return found.area


def _different(found: list[_Found]) -> list[_Found]:
    """Leave out what is nearly the same as something better."""
    kept: list[_Found] = []
    for f in found:
        if len(kept) < KEPT and not any(f.is_like(other) for other in kept):
            kept.append(f)
    return kept


def _smallest(
    first: IntArray, second: IntArray, wide: Mask, least: float, most: float
) -> tuple[int, tuple[int, int], tuple[int, int]] | None:
    """Return the two steps that span the smallest cell and repeat it without overlaps."""
    if not len(first):
        return None
    spanned = np.abs(np.outer(first[:, 0], second[:, 1]) - np.outer(first[:, 1], second[:, 0]))
    i, j = np.nonzero((spanned >= least) & (spanned < most))
    u, v, area = first[i], second[j], spanned[i, j]
    middle = wide.shape[0] // 2
    for sign in (1, -1):
        at = u + sign * v + middle
        free = ~wide[at[:, 0], at[:, 1]]
        u, v, area = u[free], v[free], area[free]
    order = np.argsort(area, kind="stable")[:200]
    u, v, area = u[order], v[order], area[order]
    for several in (_FURTHER, _FURTHEST):
        at = several[:, 0, None, None] * u + several[:, 1, None, None] * v
        inside = np.abs(at).max(axis=2) <= middle
        at = np.where(inside[:, :, None], at, 0) + middle
        free = (~wide[at[:, :, 0], at[:, :, 1]] | ~inside).all(axis=0)
        u, v, area = u[free], v[free], area[free]
    if not len(area):
        return None
    (a, b), (c, d) = u[0].tolist(), v[0].tolist()
    return int(area[0]), (a, b), (c, d)
