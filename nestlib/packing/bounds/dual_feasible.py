"""Dual feasible functions: weights that count large pieces for more than their area.

A function f from lengths to lengths is dual feasible if lengths that fit into a room
together still do after f. Rectangles that lie in a room without overlap then weigh no
more than the room if each weighs f(width) times g(height); areas weigh no more than the
room if each weighs f(area). What is turned counts with the least of its weights, and what
is no rectangle with those of its core.

References
----------
S. P. Fekete, J. Schepers, "New classes of fast lower bounds for bin packing problems",
Mathematical Programming 91 (2001) 11-31.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from nestlib.packing.bounds.case import Case
from nestlib.packing.bounds.weighting import WHOLE, Weighting, shares

IntArray = NDArray[np.int64]
FloatArray = NDArray[np.float64]

#: A room has at most this many units of length.
_UNITS = 10**6

#: Lengths within this part of a unit count as whole. Overlaps that the packer takes for
#: touching are smaller.
_NEAR = 2e-4

#: Parameters that are tried: of `steps`, and how many thresholds of the others.
_STEPS, _THRESHOLDS = range(1, 7), 9

#: How many of all arguments are kept for one kind of container.
_KEPT = 6


def steps(lengths: IntArray, room: int, k: int) -> FloatArray:
    """Round up to steps of 1 / k, down between them: u^(k) of Fekete and Schepers.

    Parameters
    ----------
    lengths : ndarray of int
        In units, 0 to `room`.
    room : int
        Length of the room.
    k : int
        How many steps, 1 or more.

    Returns
    -------
    ndarray of float
        From 0 to 1.

    Examples
    --------
    >>> steps(np.array([4, 5, 6]), 10, 1)
    array([0. , 0.5, 1. ])
    """
    whole = lengths * (k + 1) % room == 0
    return np.where(whole, lengths / room, (lengths * (k + 1)) // room / k)


def extremes(lengths: IntArray, room: int, threshold: int) -> FloatArray:
    """Round what leaves less than a threshold up, what is below it down: U^(epsilon).

    Examples
    --------
    >>> extremes(np.array([2, 3, 7, 8]), 10, 3)
    array([0. , 0.3, 0.7, 1. ])
    """
    middle = np.where(lengths < threshold, 0.0, lengths / room)
    return np.where(lengths > room - threshold, 1.0, middle)


def slots(lengths: IntArray, room: int, threshold: int) -> FloatArray:
    """Count in pieces of a threshold's length, large ones by what they leave: phi^(epsilon).

    Examples
    --------
    >>> slots(np.array([2, 3, 5, 8]), 10, 3)
    array([0.        , 0.33333333, 0.33333333, 1.        ])
    """
    most = room // threshold
    small = np.where(lengths < threshold, 0.0, 1.0 / most)
    return np.where(2 * lengths > room, 1.0 - (room - lengths) // threshold / most, small)


def transformed(lengths: IntArray, room: int) -> FloatArray:
    """Return all functions that are tried of some lengths.

    Parameters
    ----------
    lengths : ndarray of int, shape (n,)
        In units, 0 to `room`.
    room : int
        Length of the room.

    Returns
    -------
    ndarray, shape (functions, n)
        The first is the share itself.
    """
    return np.array(list(_functions(lengths, room)))


def _functions(lengths: IntArray, room: int) -> Iterator[FloatArray]:
    yield lengths / room
    yield from (steps(lengths, room, k) for k in _STEPS)
    half = np.unique(np.minimum(lengths, room - lengths))
    limits = np.unique(np.concatenate([half, half + 1]))
    limits = limits[(limits > 0) & (2 * limits < room)]
    chosen = np.unique(np.linspace(0, len(limits) - 1, _THRESHOLDS).astype(int))
    for threshold in limits[chosen] if len(limits) else ():
        yield extremes(lengths, room, int(threshold))
        yield slots(lengths, room, int(threshold))


def in_units(lengths: FloatArray, room: float, unit: float, pieces: int) -> tuple[IntArray, int]:
    """Return lengths in whole units, and that of the room.

    A length just below a whole number counts as that number. The room is made longer by
    as much as all lengths in a row may have gained.

    Parameters
    ----------
    lengths : ndarray
        In any unit.
    room : float
        Length of the room.
    unit : float
        In the same unit.
    pieces : int
        How many pieces there are at most.
    """
    longest = int(np.floor(room / unit + (pieces + 1) * _NEAR))
    return np.minimum(np.floor(lengths / unit + _NEAR / 2).astype(np.int64), longest), longest


def cores_of(case: Case, space: int) -> tuple[list[int], IntArray, FloatArray]:
    """Return the kinds that fit, where the cores of each begin, and all these cores.

    Parameters
    ----------
    case : Case
        What has to lie where.
    space : int
        Which kind of container.
    """
    lyings = case.lyings[space]
    fitting = [i for i, found in enumerate(lyings) if found]
    starts = np.cumsum([0, *(len(lyings[i]) for i in fitting[:-1])])
    return fitting, starts, np.array([o.core for i in fitting for o in lyings[i]])


def cores_in_units(case: Case, space: int) -> tuple[list[list[tuple[int, int]]], tuple[int, int]]:
    """Return for each kind the different cores in whole units, and the box of the room.

    Parameters
    ----------
    case : Case
        What has to lie where.
    space : int
        Which kind of container.
    """
    room, lyings = case.spaces[space], case.lyings[space]
    unit = _unit(case, space)
    wide, high = room.width, room.height

    def whole(lengths: list[float], size: float) -> tuple[list[int], int]:
        found, longest = in_units(np.array(lengths, dtype=float), size, unit, case.pieces)
        return [int(n) for n in found], longest

    kinds = []
    for ways in lyings:
        widths, _ = whole([o.core[0] for o in ways], wide)
        heights, _ = whole([o.core[1] for o in ways], high)
        kinds.append(list(dict.fromkeys(zip(widths, heights, strict=True))))
    return kinds, (whole([], wide)[1], whole([], high)[1])


def _unit(case: Case, space: int) -> float:
    room = case.spaces[space]
    return float(10.0 ** np.ceil(np.log10(max(room.width, room.height, 1e-300))) / _UNITS)


def functions_of(case: Case, space: int, cores: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return all functions of the widths and of the heights of cores, as parts of a room.

    Parameters
    ----------
    case : Case
        What has to lie where.
    space : int
        Which kind of container.
    cores : ndarray, shape (n, 2)
        Widths and heights.
    """
    room = case.spaces[space]
    unit = _unit(case, space)
    wide, high = (
        transformed(*in_units(cores[:, axis], size, unit, case.pieces))
        for axis, size in enumerate((room.width, room.height))
    )
    return wide, high


