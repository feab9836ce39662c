"""Pieces a kerf apart, with the lines between them and the outline around them all."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from nestlib.geometry.transform import cos_sin, moved, turned
from nestlib.model import Contour, Placement
from nestlib.model.contour import FloatArray

#: Nearer than this to an edge a point lies on it, in mm.
_ON = 1e-6

#: So many edges of an outline are looked at.
_EDGES = 24


@dataclass(frozen=True, eq=False)
class Pattern:
    """Pieces a kerf apart, of one part or of several.

    Parameters
    ----------
    members : tuple of Placement
        Where each piece lies, as seen from the pattern's (0, 0).
    outline : Contour
        Around all pieces and the slots between them, counter-clockwise.
    lines : tuple of Contour
        Open: the middle of each slot, from edge to edge of the outline.
    """

    members: tuple[Placement, ...]
    outline: Contour
    lines: tuple[Contour, ...] = ()

    def moved(self, x: float, y: float) -> Pattern:
        """Return the pattern moved by (x, y) mm."""
        members = tuple(replace(m, x=m.x + x, y=m.y + y) for m in self.members)
        lines = tuple(moved(line, x, y) for line in self.lines)
        return Pattern(members, moved(self.outline, x, y), lines)

    def turned(self, degrees: float = 180.0) -> Pattern:
        """Return the pattern turned about its (0, 0), by half a turn if nothing else is said."""
        cos, sin = cos_sin(degrees)
        members = tuple(
            replace(
                m,
                rotation=(m.rotation + degrees) % 360.0 % 360.0,
                x=cos * m.x - sin * m.y,
                y=sin * m.x + cos * m.y,
            )
            for m in self.members
        )
        lines = tuple(turned(line, degrees) for line in self.lines)
        return Pattern(members, turned(self.outline, degrees), lines)

    def from_corner(self) -> Pattern:
        """Return the pattern with its lower left corner at (0, 0)."""
        x0, y0, _, _ = self.outline.bounds
        return self.moved(-x0, -y0)

    def way(self, i: int) -> FloatArray:
        """Return the way from start to end of a segment of the outline."""
        n = len(self.outline)
        way: FloatArray = self.outline.points[(i + 1) % n] - self.outline.points[i]
        return way

    def crossed(self, i: int) -> bool:
        """Return whether a line ends on a straight segment of the outline."""
        a, u = self.outline.points[i], unit(self.way(i))
        ends = [end - a for line in self.lines for end in line.points]
        long = math.hypot(*self.way(i))
        return any(abs(cross(u, e)) <= _ON and -_ON <= e @ u <= long + _ON for e in ends)

    def edges(self, least: float) -> list[int]:
        """Return which segments of the outline are straight and at least so long, in mm.

        The longest come first, and no more than 24 of them.
        """
        a, b, bulge = self.outline.segments
        lengths = np.where(bulge == 0, np.hypot(*(b - a).T), 0.0)
        order = np.argsort(-lengths, kind="stable")[:_EDGES]
        return [int(i) for i in order if lengths[i] >= least]


def single(name: str, outer: Contour) -> Pattern:
    """Return the pattern of one piece."""
    return Pattern((Placement(name, 0.0, False, 0.0, 0.0),), outer.oriented(ccw=True))


def reaching(pattern: Pattern, kerf: float) -> tuple[Contour, ...]:
    """Return the lines as the beam runs them: to the middle of the slot around the outline.

    So the slot between two pieces is open at both ends, and nothing but slots is cut.

    Parameters
    ----------
    pattern : Pattern
        With its lines from edge to edge.
    kerf : float
        Width of the slots, in mm.

    Returns
    -------
    tuple of Contour
        One for each line.
    """
    return tuple(_reaching(pattern.outline, line, kerf) for line in pattern.lines)


def _reaching(outline: Contour, line: Contour, kerf: float) -> Contour:
    a, b = line.points
    u = unit(b - a)
    beyond = [kerf / 2 / abs(cross(u, _edge_at(outline, end))) for end in (a, b)]
    return Contour([a - beyond[0] * u, b + beyond[1] * u], closed=False)


def _edge_at(outline: Contour, point: FloatArray) -> FloatArray:
    """Direction of the straight segment on which a point lies."""
    a, b, bulge = outline.segments
    ways = b - a
    share = ((point - a) * ways).sum(axis=1) / (ways**2).sum(axis=1)
    apart = np.hypot(*(a + np.clip(share, 0, 1)[:, None] * ways - point).T)
    return unit(ways[int(np.argmin(np.where(bulge == 0, apart, np.inf)))])


def unit(way: FloatArray) -> FloatArray:
    """Return the direction of a way, of length 1."""
    return np.asarray(way / math.hypot(*way))


def cross(one: FloatArray, other: FloatArray) -> float:
    """Return the cross product of two ways: above 0 if the second turns to the left."""
    return float(one[0] * other[1] - one[1] * other[0])
