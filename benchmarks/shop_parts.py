"""Kinds of parts that a sheet-metal shop cuts, drawn from a size and chance.

Every kind is a function of the length of its longer side in mm and a generator of chance. It
returns an outer contour and holes, made of lines and true arcs, somewhere in the plane.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field

import numpy as np

from nestlib.model import Contour

Random = np.random.Generator
Point = tuple[float, float]

#: Outer contour and holes.
Drawn = tuple[Contour, list[Contour]]

_QUARTERS = (0.0, 90.0, 180.0, 270.0)


@dataclass(frozen=True)
class Kind:
    """One kind of part.

    Parameters
    ----------
    name : str
        What it is called.
    draw : callable
        Draws one.
    least, most : float
        Lengths of the longer side that make sense, in mm.
    rotations : tuple of float
        Turns that are allowed, in degrees.
    """

    name: str
    draw: Callable[[float, Random], Drawn]
    least: float
    most: float
    rotations: tuple[float, ...] = field(default=_QUARTERS)


def rounded(corners: Sequence[Point], radii: Sequence[float] | float) -> Contour:
    """Return a polygon whose corners are arcs.

    Parameters
    ----------
    corners : sequence of (float, float)
        Counter-clockwise, in mm.
    radii : sequence of float, or float
        Radius at each corner; 0 leaves it sharp.

    Examples
    --------
    >>> plate = rounded([(0, 0), (20, 0), (20, 10), (0, 10)], 2.0)
    >>> round(plate.area, 6) == round(200 - (4 - np.pi) * 4, 6)
    True
    """
    each = [radii] * len(corners) if isinstance(radii, float | int) else radii
    points, bulges = [], []
    for k, radius in enumerate(each):
        for point, bulge in _corner(corners[k - 1], corners[k], corners[k + 1 - len(each)], radius):
            points.append(point)
            bulges.append(bulge)
    return Contour(points, bulges)


def _corner(before: Point, at: Point, after: Point, radius: float) -> Iterator[tuple[Point, float]]:
    """Where the arc of a corner begins, with its bulge, and where it ends."""
    into = math.atan2(at[1] - before[1], at[0] - before[0])
    out = math.atan2(after[1] - at[1], after[0] - at[0])
    turn = math.remainder(out - into, math.tau)
    reach = radius * math.tan(abs(turn) / 2)
    if not reach:
        yield at, 0.0
        return
    yield (at[0] - reach * math.cos(into), at[1] - reach * math.sin(into)), math.tan(turn / 4)
    yield (at[0] + reach * math.cos(out), at[1] + reach * math.sin(out)), 0.0


def slot(centre: Point, length: float, width: float, upright: bool = False) -> Contour:
    """Return a slot with round ends, counter-clockwise."""
    a, r = (length - width) / 2, width / 2
    points = [(-a, -r), (a, -r), (a, r), (-a, r)]
    if upright:
        points = [(-y, x) for x, y in points]
    return Contour([(centre[0] + x, centre[1] + y) for x, y in points], [0.0, 1.0, 0.0, 1.0])


def box(width: float, height: float) -> list[Point]:
    """Return the corners of a rectangle about the origin."""
    w, h = width / 2, height / 2
    return [(-w, -h), (w, -h), (w, h), (-w, h)]


def bolt_circle(radius: float, holes: int, hole_radius: float) -> list[Contour]:
    """Return holes on a circle about the origin."""
    angles = [math.tau * (k + 0.5) / holes for k in range(holes)]
    return [
        Contour.circle((radius * math.cos(a), radius * math.sin(a)), hole_radius) for a in angles
    ]


def _plate(size: float, random: Random) -> Drawn:
    """Rounded corners, a hole in each, and a bolt circle about the middle."""
    w, h = size, size * random.uniform(0.5, 1.0)
    inset = 0.11 * h
    holes = [Contour.circle((math.copysign(w / 2 - inset, x), y), 0.03 * h) for x, y in _four(h)]
    holes.append(Contour.circle((0.0, 0.0), h * random.uniform(0.12, 0.24)))
    holes += bolt_circle(0.33 * h, int(random.integers(4, 9)), 0.028 * h)
    return rounded(box(w, h), h * random.uniform(0.04, 0.1)), holes


def _four(height: float) -> list[Point]:
    return [(x, y * 0.39 * height) for x in (-1.0, 1.0) for y in (-1.0, 1.0)]


def _l_bracket(size: float, random: Random) -> Drawn:
    """Two legs with holes."""
    w, h = size, size * random.uniform(0.5, 1.0)
    t = h * random.uniform(0.2, 0.35)
    outline = [(0.0, 0.0), (w, 0.0), (w, t), (t, t), (t, h), (0.0, h)]
    holes = [Contour.circle((x, t / 2), 0.18 * t) for x in (t / 2, w - t / 2)]
    return rounded(outline, [0.2 * t] * 3 + [0.3 * t] + [0.2 * t] * 2), [
        *holes,
        slot((t / 2, h - 0.7 * t), 0.7 * t, 0.3 * t, upright=True),
    ]


def _u_bracket(size: float, random: Random) -> Drawn:
    """Two legs, with room for other parts between them."""
    w, h = size, size * random.uniform(0.5, 0.95)
    t = min(w, h) * random.uniform(0.16, 0.26)
    inside = [(w - t, h), (w - t, t), (t, t), (t, h)]
    outline = [(0.0, 0.0), (w, 0.0), (w, h), *inside, (0.0, h)]
    radii = [0.3 * t, 0.3 * t, 0.25 * t, 0.25 * t, 0.4 * t, 0.4 * t, 0.25 * t, 0.25 * t]
    holes = [Contour.circle((x, h - 0.6 * t), 0.2 * t) for x in (t / 2, w - t / 2)]
    return rounded(outline, radii), holes


def _z_bracket(size: float, random: Random) -> Drawn:
    """Two flanges that look away from each other."""
    w, h = size, size * random.uniform(0.5, 0.9)
    t, web = h * random.uniform(0.2, 0.3), w * random.uniform(0.15, 0.3)
    left, right = (w - web) / 2, (w + web) / 2
    outline = [(0.0, 0.0), (right, 0.0), (right, h - t), (w, h - t), (w, h), (left, h)]
    outline += [(left, t), (0.0, t)]
    holes = [Contour.circle((t / 2, t / 2), 0.2 * t), Contour.circle((w - t / 2, h - t / 2), t / 5)]
    return rounded(outline, min(0.2 * t, 0.3 * web)), holes


def _gusset(size: float, random: Random) -> Drawn:
    """A triangle with its tips cut off, and a hole to save weight."""
    w, h = size, size * random.uniform(0.55, 1.0)
    tip = 0.14 * h
    outline = [(tip, 0.0), (w, 0.0), (w, tip), (tip, h), (0.0, h), (0.0, tip)]
    return rounded(outline, 0.1 * tip), [Contour.circle((0.3 * w, 0.3 * h), 0.13 * h)]


def _ring(size: float, random: Random) -> Drawn:
    """A ring; what is cut from it may hold other parts."""
    radius = size / 2
    return Contour.circle((0.0, 0.0), radius), [
        Contour.circle((0.0, 0.0), radius * random.uniform(0.55, 0.82))
    ]


def _flange(size: float, random: Random) -> Drawn:
    """A ring with a bolt circle."""
    radius = size / 2
    bore = radius * random.uniform(0.4, 0.62)
    bolts = bolt_circle((radius + bore) / 2, int(random.integers(4, 13)), 0.055 * radius)
    return Contour.circle((0.0, 0.0), radius), [Contour.circle((0.0, 0.0), bore), *bolts]


def _disc(size: float, random: Random) -> Drawn:
    """A disc, with or without a hole in its middle."""
    radius = size / 2
    hole = [Contour.circle((0.0, 0.0), 0.2 * radius)] if random.random() < 0.5 else []
    return Contour.circle((0.0, 0.0), radius), hole


def _slotted_bar(size: float, random: Random) -> Drawn:
    """A long bar with a row of slots."""
    width = size * random.uniform(0.07, 0.2)
    count = int(random.integers(2, 7))
    pitch = size / (count + 0.6)
    centres = [(k - (count - 1) / 2) * pitch for k in range(count)]
    holes = [slot((x, 0.0), 0.6 * pitch, min(0.35 * width, 0.4 * pitch)) for x in centres]
    return rounded(box(size, width), 0.3 * width), holes


def _cover(size: float, random: Random) -> Drawn:
    """A cover with rows of round holes."""
    w, h = size, size * random.uniform(0.45, 0.8)
    columns, rows = int(random.integers(4, 10)), int(random.integers(3, 6))
    across, up = 0.8 * w / columns, 0.7 * h / rows
    radius = 0.3 * min(across, up)
    holes = [
        Contour.circle(((i - (columns - 1) / 2) * across, (j - (rows - 1) / 2) * up), radius)
        for i in range(columns)
        for j in range(rows)
    ]
    return rounded(box(w, h), 0.05 * h), holes


def _arm(size: float, random: Random) -> Drawn:
    """Two round ends of different size, and a hole in each; sides that touch both."""
    big = size * random.uniform(0.1, 0.2)
    small = big * random.uniform(0.4, 0.75)
    reach = size - big - small
    angle = math.acos((big - small) / reach)
    c, s = math.cos(angle), math.sin(angle)
    points = [(reach + small * c, -small * s), (reach + small * c, small * s)]
    points += [(big * c, big * s), (big * c, -big * s)]
    bulges = [math.tan(angle / 2), 0.0, math.tan((math.pi - angle) / 2), 0.0]
    eyes = [Contour.circle((0.0, 0.0), 0.5 * big), Contour.circle((reach, 0.0), 0.5 * small)]
    return Contour(points, bulges), eyes


def _free_form(size: float, random: Random) -> Drawn:
    """A closed chain of arcs about a slot."""
    count = int(random.integers(6, 10))
    angles = (np.arange(count) + random.uniform(-0.2, 0.2, count)) * math.tau / count
    radii = random.uniform(0.72, 1.0, count)
    flat = random.uniform(0.55, 1.0)
    points = np.stack([radii * np.cos(angles), flat * radii * np.sin(angles)], axis=1)
    outline = Contour(points, random.uniform(-0.12, 0.3, count))
    x0, y0, x1, y1 = outline.bounds
    scale = size / max(x1 - x0, y1 - y0)
    hole = slot((0.0, 0.0), 0.3 * size * flat, 0.1 * size * flat)
    return Contour(outline.points * scale, outline.bulges), [hole]


#: All kinds; those that are brushed keep the direction of their grain.
KINDS = (
    Kind("plate", _plate, 40, 1200),
    Kind("l-bracket", _l_bracket, 25, 900),
    Kind("disc", _disc, 20, 500),
    Kind("slotted-bar", _slotted_bar, 60, 1500),
    Kind("ring", _ring, 25, 1000),
    Kind("gusset", _gusset, 20, 700),
    Kind("u-bracket", _u_bracket, 25, 1200),
    Kind("flange", _flange, 50, 800),
    Kind("arm", _arm, 40, 1500),
    Kind("z-bracket", _z_bracket, 25, 700),
    Kind("cover", _cover, 120, 1500, rotations=(0.0, 180.0)),
    Kind("free-form", _free_form, 30, 1000),
)
