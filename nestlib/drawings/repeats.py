"""The same part, drawn several times."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Container, Sequence
from dataclasses import replace

import numpy as np

from nestlib.model import Contour, Part
from nestlib.model.contour import FloatArray

#: Parts are the same if no contour strays further than this, in mm.
SAME = 1e-3


def unrepeated(parts: Sequence[Part], apart: Container[int] = ()) -> tuple[list[Part], list[int]]:
    """Count parts that are drawn again, not turned and not mirrored, as one part each.

    Parameters
    ----------
    parts : sequence of Part
        In reading order.
    apart : container of int
        Indices of parts that are never counted together, because something is wrong.

    Returns
    -------
    list of Part
        Different parts; `quantity` says how often each is drawn.
    list of int
        For each part that was given, the index of the one that stands for it.
    """
    known: list[Part] = []
    stands: list[int] = []
    by_size: dict[tuple[int, ...], list[int]] = defaultdict(list)
    for i, part in enumerate(parts):
        alike = [] if i in apart else [k for cell in _cells(part) for k in by_size[cell]]
        same = next((k for k in alike if _same(known[k], part)), None)
        if same is None:
            same = len(known)
            known.append(part)
            if i not in apart:
                by_size[_cells(part)[0]].append(same)
        else:
            known[same] = replace(known[same], quantity=known[same].quantity + part.quantity)
        stands.append(same)
    return known, stands


def _cells(part: Part) -> list[tuple[int, ...]]:
    """Where in a grid of sizes to look for the same part: its own cell, then those around."""
    make = (len(part.outer), len(part.inners), len(part.marks))
    column, row = (int(side // (4 * SAME)) for side in part.size)
    return [(*make, column + i, row + j) for i in (0, -1, 1) for j in (0, -1, 1)]


def _same(a: Part, b: Part) -> bool:
    return (
        _same_contour(a.outer, b.outer)
        and _same_set(a.inners, b.inners)
        and _same_set(a.marks, b.marks)
    )


def _same_set(left: Sequence[Contour], right: Sequence[Contour]) -> bool:
    """Whether each contour of one finds its own match in the other."""
    rest = list(right)
    for contour in left:
        match = next((i for i, c in enumerate(rest) if _same_contour(contour, c)), None)
        if match is None:
            return False
        rest.pop(match)
    return True


def _same_contour(a: Contour, b: Contour) -> bool:
    """Whether two contours have the same course, wherever they start and end."""
    if a.closed != b.closed or len(a) != len(b) or abs(a.length - b.length) > SAME * len(a):
        return False
    if not np.allclose(a.bounds, b.bounds, rtol=0, atol=SAME):
        return False
    if a.closed:
        b = b.oriented(ccw=a.signed_area > 0)
        gaps = np.hypot(*(b.points - a.points[0]).T)
        b = b.starting_at(int(gaps.argmin()))
    elif np.hypot(*(a.points[0] - b.points[0])) > SAME:
        b = b.reversed()
    if a.is_circle and b.is_circle:
        return True  # equal bounds are enough; they may start anywhere
    middles = (_middles(a), _middles(b))
    return np.allclose(a.points, b.points, rtol=0, atol=SAME) and np.allclose(
        *middles, rtol=0, atol=SAME
    )


def _middles(contour: Contour) -> FloatArray:
    """Points halfway along each segment."""
    starts, ends, bulges = contour.segments
    chords = ends - starts
    # A counter-clockwise arc lies to the right of its chord, bulge / 2 chords away.
    return (starts + ends) / 2 + np.column_stack([chords[:, 1], -chords[:, 0]]) * (
        bulges[:, None] / 2
    )
