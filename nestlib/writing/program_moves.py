"""From lines and arcs to moves on the grid of a program's last decimal.

All points are rounded first, and each arc then gets the centre that suits its rounded
ends: the place on the line between them, square to their chord, that is nearest to the
true centre, rounded to the point of the grid around it that makes the radii at both ends
agree best. An arc whose radii would differ by more than `RADII` is cut in two; RS274/NGC
refuses arcs that differ by more than 0.002 mm (NISTIR 6556, section 3.5.3, from memory).
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import product

from nestlib.geometry.arcs import arc_angle, arc_bulge, arc_centre, arc_point
from nestlib.model.contour import Contour

INCH = 25.4

#: Greatest difference of the radii at an arc's ends, in mm.
RADII = 0.002

#: Greatest turn of one arc; half a turn is safely told from its counterpart.
_MOST = math.pi * 1.001

_Grid = tuple[int, int]
_Point = tuple[float, float]


@dataclass(frozen=True)
class Move:
    """One line or arc, in steps of the grid.

    Parameters
    ----------
    word : str
        ``"G1"``, ``"G2"`` (clockwise) or ``"G3"``.
    start, end : (int, int)
        Where it leads from and to; the same for a full circle.
    centre : (int, int), or None
        Of an arc.
    """

    word: str
    start: _Grid
    end: _Grid
    centre: _Grid | None = None


@dataclass(frozen=True)
class Grid:
    """The points that a program can name.

    Parameters
    ----------
    units : str
        ``"mm"`` or ``"inch"``.
    decimals : int
        Of a coordinate.
    """

    units: str
    decimals: int

    @property
    def step(self) -> float:
        """Distance of neighbouring points in mm."""
        return (INCH if self.units == "inch" else 1.0) / 10.0**self.decimals

    def point(self, xy: _Point) -> _Grid:
        """Return the nearest point."""
        return round(xy[0] / self.step), round(xy[1] / self.step)

    def text(self, steps: int) -> str:
        """Return a coordinate as it is written.

        Examples
        --------
        >>> Grid("mm", 3).text(-12340), Grid("mm", 3).text(0)
        ('-12.34', '0.0')
        """
        digits = f"{abs(steps):0{self.decimals + 1}d}"
        whole, part = digits[: -self.decimals], digits[-self.decimals :].rstrip("0") or "0"
        return f"{'-' if steps < 0 else ''}{whole}.{part}"


def moves(contour: Contour, grid: Grid) -> list[Move]:
    """Return the moves along a contour, from its start to its end.

    Parameters
    ----------
    contour : Contour
        Open or closed; in mm.
    grid : Grid
        What coordinates may be.
    """
    if contour.is_circle:
        return [_circle(contour, grid)]
    rows = zip(*(v.tolist() for v in contour.segments), strict=True)
    return [m for (a, b, bulge) in rows for m in _along((a[0], a[1]), (b[0], b[1]), bulge, grid)]


def _circle(contour: Contour, grid: Grid) -> Move:
    (x0, y0), (x1, y1) = contour.points.tolist()
    start = grid.point((x0, y0))
    centre = grid.point(((x0 + x1) / 2, (y0 + y1) / 2))
    return Move("G3" if contour.bulges[0] > 0 else "G2", start, start, centre)


def _along(a: _Point, b: _Point, bulge: float, grid: Grid) -> Iterator[Move]:
    """Moves along one segment; none if its ends are one point of the grid."""
    start, end = grid.point(a), grid.point(b)
    angle = arc_angle(bulge)
    height = abs(bulge) * math.dist(a, b) / 2
    if abs(angle) > _MOST:
        yield from _halves(a, b, bulge, grid)
    elif start == end:
        if height > grid.step:
            yield from _halves(a, b, bulge, grid)
    elif height < grid.step / 2:
        yield Move("G1", start, end)
    else:
        arc = _arc(a, b, bulge, start, end, grid)
        if arc is not None:
            yield arc
        elif height < 4 * grid.step:
            yield Move("G1", start, end)
        else:
            yield from _halves(a, b, bulge, grid)


def _halves(a: _Point, b: _Point, bulge: float, grid: Grid) -> Iterator[Move]:
    middle, half = arc_point(a, b, bulge, 0.5), arc_bulge(arc_angle(bulge) / 2)
    yield from _along(a, middle, half, grid)
    yield from _along(middle, b, half, grid)


def _arc(a: _Point, b: _Point, bulge: float, start: _Grid, end: _Grid, grid: Grid) -> Move | None:
    """An arc between rounded ends; None if it would not close or turn as it should."""
    x, y = (c / grid.step for c in arc_centre(a, b, bulge))
    (x0, y0), (x1, y1) = start, end
    ux, uy = x1 - x0, y1 - y0
    # Onto the line of all points that are as far from one end as from the other.
    off = ((x - (x0 + x1) / 2) * ux + (y - (y0 + y1) / 2) * uy) / (ux * ux + uy * uy)
    best = (x - off * ux, y - off * uy)
    centre = min(_around(best), key=lambda c: _differ(c, start, end) + 0.1 * math.dist(c, best))
    angle, wanted = _turn(centre, start, end, bulge > 0), abs(arc_angle(bulge))
    closes = _differ(centre, start, end) * grid.step <= RADII
    if not closes or abs(angle - wanted) > 0.05 + 0.1 * wanted:
        return None
    return Move("G3" if bulge > 0 else "G2", start, end, centre)


def _around(place: _Point) -> list[_Grid]:
    x, y = math.floor(place[0]), math.floor(place[1])
    return [(x + i, y + j) for i, j in product((-1, 0, 1, 2), repeat=2)]


def _differ(centre: _Grid, start: _Grid, end: _Grid) -> float:
    """Difference of the radii at both ends, in steps."""
    return abs(math.dist(centre, start) - math.dist(centre, end))


def _turn(centre: _Grid, start: _Grid, end: _Grid, ccw: bool) -> float:
    """Angle that a control would run through, 0 to 2π."""
    first = math.atan2(start[1] - centre[1], start[0] - centre[0])
    last = math.atan2(end[1] - centre[1], end[0] - centre[0])
    return (last - first if ccw else first - last) % (2 * math.pi)
