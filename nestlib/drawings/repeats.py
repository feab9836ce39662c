"""The same part, drawn several times."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Container, Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from nestlib.geometry.transform import moved, turned, turning
from nestlib.model import Contour, Part
from nestlib.model.contour import FloatArray

ComplexArray = NDArray[np.complex128]

#: Parts are the same if no contour strays further than this, in mm.
SAME = 1e-3


def unrepeated(parts: Sequence[Part], apart: Container[int] = ()) -> tuple[list[Part], list[int]]:
    """Count parts that are drawn again, turned or not, as one part each.

    A mirrored one is another part, for the sheet may have two different faces.

    Parameters
    ----------
    parts : sequence of Part
        In reading order.
    apart : container of int
        Indices of parts that are never counted together, because something is wrong.

    Returns
    -------
    list of Part
        Different parts, each as it is drawn first; `quantity` says how often it is drawn.
    list of int
        For each part that was given, the index of the one that stands for it.
    """
    known: list[Part] = []
    stands: list[int] = []
    by_make: dict[tuple[int, ...], list[int]] = defaultdict(list)
    for i, part in enumerate(parts):
        alike = [] if i in apart else [k for cell in _cells(part) for k in by_make[cell]]
        same = next((k for k in alike if _same(known[k], part)), None)
        if same is None:
            same = next((k for k in alike if _same_turned(known[k], part)), None)
        if same is None:
            same = len(known)
            known.append(part)
            if i not in apart:
                by_make[_cells(part)[0]].append(same)
        else:
            known[same] = replace(known[same], quantity=known[same].quantity + part.quantity)
        stands.append(same)
    return known, stands


def _cells(part: Part) -> list[tuple[int, ...]]:
    """Where in a grid of lengths to look for the same part: its own cell, then those beside."""
    make = (len(part.outer), len(part.inners), len(part.marks))
    cell = int(part.outer.length // (4 * SAME * len(part.outer)))
    return [(*make, cell + i) for i in (0, -1, 1)]


def _same_turned(a: Part, b: Part) -> bool:
    """Whether some turn lays one part on the other."""
    here, there = _anchors(a), _anchors(b)
    far, far_there = np.sort(np.abs(here)), np.sort(np.abs(there))
    if far.shape != far_there.shape or not far.size or far[-1] < SAME:
        return False  # discs and rings look the same in every turn
    if not np.allclose(far, far_there, rtol=0, atol=2 * SAME):
        return False
    pivot = _rarest(here)
    matches = there[np.abs(np.abs(there) - abs(pivot)) < 2 * SAME]
    turns = np.unique(np.round(np.degrees(np.angle(pivot / matches)), 9))
    return any(_same(a, _laid_on(a, b, float(turn))) for turn in turns)


def _anchors(part: Part) -> ComplexArray:
    """Points that turn with a part, seen from the middle of its outer contour.

    Vertices, and the centre of a circle: its vertices may lie anywhere.
    """
    contours = (part.outer, *part.inners, *part.marks)
    points = [c.points.mean(axis=0, keepdims=True) if c.is_circle else c.points for c in contours]
    x, y = (np.concatenate(points) - _middle(part)).T
    return np.asarray(x + 1j * y, dtype=np.complex128)


def _rarest(anchors: ComplexArray) -> complex:
    """An anchor of which few others have the distance, so that few turns are to be tried."""
    far = np.abs(anchors)
    order = np.sort(far)
    alike = order.searchsorted(far + 2 * SAME) - order.searchsorted(far - 2 * SAME)
    alike[far < far.max() / 4] = len(far) + 1  # too near to tell the turn well
    return complex(anchors[alike.argmin()])


def _middle(part: Part) -> FloatArray:
    return np.asarray(part.outer.points.mean(axis=0))


def _laid_on(a: Part, b: Part, turn: float) -> Part:
    """The second part, turned, with its middle where that of the first one is."""
    dx, dy = _middle(a) - _middle(b) @ turning(turn)

    def laid(contour: Contour) -> Contour:
        return moved(turned(contour, turn), float(dx), float(dy))

    inners, marks = (tuple(laid(c) for c in contours) for contours in (b.inners, b.marks))
    return replace(b, outer=laid(b.outer), inners=inners, marks=marks)


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
    if not _near(a.points.mean(axis=0), b.points.mean(axis=0)):
        return False
    if a.is_circle and b.is_circle:
        return True  # with equal centres and lengths; they may start anywhere
    if a.closed:
        b = b.oriented(ccw=a.signed_area > 0)
        gaps = np.hypot(*(b.points - a.points[0]).T)
        b = b.starting_at(int(gaps.argmin()))
    elif np.hypot(*(a.points[0] - b.points[0])) > SAME:
        b = b.reversed()
    return _near(a.points, b.points) and _near(_middles(a), _middles(b))


def _near(a: FloatArray, b: FloatArray) -> bool:
    return bool(np.abs(a - b).max() <= SAME)


def _middles(contour: Contour) -> FloatArray:
    """Points halfway along each segment."""
    starts, ends, bulges = contour.segments
    chords = ends - starts
    # A counter-clockwise arc lies to the right of its chord, bulge / 2 chords away.
    return (starts + ends) / 2 + np.column_stack([chords[:, 1], -chords[:, 0]]) * (
        bulges[:, None] / 2
    )
