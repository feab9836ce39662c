"""Random outlines of all sorts: convex, notched, with holes, thin; 3 to 500 vertices."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from hypothesis import strategies as st
from shapely import STRtree, affinity
from shapely.geometry import MultiPoint, Polygon

SORTS = ("convex", "star", "notched", "holed", "thin", "comb", "round")


def convex(random: np.random.Generator, vertices: int) -> Polygon:
    """The hull of points on a circle."""
    angles = np.sort(random.uniform(0, 2 * np.pi, vertices))
    angles[:3] = [0.1, 2.2, 4.3]  # or all could be on one side
    return MultiPoint(np.column_stack([np.cos(angles), np.sin(angles)])).convex_hull


def star(random: np.random.Generator, vertices: int, least: float = 0.35) -> Polygon:
    """Points at any distances in the directions of a circle."""
    share = np.arange(vertices) + random.uniform(-0.3, 0.3, vertices)
    angles, r = 2 * np.pi * share / vertices, random.uniform(least, 1.0, vertices)
    return Polygon(np.column_stack([r * np.cos(angles), r * np.sin(angles)]))


def notched(random: np.random.Generator) -> Polygon:
    """An L with legs of any width: right angles, and edges that may be flush with others."""
    w, h = np.round(random.uniform(0.2, 0.8, 2), 1)
    return Polygon([(0, 0), (1, 0), (1, h), (w, h), (w, 1), (0, 1)])


def holed(random: np.random.Generator, vertices: int) -> Polygon:
    """A convex outline with a star cut out of it."""
    outer = affinity.scale(convex(random, vertices), 2, 2, origin=(0, 0))
    hole = affinity.scale(star(random, max(vertices // 2, 4)), 0.4, 0.4, origin=(0, 0))
    return Polygon(outer.exterior.coords, [hole.exterior.coords])


def thin(random: np.random.Generator) -> Polygon:
    """A needle: a triangle 50 to 1000 times as long as it is high, in any direction."""
    height = 1 / random.uniform(50, 1000)
    needle = Polygon([(0, 0), (1, 0), (random.uniform(0, 1), height)])
    return affinity.rotate(needle, random.uniform(0, 360), origin=(0, 0))


def comb(random: np.random.Generator, vertices: int) -> Polygon:
    """Teeth on a bar."""
    teeth = max(vertices // 4, 2)
    step = 1 / (2 * teeth - 1)
    points = [(0.0, 0.0), (1.0, 0.0)]
    for k in reversed(range(teeth)):
        high = random.uniform(0.4, 0.9)
        points += [((2 * k + 1) * step, high), (2 * k * step, high)]
        points += [(2 * k * step, 0.2), ((2 * k - 1) * step, 0.2)] if k else []
    return Polygon(points)


def outline(sort: str, vertices: int, seed: int) -> Polygon:
    """An outline about as large as a unit square."""
    random = np.random.default_rng(seed)
    if sort == "round":
        return convex(random, max(vertices, 60))
    if sort in ("notched", "thin"):
        return {"notched": notched, "thin": thin}[sort](random)
    made = {"convex": convex, "star": star, "holed": holed, "comb": comb}[sort]
    return made(random, max(vertices, 4))


@st.composite
def outlines(draw: st.DrawFn, most: int = 40, scales: float = 0.0) -> Polygon:
    """Any outline, at any place, of a size between 10 ** -scales and 10 ** scales."""
    vertices = draw(st.integers(3, most))
    polygon = outline(draw(st.sampled_from(SORTS)), vertices, draw(st.integers(0, 999)))
    size = 10 ** draw(st.floats(-scales, scales))
    x, y = draw(st.sampled_from([(0.0, 0.0), (-0.5, -0.5), (7.0, -3.0)]))
    return affinity.scale(affinity.translate(polygon, x, y), size, size, origin=(0, 0))


def overlaps(pieces: Sequence[Polygon]) -> list[float]:
    """Common areas of every two pieces whose boxes meet, one of them a millionth smaller.

    Where edges agree but for rounding, the intersection may be told to be a whole piece.
    """
    near = STRtree(pieces).query(pieces)
    smaller = [p.buffer(-1e-6 * p.length) for p in pieces]
    return [0.0, *(smaller[i].intersection(pieces[j]).area for i, j in near.T if i < j)]
