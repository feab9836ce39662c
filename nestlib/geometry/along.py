"""Places and stretches of a contour by the length along it."""

from __future__ import annotations

from functools import cached_property

import numpy as np

from nestlib.geometry.arcs import arc_angle, arc_bulge, arc_point
from nestlib.model.contour import Contour, FloatArray
from nestlib.model.layout import Cut


class Along:
    """A contour measured from its first vertex, in its own direction.

    Parameters
    ----------
    contour : Contour
        Closed or open.
    """

    def __init__(self, contour: Contour) -> None:
        self.contour = contour = _without_repeats(contour)
        a, b, bulge = contour.segments
        chord, self.angles = np.hypot(*(b - a).T), 4 * np.arctan(bulge)
        half = np.where(bulge != 0, self.angles / 2, 1.0)
        #: Length of each segment, shape (m,), in mm.
        self.lengths = np.where(bulge != 0, chord * half / np.sin(half), chord)
        #: Where each segment begins, and the whole length, shape (m + 1,).
        self.marks = np.concatenate([[0.0], np.cumsum(self.lengths)])

    @cached_property
    def headings(self) -> tuple[FloatArray, FloatArray]:
        """Directions at the start and at the end of each segment, (m,), in radians."""
        a, b, _ = self.contour.segments
        middle = np.arctan2(*(b - a).T[::-1])
        return middle - self.angles / 2, middle + self.angles / 2

    @cached_property
    def turns(self) -> FloatArray:
        """Change of direction where each segment begins, (m,), in radians, -π to π."""
        first, last = self.headings
        return np.asarray((first - np.roll(last, 1) + np.pi) % (2 * np.pi) - np.pi)

    def segment(self, at: FloatArray) -> np.ndarray[tuple[int], np.dtype[np.intp]]:
        """Return on which segment each place lies."""
        found = np.searchsorted(self.marks, at, side="right") - 1
        return np.clip(found, 0, len(self.lengths) - 1)

    def places(self, at: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return points (n, 2) and directions (n,) at lengths along the contour."""
        a, b, bulge = self.contour.segments
        k = self.segment(at)
        share = (at - self.marks[k]) / np.where(self.lengths[k], self.lengths[k], 1.0)
        points = [
            arc_point(a[i], b[i], float(bulge[i]), float(s)) for i, s in zip(k, share, strict=True)
        ]
        return np.array(points).reshape(-1, 2), self.headings[0][k] + share * self.angles[k]

    def stretch(self, start: float, end: float) -> Contour:
        """Return what lies between two lengths along the contour, as an open contour.

        Parameters
        ----------
        start, end : float
            In mm, ``0 <= start < end <= length``.
        """
        a, b, bulge = self.contour.segments
        inside = (self.marks[1:] > start) & (self.marks[:-1] < end) & (self.lengths > 0)
        points, bulges = [], []
        for i in np.flatnonzero(inside):
            low = max(0.0, (start - self.marks[i]) / self.lengths[i])
            whole = end >= self.marks[i + 1]
            high = 1.0 if whole else (end - self.marks[i]) / self.lengths[i]
            curve = float(bulge[i])
            points.append(arc_point(a[i], b[i], curve, low))
            bulges.append(arc_bulge((high - low) * arc_angle(curve)))
            # Exactly the vertex, or rounding would tear open what is closed.
            last = tuple(b[i].tolist()) if whole else arc_point(a[i], b[i], curve, high)
        return Contour([*points, last], [*bulges, 0.0], closed=False)


def _without_repeats(contour: Contour) -> Contour:
    """Without segments of no length, which have no direction."""
    a, b, _ = contour.segments
    repeated = (a == b).all(axis=1)
    if not repeated.any() or repeated.all() or not contour.closed:
        return contour
    return Contour(contour.points[~repeated], contour.bulges[~repeated])


def joint_contours(cut: Cut) -> list[Contour]:
    """Return what is left uncut of a contour: joints, and a gap at its end."""
    gaps = [(j.at - j.gap / 2, j.at + j.gap / 2) for j in cut.joints]
    if not gaps and not cut.end_gap:
        return []
    along = Along(cut.contour)
    whole = float(along.marks[-1])
    gaps += [(whole - cut.end_gap, whole)] if cut.end_gap else []
    return [along.stretch(a, b) for a, b in gaps]


def run_out(cut: Cut) -> Contour | None:
    """Return what is cut beyond the contour: the over-cut along it and the lead-out."""
    if not cut.over_cut:
        return cut.lead_out
    over = Along(cut.contour).stretch(0.0, cut.over_cut)
    return over if cut.lead_out is None else chained(over, cut.lead_out)


def chained(one: Contour, other: Contour) -> Contour:
    """Return two open contours as one: the second begins where the first ends."""
    points = [*one.points[:-1], *other.points]
    return Contour(points, [*one.bulges[:-1], *other.bulges], closed=False)


def cut_stretches(cut: Cut) -> list[Contour]:
    """Return what the beam cuts of a contour, in cutting order, without its lead.

    The contour itself if nothing of it is left uncut, else open contours from joint to joint.
    """
    if not cut.joints and not cut.end_gap:
        return [cut.contour]
    along = Along(cut.contour)
    starts = [0.0, *(j.at + j.gap / 2 for j in cut.joints)]
    ends = [*(j.at - j.gap / 2 for j in cut.joints), float(along.marks[-1]) - cut.end_gap]
    return [along.stretch(a, b) for a, b in zip(starts, ends, strict=True)]
