"""How much do two parts overlap? A smooth measure from inscribed circles.

The measure follows J. Gardeyn, G. Vanden Berghe, T. Wauters, arXiv:2509.13329 (2025).
"""

from __future__ import annotations

import numpy as np

from nestlib.engine.catalogue import SMOOTH, Catalogue
from nestlib.engine.kernel import summing


@summing
def penetration(cat: Catalogue, a: int, b: int, dx: float, dy: float) -> float:
    """Measure how deep two overlapping orientations lie in each other; always positive."""
    smooth = np.float32(SMOOTH * max(cat.diameter[a], cat.diameter[b]))
    twice, square = np.float32(2.0) * smooth, smooth * smooth
    fx, fy = np.float32(dx), np.float32(dy)
    total = np.float32(0.0)
    na, nb = cat.circles[a], cat.circles[b]
    ax, ay, ar = cat.cx[a], cat.cy[a], cat.cr[a]
    bx, by, br = cat.cx[b], cat.cy[b], cat.cr[b]
    for i in range(na):
        x, y, r = ax[i] - fx, ay[i] - fy, ar[i]
        part = np.float32(0.0)
        for j in range(nb):
            gx = x - bx[j]
            gy = y - by[j]
            p = r + br[j] - np.sqrt(gx * gx + gy * gy)
            deep = p if p >= smooth else square / (twice - min(p, smooth))
            part += deep * min(r, br[j])
        total += part
    return float(np.sqrt(total) * np.sqrt(cat.size[a] * cat.size[b]))
