"""Contours moved, turned and mirrored: lines stay lines and arcs stay arcs."""

from __future__ import annotations

import math

import numpy as np

from nestlib.model.contour import Contour, FloatArray
from nestlib.model.layout import Placement

#: Cosine and sine of the quarter turns, which floating point would give with an error.
_QUARTERS = {0: (1.0, 0.0), 1: (0.0, 1.0), 2: (-1.0, 0.0), 3: (0.0, -1.0)}


def cos_sin(degrees: float) -> tuple[float, float]:
    """Return cosine and sine of an angle, exact for multiples of 90°.

    Examples
    --------
    >>> cos_sin(90)
    (0.0, 1.0)
    """
    quarters, rest = divmod(degrees, 90.0)
    if rest == 0:
        return _QUARTERS[int(quarters) % 4]
    return math.cos(math.radians(degrees)), math.sin(math.radians(degrees))


def turning(degrees: float) -> FloatArray:
    """Return the matrix, shape (2, 2), by which rows of points are turned (``xy @ m``)."""
    cos, sin = cos_sin(degrees)
    return np.array([[cos, sin], [-sin, cos]])


def moved(contour: Contour, dx: float, dy: float) -> Contour:
    """Return the contour moved by (dx, dy) mm."""
    return Contour(contour.points + np.array((dx, dy)), contour.bulges, contour.closed)


def turned(contour: Contour, degrees: float) -> Contour:
    """Return the contour turned counter-clockwise about (0, 0)."""
    return Contour(contour.points @ turning(degrees), contour.bulges, contour.closed)


def mirrored(contour: Contour) -> Contour:
    """Return the contour laid face down: x becomes -x, and its direction turns round."""
    return Contour(contour.points * (-1.0, 1.0), -contour.bulges, contour.closed)


def placed(contour: Contour, placement: Placement) -> Contour:
    """Return a part's contour where a placement puts it on the sheet.

    Notes
    -----
    A flipped contour runs the other way round; use `Contour.oriented` where it matters.
    """
    flipped = mirrored(contour) if placement.flip else contour
    return moved(turned(flipped, placement.rotation), placement.x, placement.y)
