"""What pieces take of a sheet, so that no remnant can be made of it.

A remnant lies beyond all pieces of its sheet, to the right of them or above. So what it
cannot be is at least the area of the pieces; if it may have steps, no more is claimed.
Without, in a rectangular room it is also a strip from the left, as long as the pieces reach,
or one from below. On a line across the strip
from the left the heights of the pieces fit into the room, and so they do after a dual
feasible function; along the strip that adds up to widths times functions of heights.

References
----------
S. P. Fekete, J. Schepers, "A general framework for bounds for higher-dimensional
orthogonal packing problems", Mathematical Methods of Operations Research 60 (2004)
311-329.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from nestlib.packing.bounds.bodies import SLACK
from nestlib.packing.bounds.case import Case
from nestlib.packing.bounds.dual_feasible import cores_of, functions_of
from nestlib.packing.bounds.weighting import ROUNDING, WHOLE, Weighting

FloatArray = NDArray[np.float64]


@dataclass(frozen=True)
class Taken:
    """What pieces take of containers.

    Parameters
    ----------
    arguments : list of Weighting
        A part of a container holds no more than this part of its capacity.
    least : list of float
        Part of each kind of container that any piece takes.
    """

    arguments: list[Weighting]
    least: list[float]


def taken(case: Case, *, by_area_alone: bool = False) -> Taken:
    """Find out what pieces take of containers.

    A part is one of the metal of a container, or of the box around its room if that is
    larger: of both, what is left is no smaller a part than of one alone.

    Parameters
    ----------
    case : Case
        What has to lie where.
    by_area_alone : bool
        Whether remnants may have steps: then no more is known than that they are not where
        the pieces are.
    """
    areas = _areas(case)
    if by_area_alone:
        wholes = [s.whole for s in case.spaces]
        return Taken([_argument(areas, wholes)], [0.0] * len(case.spaces))
    strips = [
        _strips(case, k) if s.is_box and not s.outside and any(case.lyings[k]) else areas
        for k, s in enumerate(case.spaces)
    ]
    fits = np.array([[bool(found) for found in by_kind] for by_kind in case.lyings])
    fewest = np.where(fits, strips, np.inf).min(axis=0, initial=np.inf)
    wholes = [s.whole for s in case.spaces]
    arguments = [_argument(weights, wholes) for weights in (areas, fewest)]
    return Taken(arguments, [_least(case, k) for k in range(len(case.spaces))])


def _argument(weights: FloatArray, wholes: Sequence[float]) -> Weighting:
    largest = max(*wholes, 1e-300)
    return Weighting(
        tuple(math.floor(w / largest * WHOLE) for w in weights),
        tuple(math.ceil(w / largest * WHOLE) for w in wholes),
        "what no remnant can be made of",
    )


def _areas(case: Case) -> FloatArray:
    """Areas of the pieces, with the gaps around them where these lie on metal."""
    outside = any(s.outside for s in case.spaces)
    areas = [min(k.shape.area, k.area) if outside else k.area for k in case.kinds]
    return np.array(areas, dtype=float) * (1 - ROUNDING)


def _strips(case: Case, space: int) -> FloatArray:
    """For each kind, the area of the strip that a piece adds to, at least."""
    room = case.spaces[space]
    fitting, starts, cores = cores_of(case, space)
    wide, high = functions_of(case, space, cores)
    sizes = np.array([room.width, room.height])
    shares = np.minimum(cores / sizes, 1.0) * (1 - ROUNDING)
    upright, level = shares[:, 0] * high, wide * shares[:, 1]
    numbers = np.array(case.numbers)[fitting]
    # Both strips have to be long, so of both functions the best pair counts.
    found = np.minimum(upright[:, None], level[None])
    least = np.minimum.reduceat(found, starts, axis=2)
    least[:, :, case.nested[fitting].any(axis=1)] = 0.0
    best = np.unravel_index(int((least @ numbers).argmax()), least.shape[:2])
    result = np.zeros(len(case.kinds))
    result[fitting] = least[best] * room.width * room.height
    return result


def _least(case: Case, space: int) -> float:
    """Part of a container that any piece takes, however it lies."""
    room = case.spaces[space]
    sides = [
        min(o.width / room.width, o.height / room.height)
        for lyings in case.lyings[space]
        for o in lyings
        if room.is_box and not room.outside
    ]
    return min(sides, default=0.0) * room.width * room.height / room.whole * (1 - SLACK)
