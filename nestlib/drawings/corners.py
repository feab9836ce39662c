"""Inside corners that come out round because the beam is round.

The beam runs on the waste side, half a kerf beside the contour. Where the waste has a
corner - a concave corner of an outline, any convex corner of a hole - it cannot reach
the tip, and leaves a fillet with the radius of half the kerf.
"""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np

from nestlib.drawings.codes import finding
from nestlib.geometry.arcs import arc_angle, arc_direction, arc_point, arc_radius
from nestlib.model import Contour, Finding, Part
from nestlib.tolerances import CURVE

#: Turns sharper than this are taken for this, in radians: a cusp has no depth of its own.
_SHARPEST = math.radians(175)

Place = tuple[float, float]


def check_corners(part: Part, kerf: float) -> Iterator[Finding]:
    """Find the inside corners that the kerf rounds by more than the drawing's tolerance.

    Parameters
    ----------
    part : Part
        Its outer contour runs counter-clockwise and its holes run clockwise.
    kerf : float
        Width of the cut in mm.

    Yields
    ------
    Finding
        At most one, with all its places, in the coordinates of the part.

    Examples
    --------
    >>> hole = Contour([(1, 1), (1, 9), (9, 9), (9, 1)])
    >>> [f.message for f in check_corners(Part("plate", Contour.rectangle(10, 10), (hole,)), 0.2)]
    ['4 inside corners get the radius 0.1 mm of the beam, up to 0.04 mm of metal stay in the tip']
    """
    corners = [c for contour in (part.outer, *part.inners) for c in _rounded(contour, kerf / 2)]
    if not corners:
        return
    how_many = "1 inside corner gets" if len(corners) == 1 else f"{len(corners)} inside corners get"
    deepest = max(depth for _, depth in corners)
    yield finding(
        "corner-rounded",
        f"{how_many} the radius {kerf / 2:g} mm of the beam, "
        f"up to {deepest:.2f} mm of metal stay in the tip",
        places=[place for place, _ in corners],
        part=part.name,
    )


def _rounded(contour: Contour, beam: float) -> Iterator[tuple[Place, float]]:
    """Places and depths of the corners that a beam of this radius does not reach.

    With the metal on the left of every contour, its corners are the turns to the right.
    """
    segments = [(a, b, float(bulge)) for a, b, bulge in zip(*contour.segments, strict=True)]
    for i, (start, end, bulge) in enumerate(segments):
        # Half a turn at once is the end of a slot, whose width is looked at elsewhere.
        if -1 < bulge < 0 and (radius := arc_radius(start, end, bulge)) < beam:
            depth = _depth(-arc_angle(bulge), beam - radius)
            if depth > CURVE:
                yield arc_point(start, end, bulge, 0.5), depth
        before = segments[i - 1]
        turn = _turn(arc_direction(*before, 1.0), arc_direction(start, end, bulge, 0.0))
        if (depth := _depth(-turn, beam)) > CURVE:
            yield (float(start[0]), float(start[1])), depth


def _turn(before: Place, after: Place) -> float:
    """Angle in radians from one direction to another, positive to the left."""
    cross = before[0] * after[1] - before[1] * after[0]
    return math.atan2(cross, float(np.dot(before, after)))


def _depth(turn: float, radius: float) -> float:
    """How far the tip of a corner lies from a fillet of this radius, in mm; 0 if turned left."""
    if turn <= 0:
        return 0.0
    return radius * (1 / math.cos(min(turn, _SHARPEST) / 2) - 1)
