"""Cuts kept apart because of heat: in place by the order, and by waiting where it cannot.

On a thin sheet a contour that is begun where the last one has just ended is cut in hot
metal. The order leaps over neighbours where it can (`heat_distance`, or `heat_seconds` of
travel); where it cannot, the head waits over the pierce point before the beam goes on, if
`heat_wait` says for how long. Both cost time, and that is told (common practice, no source).
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace
from itertools import pairwise

from nestlib.model.layout import Cut, CutPath


def near_ones(path: CutPath, apart: float) -> list[int]:
    """Return which cuts begin nearer than so many mm to where the one before ended.

    Parameters
    ----------
    path : CutPath
        Marks and cuts in the skeleton are left out.
    apart : float
        In mm.

    Returns
    -------
    list of int
        Indices into the cuts of the path.
    """
    through = [(i, c) for i, c in enumerate(path.cuts) if c.role != "mark" and c.of_piece]
    return [i for (_, a), (i, b) in pairwise(through) if math.dist(a.end, b.pierce) < apart]


def with_waits(path: CutPath, apart: float, seconds: float) -> CutPath:
    """Return the path whose head waits so long in s where cuts are not kept apart."""
    near = set(near_ones(path, apart)) if seconds else set()

    def waiting(i: int, cut: Cut) -> Cut:
        return replace(cut, wait=seconds) if i in near else cut

    return replace(path, cuts=tuple(waiting(i, cut) for i, cut in enumerate(path.cuts)))


def told(path: CutPath, usual: CutPath, apart: float) -> Iterator[str]:
    """Yield what keeping a distance costs, and how often it is not kept.

    Parameters
    ----------
    path : CutPath
        The order that keeps it where it can.
    usual : CutPath
        The order for the shortest way.
    apart : float
        The distance in mm.
    """
    more = path.rapid_length - usual.rapid_length
    yield f"heat: keeping {apart:g} mm between cuts takes {more:.0f} mm more travel"
    near = len(near_ones(path, apart))
    if near:
        yield (
            f"heat: cuts that begin nearer than {apart:g} mm to the end of the one before: {near} "
            f"({len(near_ones(usual, apart))} in the shortest order); "
            + (
                f"the head waits there, {path.waiting:g} s in all"
                if path.waiting
                else "let the sheet cool there (heat_wait does)"
            )
        )
