"""Area and centre of mass of what contours enclose, arcs included.

A polygon's moments are sums over its edges. Between an arc and its chord lies a circular
segment; measured from the middle of the circle its first moment is c³/12 along the line
to the middle of the arc, where c is the chord, since its area R² (θ - sin θ) / 2 times
the distance 4 R sin³(θ/2) / (3 (θ - sin θ)) of its centre is (2/3) (R sin(θ/2))³.
"""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from nestlib.model.contour import Contour, FloatArray

#: Flatter arcs are taken for parabolas, since the middle of their circle is far away.
_FLAT = 1e-4


def centre_of_mass(outer: Contour, holes: Iterable[Contour] = ()) -> tuple[float, float]:
    """Return the centre of mass of a flat piece.

    Parameters
    ----------
    outer : Contour
        Closed, in either direction.
    holes : iterable of Contour
        Closed, inside of it.

    Returns
    -------
    (float, float)
        In mm; it need not lie on the metal.

    Examples
    --------
    >>> x, y = centre_of_mass(Contour([(0, 0), (20, 0)], [1, 0]))  # half a disc of radius 10
    >>> round(x, 6), round(y, 6)
    (10.0, -4.244132)
    """
    reference = outer.points[0]
    area, moment = _moments(outer, reference)
    for hole in holes:
        less, moved = _moments(hole, reference)
        area, moment = area - less, moment - moved
    x, y = reference + (moment / area if area else 0.0)
    return float(x), float(y)


def _moments(contour: Contour, reference: FloatArray) -> tuple[float, FloatArray]:
    """Area in mm² and first moments (2,) in mm³ about a reference, as if run ccw."""
    a, b, bulge = contour.segments
    a, b = a - reference, b - reference
    cross = a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]
    chord = np.hypot(*(b - a).T)
    area, height = _circular_segments(chord, bulge)
    out = np.stack([(b - a)[:, 1], -(b - a)[:, 0]], axis=1) / np.where(chord, chord, 1.0)[:, None]
    centres = (a + b) / 2 + out * height[:, None]
    whole = float(cross.sum() / 2 + area.sum())
    moment = ((a + b) * cross[:, None]).sum(axis=0) / 6 + (centres * area[:, None]).sum(axis=0)
    sign = 1.0 if whole >= 0 else -1.0
    return sign * whole, sign * moment


def _circular_segments(chord: FloatArray, bulge: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Signed areas, and signed distances of their centres from the chord, to its right."""
    flat = np.abs(bulge) < _FLAT
    b = np.where(flat, 1.0, bulge)
    angle, radius = 4 * np.arctan(np.abs(b)), chord * (1 + b**2) / (4 * np.abs(b))
    area = radius**2 * (angle - np.sin(angle)) / 2
    safe = np.where(area, area, 1.0)
    height = chord**3 / 12 / safe - radius * np.cos(angle / 2)
    # A parabola over the chord c of height b c / 2: two thirds of the box, centre at 2/5.
    area = np.where(flat, np.abs(bulge) * chord**2 / 3, area)
    height = np.where(flat, np.abs(bulge) * chord / 5, height)
    return np.sign(bulge) * area, np.sign(bulge) * height
