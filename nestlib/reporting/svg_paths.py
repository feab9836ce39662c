"""Contours as SVG path data: lines stay lines and arcs arcs."""

from __future__ import annotations

from collections.abc import Callable

from nestlib.geometry.arcs import arc_radius
from nestlib.model import Contour

#: From mm with y up to the picture's coordinates.
View = Callable[[float, float], tuple[float, float]]


def path_data(contour: Contour, view: View, upside_down: bool) -> str:
    """Return the ``d`` of a path.

    Parameters
    ----------
    contour : Contour
        In mm.
    view : callable
        From the contour's coordinates to the picture's, at the same scale.
    upside_down : bool
        Whether the view turns y round, so that arcs run the other way.

    Returns
    -------
    str

    Examples
    --------
    >>> path_data(Contour.circle((5, 0), 5), lambda x, y: (x, -y), True)
    'M10 0A5 5 0 0 0 0 0A5 5 0 0 0 10 0Z'
    """
    steps = ["M" + _pair(view(*contour.points[0]))]
    for a, b, bulge in zip(*contour.segments, strict=True):
        end = _pair(view(*b))
        if not bulge or (a == b).all():
            steps.append(f"L{end}")
            continue
        radius = _number(arc_radius(a, b, float(bulge)))
        # SVG's y runs down: there a positive angle, flag 1, is clockwise to the eye.
        large, sweep = int(abs(bulge) > 1), int((bulge > 0) != upside_down)
        steps.append(f"A{radius} {radius} 0 {large} {sweep} {end}")
    return "".join(steps) + ("Z" if contour.closed else "")


def _pair(point: tuple[float, float]) -> str:
    return f"{_number(point[0])} {_number(point[1])}"


def _number(value: float) -> str:
    """A number to a thousandth, short."""
    text = f"{value:.4f}".rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text
