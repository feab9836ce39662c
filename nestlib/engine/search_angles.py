"""Angles at which parts that may turn freely are searched.

A search among few angles is quick and finds layouts that were cut from one piece; more
angles lie denser where there is time to find out how. Which set is best shows only in the
search, so each is tried.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from shapely.geometry import Polygon

from nestlib.engine.catalogue import Kind, Turn, distinct_turns, edges, turned

#: Share of the outline that must run in one direction, or across it, to be set upright by.
_CLEAR = 0.4


class SearchAngles(NamedTuple):
    """Sets of angles for one part that may turn freely, degrees.

    Parameters
    ----------
    drawn, halves, quarters, eighths : tuple of float
        As drawn, and turned by multiples of 180, 90, 45 degrees.
    upright : tuple of float
        Quarter turns after most of its sides have been laid along the axes.
    """

    drawn: tuple[float, ...]
    halves: tuple[float, ...]
    quarters: tuple[float, ...]
    upright: tuple[float, ...]
    eighths: tuple[float, ...]


def search_angles(polygon: Polygon) -> SearchAngles:
    """Return the sets of angles at which a part is searched.

    Examples
    --------
    >>> from shapely import affinity, box
    >>> search_angles(affinity.rotate(box(0, 0, 3, 1), 10)).upright
    (80.0, 170.0, 260.0, 350.0)
    """
    drawn, halves, quarters, eighths = (
        tuple(k * 360.0 / n for k in range(n)) for n in (1, 2, 4, 8)
    )
    tilt = _tilt(polygon)
    return SearchAngles(drawn, halves, quarters, tuple(tilt + q for q in quarters), eighths)


def _tilt(polygon: Polygon) -> float:
    """Return the angle that lays the most sides along the axes, 0 if there is no clear one."""
    x1, y1, x2, y2 = edges(polygon).T
    length = np.hypot(x2 - x1, y2 - y1)
    angle = np.round(-np.degrees(np.arctan2(y2 - y1, x2 - x1)) % 90.0, 7) % 90.0
    distinct, which = np.unique(angle, return_inverse=True)
    total = np.bincount(which, length)
    k = int(np.argmax(total))
    return float(distinct[k]) if total[k] >= _CLEAR * total.sum() else 0.0


def turns_of(
    kind: Kind, angles: Sequence[float], flips: Sequence[bool], width: float
) -> tuple[Turn, ...]:
    """Return those turns of a kind that fit a strip, without repetitions.

    If none of them fits, the turns that it has are kept.
    """
    fitting = []
    for flip in flips:
        for angle in angles:
            _, low, _, high = turned(kind.polygon, angle, flip).bounds
            if high - low <= width * (1.0 + 1e-9):
                fitting.append((angle, flip))
    return distinct_turns(kind.polygon, fitting) if fitting else kind.turns
