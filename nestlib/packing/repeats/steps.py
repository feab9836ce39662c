"""Two steps in the plane and the lattice that they span."""

from __future__ import annotations

import numpy as np

from nestlib.packing.kernels import FloatArray


def reduced(steps: FloatArray) -> FloatArray:
    """Return the two shortest steps of the same lattice, by Lagrange and Gauss.

    Parameters
    ----------
    steps : ndarray, shape (2, 2)
        Two steps, not along one line.

    Examples
    --------
    >>> reduced(np.array([(1.0, 0.0), (5.0, 1.0)]))
    array([[1., 0.],
           [0., 1.]])
    """
    u, v = sorted((np.array(s, dtype=float) for s in steps), key=lambda s: float(s @ s))
    while True:
        v = v - round(float(u @ v) / float(u @ u)) * u
        if v @ v >= u @ u * (1 - 1e-12):
            return np.array([u, v])
        u, v = v, u


def multiples(steps: FloatArray, start: FloatArray, reach: FloatArray, most: int) -> FloatArray:
    """Return how often to take each step from a start to get near (0, 0).

    Parameters
    ----------
    steps : ndarray, shape (2, 2)
        The steps.
    start : ndarray, shape (2,)
        Where to start.
    reach : ndarray, shape (2,)
        What is near along x and along y.
    most : int
        No step is taken more often than this.

    Returns
    -------
    ndarray, shape (n, 2)
        Whole numbers.
    """
    corners = np.array([(x, y) for x in (-1, 1) for y in (-1, 1)]) * reach - start
    ends = corners @ np.linalg.inv(steps)
    low = np.maximum(np.ceil(ends.min(axis=0) - 1e-9), -most)
    high = np.minimum(np.floor(ends.max(axis=0) + 1e-9), most)
    ranges = (np.arange(a, b + 1) for a, b in zip(low, high, strict=True))
    grid = np.stack(np.meshgrid(*ranges, indexing="ij"), axis=-1).reshape(-1, 2)
    return np.asarray(grid[(np.abs(grid @ steps + start) <= reach * (1 + 1e-9)).all(axis=1)])
