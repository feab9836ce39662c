"""Full circles that were drawn in pieces."""

from __future__ import annotations

import math

import numpy as np

from nestlib.geometry.arcs import arc_angle, arc_centre
from nestlib.model.contour import Contour

#: Arcs with centres and radii this close belong to one circle, in mm.
_SAME = 1e-6


def as_circle(contour: Contour) -> Contour:
    """Return a full circle if that is what the arcs of a contour make up, else the contour.

    Parameters
    ----------
    contour : Contour
        Closed.

    Returns
    -------
    Contour
        Made by `Contour.circle`, or the one that was given.

    Examples
    --------
    >>> quarters = Contour([(5, 0), (0, 5), (-5, 0), (0, -5)], [math.tan(math.pi / 8)] * 4)
    >>> as_circle(quarters).is_circle
    True
    """
    starts, ends, bulges = contour.segments
    if contour.is_circle or not ((bulges > 0).all() or (bulges < 0).all()):
        return contour
    if abs(sum(abs(arc_angle(float(b))) for b in bulges) - 2 * math.pi) > 1e-6:
        return contour
    centres = [arc_centre(a, b, float(g)) for a, b, g in zip(starts, ends, bulges, strict=True)]
    centre = np.mean(centres, axis=0)
    radii = np.hypot(*(starts - centre).T)
    if np.ptp(radii) > _SAME or np.abs(centres - centre).max() > _SAME:
        return contour
    return Contour.circle((float(centre[0]), float(centre[1])), float(radii.mean()))
