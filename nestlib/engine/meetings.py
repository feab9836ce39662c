"""Weights of the pairs that ever met: short lists per part instead of an n x n matrix.

Guided local search: C. Voudouris, E. Tsang, EJOR 113 (1999) 469-499; for cutting and
packing: J. Egeblad, B. K. Nielsen, A. Odgaard, EJOR 183 (2007) 1249-1266.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from nestlib.engine.catalogue import Floats, Ints
from nestlib.engine.kernel import kernel

#: Most partners of one part that are remembered; the least weight gives way.
PARTNERS = 96


class Meetings(NamedTuple):
    """Weights above 1; every pair that is not listed weighs 1.

    Parameters
    ----------
    known : ndarray of int64, shape (n,)
        How many partners each part has.
    partner : ndarray of int64, shape (n, m)
        Who they are.
    weight : ndarray, shape (n, m)
        What the pair weighs; both parts hold it.
    """

    known: Ints
    partner: Ints
    weight: Floats


def meetings(parts: int) -> Meetings:
    """Return weights of 1 everywhere."""
    m = min(max(parts - 1, 1), PARTNERS)
    none = np.zeros(parts, dtype=np.int64)
    return Meetings(none, np.zeros((parts, m), dtype=np.int64), np.ones((parts, m)))


@kernel
def spread(met: Meetings, i: int, weights: Floats) -> None:
    """Write the weights of part `i` into a row that holds 1 everywhere."""
    for k in range(met.known[i]):
        weights[met.partner[i, k]] = met.weight[i, k]


@kernel
def gather(met: Meetings, i: int, weights: Floats) -> None:
    """Make the row hold 1 everywhere again."""
    for k in range(met.known[i]):
        weights[met.partner[i, k]] = 1.0


@kernel
def _raise(met: Meetings, i: int, j: int, factor: float) -> None:
    n = met.known[i]
    for k in range(n):
        if met.partner[i, k] == j:
            met.weight[i, k] *= factor
            return
    k = n
    if n < met.partner.shape[1]:
        met.known[i] = n + 1
    else:
        k = int(np.argmin(met.weight[i]))
    met.partner[i, k], met.weight[i, k] = j, factor


@kernel
def raise_weight(met: Meetings, i: int, j: int, factor: float) -> None:
    """Multiply the weight of a pair."""
    _raise(met, i, j, factor)
    _raise(met, j, i, factor)


@kernel
def decay(met: Meetings, factor: float) -> None:
    """Bring every weight nearer to 1 and forget those that reach it."""
    for i in range(met.known.shape[0]):
        k = 0
        while k < met.known[i]:
            w = met.weight[i, k] * factor
            if w > 1.0:
                met.weight[i, k] = w
                k += 1
            else:
                last = met.known[i] - 1
                met.partner[i, k], met.weight[i, k] = met.partner[i, last], met.weight[i, last]
                met.known[i] = last
