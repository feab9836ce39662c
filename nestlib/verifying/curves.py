"""Lines and arcs in the complex plane: flattening, distances, placing.

A point (x, y) is the number x + iy. A mirrored point is -conj(z), a turned one
z·exp(iφ). The centre of an arc from a to b with bulge β is
(a + b)/2 + i (b - a) (1 - β²) / 4β (DXF Reference: β is the tangent of a quarter of the
included angle).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from nestlib.model import Contour, Placement

Numbers = NDArray[np.float64]
Complexes = NDArray[np.complex128]

#: Lines that replace an arc stay this close to it, in mm.
SAGITTA = 0.001

#: An arc never becomes more lines than this.
_MOST_LINES = 20000

#: Rows of a table of distances that are worked out at once, to bound the memory.
_CHUNK = 256


@dataclass(frozen=True, eq=False)
class Curve:
    """A chain of m segments.

    Parameters
    ----------
    start, end : ndarray of complex, shape (m,)
        Ends of the segments.
    bulge : ndarray, shape (m,)
        0 for a line.
    closed : bool
        Whether it returns to its beginning.
    """

    start: Complexes
    end: Complexes
    bulge: Numbers
    closed: bool

    @classmethod
    def of(cls, contour: Contour) -> Curve:
        """Return the curve of a contour, without segments of no length."""
        z = contour.points[:, 0] + 1j * contour.points[:, 1]
        start, end, bulge = (
            (z, np.roll(z, -1), contour.bulges)
            if contour.closed
            else (z[:-1], z[1:], contour.bulges[:-1])
        )
        keep = start != end
        if not keep.any():
            keep[0] = True
        return cls(start[keep], end[keep], np.where(start == end, 0.0, bulge)[keep], contour.closed)

    @cached_property
    def straight(self) -> bool:
        """Whether all segments are lines."""
        return not self.bulge.any()

    @cached_property
    def centre(self) -> Complexes:
        """Centres of the arcs, and the middles of the lines."""
        b = np.where(self.bulge == 0, 1.0, self.bulge)
        middle = (self.start + self.end) / 2
        return np.asarray(middle + 1j * (self.end - self.start) * (1 - b**2) / (4 * b))

    @cached_property
    def radius(self) -> Numbers:
        """Radii of the arcs."""
        return np.abs(self.start - self.centre)

    @cached_property
    def sweep(self) -> Numbers:
        """Included angles of the arcs in radians, signed."""
        return 4 * np.arctan(self.bulge)

    @cached_property
    def length(self) -> float:
        """Length in mm."""
        arcs = self.radius * np.abs(self.sweep)
        return float(np.where(self.bulge == 0, np.abs(self.end - self.start), arcs).sum())

    @cached_property
    def area(self) -> float:
        """Signed area in mm² between the curve and the chord from its end to its start.

        The sum of the chords' cross products and of R² (θ - sin θ) / 2 for each arc.
        """
        a, b = self.start - self.start[0], self.end - self.start[0]
        sectors = self.radius**2 * (self.sweep - np.sin(self.sweep))
        return float(((a.conj() * b).imag + np.where(self.bulge == 0, 0.0, sectors)).sum()) / 2

    @cached_property
    def flat(self) -> tuple[Complexes, float]:
        """Points on the curve, and how far it strays from the lines between them at most."""
        if self.straight:
            points, error = self.start, 0.0
        else:
            pieces = [self._along(i) for i in range(len(self.start))]
            points = np.concatenate([p for p, _ in pieces])
            error = max(e for _, e in pieces)
        return (points if self.closed else np.append(points, self.end[-1])), error

    @cached_property
    def lines(self) -> tuple[Complexes, Complexes, NDArray[np.intp], float]:
        """Lines between points on the curve: starts, ends, segment of each, greatest error."""
        pieces = [self._along(i) for i in range(len(self.start))]
        starts = np.concatenate([p for p, _ in pieces])
        ends = np.concatenate(
            [np.append(p[1:], e) for (p, _), e in zip(pieces, self.end, strict=True)]
        )
        owner = np.repeat(np.arange(len(pieces)), [len(p) for p, _ in pieces])
        return starts, ends, owner, max(e for _, e in pieces)

    def _along(self, i: int) -> tuple[Complexes, float]:
        """Points from the start of a segment up to, but without, its end."""
        sweep, radius = float(self.sweep[i]), float(self.radius[i])
        if sweep == 0:
            return self.start[i : i + 1], 0.0
        step = 2 * np.arccos(max(0.0, 1 - SAGITTA / radius)) if radius > 0 else np.pi
        n = int(np.clip(np.ceil(abs(sweep) / max(step, 1e-6)), 2, _MOST_LINES))
        turns = np.exp(1j * sweep / n * np.arange(n))
        points = self.centre[i] + (self.start[i] - self.centre[i]) * turns
        points[0] = self.start[i]
        return points, radius * (1 - np.cos(sweep / n / 2))

    def placed(self, placement: Placement) -> Curve:
        """Return the curve mirrored, turned and moved as a placement says."""

        def put(z: Complexes) -> Complexes:
            flipped = -z.conj() if placement.flip else z
            turn = np.exp(1j * np.deg2rad(placement.rotation))
            return np.asarray(flipped * turn + (placement.x + 1j * placement.y))

        bulge = -self.bulge if placement.flip else self.bulge
        return Curve(put(self.start), put(self.end), bulge, self.closed)

    def samples(self) -> Complexes:
        """Return the ends and three points within each segment."""
        shares = np.array([0.0, 0.25, 0.5, 0.75])[:, None]
        lines = self.start + shares * (self.end - self.start)
        arcs = self.centre + (self.start - self.centre) * np.exp(1j * shares * self.sweep)
        return np.append(np.where(self.bulge == 0, lines, arcs).ravel(), self.end[-1])

    def part(self, keep: NDArray[np.bool_] | NDArray[np.intp]) -> Curve:
        """Return only some of the segments, those marked or numbered."""
        return Curve(self.start[keep], self.end[keep], self.bulge[keep], False)


def point_distances(points: Complexes, curve: Curve) -> Numbers:
    """Return the exact distance of each point from a curve, shape (n,), in mm."""
    chunks = [
        segment_distances(points[i : i + _CHUNK, None], curve).min(axis=1)
        for i in range(0, len(points), _CHUNK)
    ]
    return np.concatenate(chunks) if chunks else np.zeros(0)


def curve_distance(one: Curve, other: Curve) -> float:
    """Return the exact distance in mm between two curves that do not cross.

    It is reached at an end of a segment, or where a line through the centres of both
    arcs, or from a centre square to a line, meets the curves. Where curves cross, the
    result is some small number, at most the depth of the crossing.
    """
    found = [
        point_distances(np.concatenate([one.start, one.end]), other).min(),
        point_distances(np.concatenate([other.start, other.end]), one).min(),
    ]
    for a, b in ((one, other), (other, one)):
        points = _towards(a.part(a.bulge != 0), b)
        if len(points):
            # The candidates lie on the circles; only those on the arcs count.
            on_arc = point_distances(points, a) < 1e-9 * (1 + np.abs(points))
            if on_arc.any():
                found.append(point_distances(points[on_arc], b).min())
    return float(min(found))


def deviation(one: Curve, other: Curve) -> float:
    """Return how far two curves that should be the same stray from each other, in mm.

    Compared are, each way, the ends of the segments and three points within each:
    lines and arcs that agree there are the same.
    """
    there = point_distances(one.samples(), other).max()
    back = point_distances(other.samples(), one).max()
    return float(max(there, back))


def same_vertices(one: Curve, other: Curve) -> float | None:
    """Return the greatest difference of two curves, vertex by vertex.

    They may begin at different vertices and run in different directions. None if they
    cannot be paired so.
    """
    n = len(one.start)
    if n != len(other.start) or one.closed != other.closed:
        return None
    turned = Curve(other.end[::-1], other.start[::-1], -other.bulge[::-1], other.closed)
    return min(_paired(one, other), _paired(one, turned))


def segment_distances(z: Complexes, curve: Curve) -> Numbers:
    """Return the exact distances of points from segments, in mm.

    Parameters
    ----------
    z : ndarray of complex
        Points, of a shape that broadcasts with that of the curve's segments: (n, 1)
        gives every distance, shape (n, m).
    curve : Curve
        Its segments.

    Returns
    -------
    ndarray
        One for each pair of a point and a segment.
    """
    along = curve.end - curve.start
    size = np.where(along == 0, 1.0, np.abs(along) ** 2)
    share = np.clip(((z - curve.start) * along.conj()).real / size, 0.0, 1.0)
    to_line = np.asarray(np.abs(z - curve.start - share * along))
    if curve.straight:
        return to_line
    spoke = z - curve.centre
    angle = np.angle(spoke * (curve.start - curve.centre).conj()) * np.sign(curve.sweep)
    facing = np.mod(angle, 2 * np.pi) <= np.abs(curve.sweep)
    to_ends = np.minimum(np.abs(z - curve.start), np.abs(z - curve.end))
    to_arc = np.where(facing, np.abs(np.abs(spoke) - curve.radius), to_ends)
    return np.where(curve.bulge == 0, to_line, to_arc)


def _paired(one: Curve, other: Curve) -> float:
    shift = int(np.argmin(np.abs(other.start - one.start[0]))) if one.closed else 0
    start, end, bulge = (np.roll(v, -shift) for v in (other.start, other.end, other.bulge))
    ends = max(np.abs(start - one.start).max(), np.abs(end - one.end).max())
    # The height of an arc over its chord is |bulge| times half the chord.
    height = (np.abs(bulge - one.bulge) * np.abs(one.end - one.start) / 2).max()
    return float(max(ends, height))


def _towards(arcs: Curve, other: Curve) -> Complexes:
    """Points on the circles of `arcs` that may be nearest to a segment of `other`."""
    if not len(arcs.start):
        return np.zeros(0, dtype=complex)
    along = other.end - other.start
    length = np.where(along == 0, 1.0, np.abs(along))
    away = arcs.centre[:, None] - other.start
    square = other.start + (away * along.conj()).real / length**2 * along
    target = np.where(other.bulge == 0, square, other.centre)
    way = target - arcs.centre[:, None]
    size = np.abs(way)
    unit = np.where(size > 0, way / np.where(size > 0, size, 1.0), 1.0)
    reach = arcs.radius[:, None] * unit
    return np.concatenate(
        [(arcs.centre[:, None] + reach).ravel(), (arcs.centre[:, None] - reach).ravel()]
    )
