"""What is left of a sheet and worth keeping.

Terms
-----
straight remnant
    All beyond one cut across the whole sheet, upright to the right of all parts and lead-ins
    or level above them.
stepped remnant
    All beyond a staircase that goes down from left to right along the parts: a point is
    kept if no part reaches both above it and to the right of it. Steps that would leave a
    tongue narrower than a remnant may be are filled up, small ones too, so that the cut
    has few corners.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from itertools import pairwise

import shapely
from shapely import Polygon, box

from nestlib.geometry import open_ring, polygons, region
from nestlib.model import Contour, Remnant, Sheet, Spacing

#: So many steps at most, and none that brings less than this part of the sheet.
_STEPS, _WORTH_A_STEP = 4, 0.01

Box = tuple[float, float, float, float]
Point = tuple[float, float]


def leftover(
    sheet: Sheet,
    used: Sequence[Contour],
    spacing: Spacing,
    least_side: float,
    name: str,
    *,
    stepped: bool = False,
) -> Remnant | None:
    """Return the largest piece that one cut can free.

    The cut leaves its own kerf and the usual metal beside the last slot.

    Parameters
    ----------
    sheet : Sheet
        What the parts lie on.
    used : sequence of Contour
        Outer contours and lead-ins of all pieces, where they lie on the sheet.
    spacing : Spacing
        Distances to keep.
    least_side : float
        Neither side of the remnant's bounding box may be shorter, in mm.
    name : str
        Of the remnant.
    stepped : bool
        Whether the cut may be a staircase, where that leaves more.

    Returns
    -------
    Remnant or None
        None if nothing is worth keeping. Holes and keep-out zones of the sheet are never
        part of it.
    """
    x0, y0, x1, y1 = bounds = sheet.outline.bounds
    away = spacing.between_parts
    taken = [c.bounds for c in (*used, *sheet.holes, *sheet.keep_outs)]
    ends = [(b[2] + away, b[3] + away) for b in taken]
    right = max((x for x, _ in ends), default=x0)
    above = max((y for _, y in ends), default=y0)
    whole = region(sheet.outline, side="inside")
    windows = [_window((right, y0, x1, y1)), _window((x0, above, x1, y1))]
    if stepped:
        windows.append(_beyond(bounds, staircase(bounds, ends, least_side)))
    pieces = (piece for window in windows for piece in _pieces(whole, window, least_side))
    best = max(pieces, key=lambda p: p.area, default=None)
    return (
        None
        if best is None
        else Remnant(name, Contour(open_ring(best.exterior)).oriented(ccw=True))
    )


def staircase(bounds: Box, ends: Iterable[Point], least_side: float) -> list[Point]:
    """Return the outstanding corners of a staircase, from left to right.

    Parameters
    ----------
    bounds : (float, float, float, float)
        Of the sheet, in mm.
    ends : iterable of (float, float)
        How far to the right and up each thing on it reaches, gap included.
    least_side : float
        No part of what is left beyond may be narrower, in mm.

    Returns
    -------
    list of (float, float)
        x grows and y falls from each to the next.

    Examples
    --------
    >>> staircase((0, 0, 1000, 800), [(300, 500), (600, 200), (100, 100)], 100)
    [(300, 500), (600, 200)]
    >>> staircase((0, 0, 1000, 800), [(300, 750), (600, 200)], 100)
    [(300, 800), (600, 200)]
    """
    x0, y0, x1, y1 = bounds
    near = [(x if x <= x1 - least_side else x1, y if y <= y1 - least_side else y1) for x, y in ends]
    corners: list[Point] = []
    for x, y in sorted(near, reverse=True):
        if not corners or y > corners[-1][1]:
            corners.append((x, y))
    corners.reverse()
    least = _WORTH_A_STEP * (x1 - x0) * (y1 - y0)
    while len(corners) > 1:
        losses = [(b[0] - a[0]) * (a[1] - b[1]) for a, b in pairwise(corners)]
        i = min(range(len(losses)), key=losses.__getitem__)
        if len(corners) <= _STEPS and losses[i] >= least:
            break
        corners[i : i + 2] = [(corners[i + 1][0], corners[i][1])]
    return corners


def _beyond(bounds: Box, corners: Sequence[Point]) -> Polygon:
    """All of a sheet's box that lies beyond a staircase."""
    x0, y0, _, _ = bounds
    return box(*bounds).difference(shapely.union_all([box(x0, y0, x, y) for x, y in corners]))


def _window(window: Box) -> Polygon:
    x0, y0, x1, y1 = window
    return box(*window) if x0 < x1 and y0 < y1 else Polygon()


def _pieces(whole: Polygon, window: Polygon, least_side: float) -> Iterator[Polygon]:
    """Pieces of the sheet in a window that are large enough to keep."""
    for piece in polygons(whole.intersection(window)):
        x0, y0, x1, y1 = piece.bounds
        if min(x1 - x0, y1 - y0) >= least_side:
            yield piece
