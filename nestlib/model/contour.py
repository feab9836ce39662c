"""A closed or open chain of lines and arcs.

Terms
-----
bulge
    The tangent of a quarter of an arc's included angle, positive if the arc runs
    counter-clockwise from its start to its end, 0 for a straight line (DXF Reference,
    LWPOLYLINE, group code 42). A semicircle has bulge 1.
segment
    What lies between vertex ``i`` and vertex ``i + 1``, described by ``bulges[i]``.
"""

from __future__ import annotations

import cmath
import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike, NDArray

FloatArray = NDArray[np.float64]

#: An arc flatter than this is a straight line: it leaves its chord by 1e-12 of its length.
_STRAIGHT = 2e-12


@dataclass(frozen=True, eq=False)
class Contour:
    """A chain of lines and arcs, in mm.

    A full circle is two vertices, both with bulge 1 (or both -1). Arrays are made
    read-only, so a contour can be shared freely.

    Parameters
    ----------
    points : array_like, shape (n, 2)
        Vertices, without repeating the first one at the end of a closed contour.
    bulges : array_like, shape (n,), optional
        Bulge of the segment that starts at each vertex; all straight by default. The
        last one belongs to the closing segment and is ignored by an open contour.
    closed : bool
        Whether the last vertex is joined to the first.

    Raises
    ------
    ValueError
        If the shapes do not match or a number is not finite.

    Examples
    --------
    >>> square = Contour([(0, 0), (10, 0), (10, 10), (0, 10)])
    >>> square.area, square.length
    (100.0, 40.0)
    >>> round(Contour.circle((0, 0), 5).area, 6)
    78.539816
    """

    points: FloatArray
    bulges: FloatArray
    closed: bool = True

    def __init__(
        self, points: ArrayLike, bulges: ArrayLike | None = None, closed: bool = True
    ) -> None:
        xy = np.array(points, dtype=np.float64).reshape(-1, 2)
        b = np.zeros(len(xy)) if bulges is None else np.array(bulges, dtype=np.float64)
        if len(xy) < 2 or b.shape != (len(xy),):
            raise ValueError(f"a contour needs 2 or more vertices and as many bulges: {len(xy)}")
        if not (np.isfinite(xy).all() and np.isfinite(b).all()):
            raise ValueError("a contour needs finite coordinates and bulges")
        b[np.abs(b) < _STRAIGHT] = 0.0
        xy.flags.writeable = b.flags.writeable = False
        object.__setattr__(self, "points", xy)
        object.__setattr__(self, "bulges", b)
        object.__setattr__(self, "closed", closed)

    @classmethod
    def circle(cls, centre: Sequence[float], radius: float) -> Contour:
        """Return a full circle, counter-clockwise, starting at its rightmost point."""
        x, y = centre
        return cls([(x + radius, y), (x - radius, y)], [1.0, 1.0])

    @classmethod
    def rectangle(cls, width: float, height: float) -> Contour:
        """Return a rectangle with its lower left corner at the origin, counter-clockwise."""
        return cls([(0, 0), (width, 0), (width, height), (0, height)])

    def __len__(self) -> int:
        return len(self.points)

    @property
    def is_circle(self) -> bool:
        """Whether this is one full circle, as `circle` makes it."""
        return self.closed and len(self) == 2 and bool(np.all(np.abs(self.bulges) == 1.0))

    @cached_property
    def segments(self) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Starts (m, 2), ends (m, 2) and bulges (m,) of all segments."""
        if self.closed:
            return self.points, np.roll(self.points, -1, axis=0), self.bulges
        return self.points[:-1], self.points[1:], self.bulges[:-1]

    @cached_property
    def signed_area(self) -> float:
        """Enclosed area in mm², positive if counter-clockwise; 0 if open.

        The shoelace sum plus one circular segment, R² (θ - sin θ) / 2, for each arc.
        """
        if not self.closed:
            return 0.0
        a, b, bulge = self.segments
        ref = a[0]  # far from the origin the products would lose digits
        a, b = a - ref, b - ref
        shoelace = 0.5 * float(np.sum(a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]))
        return shoelace + float(np.sum(_circular_segment(np.hypot(*(b - a).T), bulge)))

    @property
    def area(self) -> float:
        """Enclosed area in mm², whatever the direction."""
        return abs(self.signed_area)

    @cached_property
    def length(self) -> float:
        """Length along lines and arcs in mm."""
        a, b, bulge = self.segments
        chord = np.hypot(*(b - a).T)
        curved = bulge != 0
        angle = 4 * np.arctan(np.where(curved, bulge, 1.0))
        arc = chord * np.abs(angle) / (2 * np.abs(np.sin(angle / 2)))
        return float(np.sum(np.where(curved, arc, chord)))

    @cached_property
    def bounds(self) -> tuple[float, float, float, float]:
        """Smallest x, smallest y, largest x, largest y in mm, arcs included."""
        low, high = self.points.min(axis=0), self.points.max(axis=0)
        for a, b, bulge in zip(*self.segments, strict=True):
            if bulge:
                extremes = _arc_extremes(a, b, float(bulge))
                low = np.minimum(low, extremes.min(axis=0))
                high = np.maximum(high, extremes.max(axis=0))
        return float(low[0]), float(low[1]), float(high[0]), float(high[1])

    def point_at(self, at: float) -> tuple[float, float]:
        """Return the point at a length in mm along it, from its first vertex.

        Examples
        --------
        >>> Contour.rectangle(4, 2).point_at(5)
        (4.0, 1.0)
        """
        for (x0, y0), (x1, y1), bulge in zip(*(v.tolist() for v in self.segments), strict=True):
            chord, half = complex(x1 - x0, y1 - y0), 2 * math.atan(bulge)
            length = abs(chord) * (half / math.sin(half) if bulge else 1.0)
            if at < length:
                break
            at -= length
        else:
            return (x1, y1)
        share = at / length
        scale = math.sin(share * half) / math.sin(half) if bulge else share
        z = complex(x0, y0) + chord * cmath.rect(scale, (share - 1) * half)
        return z.real, z.imag

    def reversed(self) -> Contour:
        """Return the same curve, run through the other way."""
        if self.closed:
            return Contour(self.points[::-1], -np.roll(self.bulges[::-1], -1))
        return Contour(self.points[::-1], np.append(-self.bulges[-2::-1], 0.0), closed=False)

    def oriented(self, *, ccw: bool) -> Contour:
        """Return the same closed curve, run counter-clockwise or clockwise."""
        return self if (self.signed_area > 0) == ccw else self.reversed()

    def starting_at(self, vertex: int) -> Contour:
        """Return the same closed curve, starting at another of its vertices."""
        return Contour(np.roll(self.points, -vertex, axis=0), np.roll(self.bulges, -vertex))

    def __repr__(self) -> str:
        kind = "circle" if self.is_circle else "closed" if self.closed else "open"
        return f"Contour({kind}, {len(self)} vertices, {self.length:.3f} mm)"


def _circular_segment(chord: FloatArray, bulge: FloatArray) -> FloatArray:
    """Signed area between chord and arc, R² (θ - sin θ) / 2, stable for small bulges."""
    angle = 4 * np.arctan(bulge)
    # R² = (c (1 + b²) / 4 b)²; for tiny b the difference θ - sin θ cancels: use 2 b c² / 6.
    small = np.abs(bulge) < 1e-4
    safe = np.where(small, 1.0, bulge)
    radius = chord * (1 + safe**2) / (4 * safe)
    exact = 0.5 * radius**2 * (angle - np.sin(angle))
    return np.where(small, chord**2 * bulge / 3, exact)


def _arc_extremes(a: FloatArray, b: FloatArray, bulge: float) -> FloatArray:
    """End points of the arc and those of its axis-parallel extremes that lie on it."""
    chord = b - a
    normal = np.array([-chord[1], chord[0]])
    centre = (a + b) / 2 + normal * (1 - bulge**2) / (4 * bulge)
    radius = float(np.hypot(*(a - centre)))
    sign = 1.0 if bulge > 0 else -1.0
    start = float(np.arctan2(a[1] - centre[1], a[0] - centre[0]))
    sweep = 4 * abs(float(np.arctan(bulge)))
    found = [a, b]
    for quarter in range(4):
        angle = quarter * np.pi / 2
        if (sign * (angle - start)) % (2 * np.pi) <= sweep:
            axis = ((1, 0), (0, 1), (-1, 0), (0, -1))[quarter]
            found.append(centre + radius * np.array(axis, dtype=np.float64))
    return np.array(found)
