"""Does every contour bound a region, without crossing or touching itself or another?

Lines and arcs meet only at their ends or middles, or where their lines and circles
meet. So these few points of each two segments that come near each other are worked out,
and whether they lie on both: exactly, without flattening.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

import numpy as np
import shapely
from numpy.typing import NDArray

from nestlib.model import Contour, Violation
from nestlib.tolerances import SAME_POINT
from nestlib.verifying.curves import Complexes, Curve, Numbers, segment_distances
from nestlib.verifying.shapes import polygon_of
from nestlib.verifying.written import WrittenPlan

Indices = NDArray[np.intp]

#: This close to the end that two segments share, they count as one, in mm.
_SHARED = 1e-3

#: Segments joined by less than this follow each other, in mm.
_JOINED = 1e-5


def check_regions(plan: WrittenPlan) -> Iterator[Violation]:
    """Check the contours of parts, sheets and remnants.

    Parameters
    ----------
    plan : WrittenPlan
        As written.

    Yields
    ------
    Violation
    """
    for name, written in plan.parts.items():
        yield from _region(f"the part '{name}'", written.part.outer, written.part.inners)
    for name, sheet in plan.sheets.items():
        yield from _region(f"the sheet '{name}'", sheet.outline)
        for contour in (*sheet.holes, *sheet.keep_outs):
            yield from _region(f"a hole or keep-out zone of the sheet '{name}'", contour)
    for remnant in plan.remnants:
        yield from _region(f"the remnant '{remnant.name}'", remnant.outline)


def meeting_point(curves: Sequence[Curve]) -> complex | None:
    """Return a point where closed curves cross or touch themselves or each other.

    Parameters
    ----------
    curves : sequence of Curve
        Such as the contours of a part.

    Returns
    -------
    complex or None
        None if they do so nowhere.
    """
    whole = _Segments(curves)
    i, j = whole.near()
    if not len(i):
        return None
    points, shared = _candidates(whole, i, j)
    one, other = (whole.curve.part(k) for k in (i, j))
    meets = (_apart(points, one) <= SAME_POINT) & (_apart(points, other) <= SAME_POINT)
    reach = np.minimum(np.abs(one.end - one.start), np.abs(other.end - other.start)) / 4
    reach = np.minimum(reach, _SHARED)
    for end in shared:
        # Where nothing is shared this is NaN, and no point is close to it.
        meets &= ~(np.abs(points - end[:, None]) <= reach[:, None])
    return complex(points[meets][0]) if meets.any() else None


def _region(what: str, outer: Contour, holes: Iterable[Contour] = ()) -> Iterator[Violation]:
    contours = [outer, *holes]
    if any(not c.closed for c in contours):
        yield Violation("contour-open", "", f"a contour of {what} is not closed")
        return
    curves = [Curve.of(c) for c in contours]
    point = meeting_point(curves)
    if point is not None:
        text = f"{what} is no region: its contours cross or touch"
        yield Violation("not-a-region", "", text, (point.real, point.imag))
    elif any(_astray(curves)):
        text = f"{what} is no region: a hole does not lie in its outer contour, or in another hole"
        yield Violation("not-a-region", "", text)


def _astray(curves: Sequence[Curve]) -> Iterator[bool]:
    """Whether each hole lies outside of the first curve or inside of another hole."""
    outer, *holes = [polygon_of(c) for c in curves]
    tree = shapely.STRtree(holes)
    for k, (hole, curve) in enumerate(zip(holes, curves[1:], strict=True)):
        # Contours that do not meet lie in each other or apart: one point tells, and
        # with the areas that of the flattened arcs is beyond doubt.
        slack = (curves[0].flat[1] + curve.flat[1] + SAME_POINT) * curve.length
        yield bool(hole.difference(outer).area > slack)
        inside = tree.query(hole.representative_point(), predicate="within")
        yield any(m != k and holes[m].area > hole.area for m in inside)


class _Segments:
    """The segments of several closed curves in one row."""

    def __init__(self, curves: Sequence[Curve]) -> None:
        start, end, bulge = (
            np.concatenate([getattr(c, name) for c in curves]) for name in ("start", "end", "bulge")
        )
        self.curve = Curve(start, end, bulge, False)
        counts = [len(c.start) for c in curves]
        self.owner = np.repeat(np.arange(len(curves)), counts)
        self.lengths = np.where(
            bulge == 0, np.abs(end - start), self.curve.radius * np.abs(self.curve.sweep)
        )
        self.ends = np.cumsum(self.lengths)
        self.whole = np.repeat([c.length for c in curves], counts)

    def near(self) -> tuple[Indices, Indices]:
        """Pairs of segments that may meet, once each."""
        start, end, owner, error = self.curve.lines
        lines = shapely.linestrings(
            np.stack([np.stack([z.real, z.imag], axis=1) for z in (start, end)], axis=1)
        )
        reach = 2 * error + 2 * SAME_POINT
        k, m = shapely.STRtree(lines).query(lines, predicate="dwithin", distance=reach)
        pairs = np.unique(np.stack([owner[k], owner[m]], axis=1), axis=0)
        i, j = pairs[pairs[:, 0] < pairs[:, 1]].T
        return i, j

    def follows(self, i: Indices, j: Indices) -> NDArray[np.bool_]:
        """Whether a segment begins, but for next to nothing, where the other ends."""
        gap = self.ends[j] - self.lengths[j] - self.ends[i]
        around = np.abs(gap + np.where(gap < -_JOINED, self.whole[i], 0.0))
        return np.asarray((self.owner[i] == self.owner[j]) & (around <= _JOINED))


def _candidates(whole: _Segments, i: Indices, j: Indices) -> tuple[Complexes, list[Complexes]]:
    """Points where pairs of segments may meet, shape (p, 10), and the ends they share."""
    curve = whole.curve
    one, other = curve.part(i), curve.part(j)
    points = np.stack(
        [one.start, one.end, _middles(one), other.start, other.end, _middles(other)], axis=1
    )
    shared = [
        np.where(whole.follows(i, j), one.end, np.nan),
        np.where(whole.follows(j, i), one.start, np.nan),
    ]
    with np.errstate(divide="ignore", invalid="ignore"):
        found = np.concatenate([points, _of_lines(one, other), _of_circles(one, other)], axis=1)
        for a, b in ((one, other), (other, one)):
            found = np.concatenate([found, _of_line_and_circle(a, b)], axis=1)
    return np.where(np.isfinite(found), found, points[:, :1]), shared


def _middles(curve: Curve) -> Complexes:
    """Points half-way along the segments."""
    arcs = curve.centre + (curve.start - curve.centre) * np.exp(0.5j * curve.sweep)
    return np.where(curve.bulge == 0, (curve.start + curve.end) / 2, arcs)


def _of_lines(one: Curve, other: Curve) -> Complexes:
    """Where two straight lines meet, shape (p, 1)."""
    along, beside = one.end - one.start, other.end - other.start
    cross = (along.conj() * beside).imag
    share = ((other.start - one.start).conj() * beside).imag / cross
    straight = (one.bulge == 0) & (other.bulge == 0)
    return np.where(straight, one.start + share * along, np.nan)[:, None]


def _of_line_and_circle(line: Curve, arc: Curve) -> Complexes:
    """Where a straight line meets a circle, shape (p, 2); its nearest point if nowhere."""
    unit = (line.end - line.start) / np.abs(line.end - line.start)
    foot = line.start + ((arc.centre - line.start) * unit.conj()).real * unit
    half = np.sqrt(np.maximum(arc.radius**2 - np.abs(foot - arc.centre) ** 2, 0.0)) * unit
    fits = (line.bulge == 0) & (arc.bulge != 0)
    return np.where(fits[:, None], np.stack([foot - half, foot + half], axis=1), np.nan)


def _of_circles(one: Curve, other: Curve) -> Complexes:
    """Where two circles meet, shape (p, 2); the point nearest to both if nowhere."""
    way = other.centre - one.centre
    apart = np.abs(way)
    along = (apart**2 + one.radius**2 - other.radius**2) / (2 * apart)
    half = np.sqrt(np.maximum(one.radius**2 - along**2, 0.0))
    unit = way / apart
    fits = (one.bulge != 0) & (other.bulge != 0)
    points = [one.centre + unit * (along + side * half) for side in (-1j, 1j)]
    return np.where(fits[:, None], np.stack(points, axis=1), np.nan)


def _apart(points: Complexes, curve: Curve) -> Numbers:
    """Distances of points (p, k) from one segment for each row."""
    rows = Curve(curve.start[:, None], curve.end[:, None], curve.bulge[:, None], False)
    return segment_distances(points, rows)
