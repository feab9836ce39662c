"""What to do about contours that are open: join their ends, or draw what is missing."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from scipy.spatial import cKDTree

from nestlib.drawings.chains import Run
from nestlib.tolerances import WIDEST_GAP


def open_gaps(runs: Sequence[Run]) -> list[float]:
    """Return how far the ends of each open contour are from what they could be joined to.

    Parameters
    ----------
    runs : sequence of Run
        All that are open.

    Returns
    -------
    list of float
        For each, in mm, the wider of the two ways from its ends to the nearest other end, be
        it its own or that of another contour.
    """
    if not runs:
        return []
    ends = np.concatenate([run.contour.points[[0, -1]] for run in runs])
    nearest = cKDTree(ends).query(ends, k=2)[0][:, 1]
    return [float(gap) for gap in nearest.reshape(-1, 2).max(axis=1)]


def closing_remedy(gap: float) -> str:
    """Return what to do about an open contour whose ends are so far from any other end.

    Parameters
    ----------
    gap : float
        In mm.

    Examples
    --------
    >>> closing_remedy(0.5)
    'Close the contour in the drawing, or join gaps below 0.6 mm: join = 0.6 in the job, or --join 0.6'
    >>> closing_remedy(50.0)
    'Draw the missing line, or delete the contour if it should not be cut'
    """  # noqa: E501
    if gap >= WIDEST_GAP:
        return "Draw the missing line, or delete the contour if it should not be cut"
    join = f"{_above(gap):g}"
    return (
        f"Close the contour in the drawing, or join gaps below {join} mm: join = {join} in the"
        f" job, or --join {join}"
    )


def _above(gap: float) -> float:
    """The next number with one digit."""
    digit = 10.0 ** math.floor(math.log10(max(gap, 1e-3)))
    return round((math.floor(gap / digit + 1e-9) + 1) * digit, 6)
