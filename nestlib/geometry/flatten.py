"""Lines instead of arcs, on the side that one asks for."""

from __future__ import annotations

import math
from typing import Literal

import numpy as np

from nestlib.geometry.arcs import arc_angle, arc_centre
from nestlib.model.contour import Contour, FloatArray
from nestlib.tolerances import CHORD

Side = Literal["on", "left", "right"]


def flatten(contour: Contour, chord: float = CHORD, side: Side = "on") -> FloatArray:
    """Replace arcs by straight lines.

    Chords lie inside their circle and tangents outside of it, so which of the two is
    taken decides the side.

    Parameters
    ----------
    contour : Contour
        Closed or open.
    chord : float
        Greatest distance in mm between an arc and its lines.
    side : {"on", "left", "right"}
        ``"on"``: all vertices lie on the curve. ``"left"``: no line lies to the right of
        the curve, seen in its direction; so a counter-clockwise contour shrinks.
        ``"right"``: the mirror image of this.

    Returns
    -------
    ndarray, shape (n, 2)
        Vertices; a closed contour does not repeat its first.
    """
    pieces = [
        _along_arc(a, b, float(bulge), chord, side) if bulge else a[None, :]
        for a, b, bulge in zip(*contour.segments, strict=True)
    ]
    if not contour.closed:
        pieces.append(contour.points[-1][None, :])
    return np.concatenate(pieces)


def _along_arc(
    start: FloatArray, end: FloatArray, bulge: float, chord: float, side: Side
) -> FloatArray:
    """Vertices from the start of an arc up to, but without, its end."""
    centre = np.array(arc_centre(start, end, bulge))
    first = start - centre
    radius = math.hypot(*first)
    # A counter-clockwise arc has its circle on the left: chords lie left, tangents right.
    outside = side != "on" and (side == "right") == (bulge > 0)
    if outside:
        n = _pieces(math.acos(radius / (radius + chord)), bulge)
        half = arc_angle(bulge) / (2 * n)
        corners = _rotated(first / math.cos(half), half * np.arange(1.0, 2 * n, 2.0))
        return np.concatenate([start[None, :], centre + corners])
    n = _pieces(math.acos(max(-1.0, 1 - chord / radius)), bulge)
    on_arc = _rotated(first, arc_angle(bulge) / n * np.arange(float(n)))
    on_arc[0] = first
    return np.asarray(centre + on_arc)


def _pieces(half_angle: float, bulge: float) -> int:
    """How many lines an arc needs if each may span twice `half_angle`; at least 2.

    Two, because a circle is two semicircles and must not collapse to a line, and
    because a tangent polygon needs less than a half turn for each line.
    """
    return max(2, math.ceil(abs(arc_angle(bulge)) / (2 * max(half_angle, 1e-4)) - 1e-9))


def _rotated(vector: FloatArray, angles: FloatArray) -> FloatArray:
    cos, sin = np.cos(angles), np.sin(angles)
    return np.stack([cos * vector[0] - sin * vector[1], sin * vector[0] + cos * vector[1]], axis=1)
