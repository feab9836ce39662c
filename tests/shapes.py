"""Named shapes and random parts that many tests use."""

from __future__ import annotations

import math
from datetime import date

from hypothesis import strategies as st

from nestlib.model import Contour, Part

#: Quarter circle, counter-clockwise.
QUARTER = math.tan(math.pi / 8)

shares = st.floats(0, 1).map(lambda v: round(v, 3))
sizes = st.floats(15, 220).map(lambda v: round(v, 2))


def rounded_rectangle(width: float, height: float, radius: float) -> Contour:
    """A rectangle with quarter circles for corners."""
    r, w, h = radius, width, height
    points = [(r, 0), (w - r, 0), (w, r), (w, h - r), (w - r, h), (r, h), (0, h - r), (0, r)]
    return Contour(points, [0, QUARTER] * 4)


def slot(length: float, width: float) -> Contour:
    """A slot with round ends, lower left corner of its box at (0, 0)."""
    r = width / 2
    return Contour([(r, 0), (length - r, 0), (length - r, width), (r, width)], [0, 1, 0, 1])


def angle_piece(width: float, height: float, leg: float) -> Contour:
    """An L."""
    return Contour([(0, 0), (width, 0), (width, leg), (leg, leg), (leg, height), (0, height)])


def crescent(width: float, height: float) -> Contour:
    """A block with a round bite out of its upper side: an arc that bends inwards."""
    bite = 0.25 * width
    points = [(0, 0), (width, 0), (width, height), (width / 2 + bite, height)]
    return Contour([*points, (width / 2 - bite, height), (0, height)], [0, 0, 0, -0.6, 0, 0])


@st.composite
def outlines(draw: st.DrawFn) -> Contour:
    """Any of the shapes above, or a disc or a triangle."""
    w, h = draw(sizes), draw(sizes)
    small = min(w, h)
    kind = draw(st.sampled_from(["rounded", "slot", "L", "crescent", "disc", "triangle", "plain"]))
    return {
        "rounded": lambda: rounded_rectangle(w, h, (0.05 + 0.4 * draw(shares)) * small),
        "slot": lambda: slot(max(w, h) + small, small),
        "L": lambda: angle_piece(w, h, 0.4 * small),
        "crescent": lambda: crescent(w, max(h, 0.3 * w)),  # or the bite cuts the block in two
        "disc": lambda: Contour.circle((small / 2, small / 2), small / 2),
        "triangle": lambda: Contour([(0, 0), (w, 0), (draw(shares) * w, h)]),
        "plain": lambda: Contour.rectangle(w, h),
    }[kind]()


@st.composite
def holes(draw: st.DrawFn, outer: Contour) -> tuple[Contour, ...]:
    """No hole, or a round one that keeps clear of the outer contour."""
    from shapely import maximum_inscribed_circle

    from nestlib.geometry import region

    radius_line = maximum_inscribed_circle(region(outer), tolerance=0.1)
    share = draw(st.sampled_from([0, 0, 0.3, 0.8]))
    radius = share * radius_line.length
    if radius < 1:
        return ()
    return (Contour.circle(radius_line.coords[0], radius).reversed(),)


rotations = st.sampled_from(
    [(0.0, 90.0, 180.0, 270.0), (0.0, 180.0), (0.0,), (0.0, 33.0, 181.5), None]
)


@st.composite
def parts(draw: st.DrawFn, name: str) -> Part:
    """A part with every freedom that a job file offers."""
    outer = draw(outlines())
    x0, y0 = outer.bounds[:2]
    outer = Contour(outer.points - (x0, y0), outer.bulges)
    return Part(
        name=name,
        outer=outer.oriented(ccw=True),
        inners=draw(holes(outer)),
        marks=draw(st.sampled_from([(), (Contour([(2, 2), (6, 3)], closed=False),)])),
        quantity=draw(st.integers(1, 7)),
        rotations=draw(rotations),
        flip=draw(st.booleans()),
        grain=draw(st.sampled_from([None, None, None, 0.0, 90.0, 15.0])),
        priority=draw(st.integers(0, 1)),
        filler=draw(st.sampled_from([False, False, False, True])),
        due=draw(st.sampled_from([None, None, date(2030, 5, 1), date(2030, 6, 1)])),
        most_per_sheet=draw(st.sampled_from([None, None, None, 1, 2, 5])),
        kit=draw(st.sampled_from(["", "", "stand", "rack"])),
        need=draw(st.sampled_from([1.0, 1.0, 2.5])),
    )
