"""Do two polygons overlap? Exact up to rounding; touching counts as overlap."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from nestlib.engine.catalogue import Catalogue, Floats
from nestlib.engine.kernel import kernel

#: Circles of each polygon that are tried as a proof of overlap.
_PROOF = 4


@kernel
def circles_meet(cat: Catalogue, a: int, b: int, dx: float, dy: float) -> bool:
    """Tell whether one of the largest circles of `a` meets one of `b`, moved by (dx, dy)."""
    for i in range(min(_PROOF, cat.circles[a])):
        x = cat.cx[a, i] - np.float32(dx)
        y = cat.cy[a, i] - np.float32(dy)
        r = cat.cr[a, i]
        for j in range(min(_PROOF, cat.circles[b])):
            gx = x - cat.cx[b, j]
            gy = y - cat.cy[b, j]
            reach = r + cat.cr[b, j]
            if gx * gx + gy * gy < reach * reach:
                return True
    return False


@kernel
def point_within(cat: Catalogue, a: int, x: float, y: float) -> bool:
    """Tell by the parity of crossings whether a point lies within orientation `a`."""
    inside = False
    for k in range(cat.edge_start[a], cat.edge_start[a + 1]):
        ay, by = cat.y1[k], cat.y2[k]
        if (ay > y) != (by > y):
            ax, bx = cat.x1[k], cat.x2[k]
            if x < ax + (y - ay) * (bx - ax) / (by - ay):
                inside = not inside
    return inside


@kernel
def outlines_cross(
    cat: Catalogue, a: int, b: int, dx: float, dy: float, near: NDArray[np.float64]
) -> bool:
    """Tell whether an edge of `a` meets an edge of `b`, moved by (dx, dy).

    Only edges that reach into the common part of both bounding boxes are compared;
    `near`, shape (4, n), holds those of `b` meanwhile.
    """
    left = max(cat.box[a, 0], cat.box[b, 0] + dx)
    bottom = max(cat.box[a, 1], cat.box[b, 1] + dy)
    right = min(cat.box[a, 2], cat.box[b, 2] + dx)
    top = min(cat.box[a, 3], cat.box[b, 3] + dy)
    n = 0
    for k in range(cat.edge_start[b], cat.edge_start[b + 1]):
        x1, y1, x2, y2 = cat.x1[k] + dx, cat.y1[k] + dy, cat.x2[k] + dx, cat.y2[k] + dy
        if (
            max(x1, x2) >= left
            and min(x1, x2) <= right
            and max(y1, y2) >= bottom
            and min(y1, y2) <= top
        ):
            near[0, n], near[1, n], near[2, n], near[3, n] = x1, y1, x2, y2
            n += 1
    if n == 0:
        return False
    for k in range(cat.edge_start[a], cat.edge_start[a + 1]):
        x1, y1, x2, y2 = cat.x1[k], cat.y1[k], cat.x2[k], cat.y2[k]
        e0, e2 = min(x1, x2), max(x1, x2)
        e1, e3 = min(y1, y2), max(y1, y2)
        if e2 < left or e0 > right or e3 < bottom or e1 > top:
            continue
        ux, uy = x2 - x1, y2 - y1
        for j in range(n):
            p1, q1, p2, q2 = near[0, j], near[1, j], near[2, j], near[3, j]
            s1 = ux * (q1 - y1) - uy * (p1 - x1)
            s2 = ux * (q2 - y1) - uy * (p2 - x1)
            if s1 * s2 > 0.0:
                continue
            vx, vy = p2 - p1, q2 - q1
            t1 = vx * (y1 - q1) - vy * (x1 - p1)
            t2 = vx * (y2 - q1) - vy * (x2 - p1)
            if (
                t1 * t2 <= 0.0
                and max(p1, p2) >= e0
                and min(p1, p2) <= e2
                and max(q1, q2) >= e1
                and min(q1, q2) <= e3
            ):
                return True
    return False


@kernel
def overlap(cat: Catalogue, a: int, b: int, dx: float, dy: float, near: Floats) -> bool:
    """Tell whether orientation `a` at (0, 0) meets orientation `b` at (dx, dy).

    Parameters
    ----------
    cat : Catalogue
        The orientations.
    a, b : int
        Which two; their bounding boxes are known to meet.
    dx, dy : float
        Where `b` is, seen from `a`.
    near : ndarray, shape (4, n)
        Room for as many edges as any orientation has.
    """
    if circles_meet(cat, a, b, dx, dy) or outlines_cross(cat, a, b, dx, dy, near):
        return True
    if point_within(cat, a, cat.inside[b, 0] + dx, cat.inside[b, 1] + dy):
        return True
    return point_within(cat, b, cat.inside[a, 0] - dx, cat.inside[a, 1] - dy)