def weights(case: Case, space: int) -> IntArray:
    """Return weights of which a container holds no more than `WHOLE`.

    Parameters
    ----------
    case : Case
        What has to lie where.
    space : int
        Which kind of container.

    Returns
    -------
    ndarray of int, shape (arguments, kinds)
        0 for what does not fit.
    """
    room = case.spaces[space]
    fitting, starts, cores = cores_of(case, space)
    result = np.zeros((0, len(case.kinds)), dtype=np.int64)
    if not fitting:
        return result
    wide, high = functions_of(case, space, cores)
    least = np.minimum.reduceat(wide[:, None] * high[None], starts, axis=2)
    by_core = least.reshape(-1, len(fitting))
    # A piece may lie in the hole of another, but not in the core of one with such holes.
    by_core[:, case.nested[fitting].any(axis=1)] = 0.0
    areas = np.array(shares([case.kinds[i].area for i in fitting], room.area))
    by_area = transformed(np.clip(areas, 0, WHOLE), WHOLE)
    found = np.floor(np.concatenate([by_core, by_area]) * (1 - 1e-12) * WHOLE)
    result = np.zeros((len(found), len(case.kinds)), dtype=np.int64)
    result[:, fitting] = found
    return result[np.any(result, axis=1)]


def by_size(case: Case, space: int, rows: IntArray) -> list[Weighting]:
    """Return the strongest arguments.

    Parameters
    ----------
    case : Case
        What has to lie where.
    space : int
        The container for which the weights were made.
    rows : ndarray of int
        `weights` for it.

    Returns
    -------
    list of Weighting
        Containers that are no larger hold no more; others might hold everything.
    """
    totals = rows @ np.array(case.numbers)
    smaller = [_no_larger(case, other, space) for other in range(len(case.spaces))]
    return [
        Weighting(
            tuple(map(int, rows[k])),
            tuple(WHOLE if small else max(int(totals[k]), WHOLE) for small in smaller),
            "widths, heights and areas of large parts",
        )
        for k in np.argsort(-totals, kind="stable")[:_KEPT]
    ]


def _no_larger(case: Case, space: int, than: int) -> bool:
    """Whether all that lies in one container could lie in the box and area of another."""
    a, b = case.spaces[space], case.spaces[than]
    if a.width > b.width or a.height > b.height or a.area > b.area:
        return False
    pairs = zip(case.lyings[space], case.lyings[than], strict=True)
    return all({id(o) for o in mine} <= {id(o) for o in its} for mine, its in pairs)
