"""Things drawn more than once: whole copies, and lines that overlap in part."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Sequence

import numpy as np
import shapely
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components
from scipy.spatial import cKDTree

from nestlib.drawings.sketch import Stroke
from nestlib.geometry.polygons import line
from nestlib.model.contour import Contour, FloatArray
from nestlib.tolerances import CURVE, SAME_POINT


def copies(contours: Sequence[Contour], tolerance: float) -> dict[int, int]:
    """Find contours that are drawn again, in either direction.

    Compared is the whole course, not only the ends: an arc is no copy of its chord.

    Parameters
    ----------
    contours : sequence of Contour
        Open or closed.
    tolerance : float
        Copies lie this close to each other everywhere, in mm; and always closer than a
        tenth of their length.

    Returns
    -------
    dict of int to int
        Index of each copy, and of the earlier contour that it repeats.
    """
    if len(contours) < 2:
        return {}
    # A change of place by the tolerance changes the bounds by no more, and the length of
    # a rough contour by several times as much.
    features = np.array([(*c.bounds, c.length / 10) for c in contours])
    found: dict[int, int] = {}
    leaders = _exact_leaders(features)
    for i, leader in leaders.items():
        if leader != i and _same_course(contours[leader], contours[i], tolerance):
            found[i] = leader
    rest = [i for i in range(len(contours)) if i not in found]
    pairs = cKDTree(features[rest]).query_pairs(tolerance * 2.3, output_type="ndarray")
    for a, b in sorted((rest[i], rest[j]) for i, j in pairs):
        if a not in found and b not in found and _same_course(contours[a], contours[b], tolerance):
            found[b] = a
    return found


def _exact_leaders(features: FloatArray) -> dict[int, int]:
    """The first index with the same features, for each index."""
    first: dict[tuple[float, ...], int] = {}
    keys = [tuple(float(v) for v in row) for row in np.round(features / SAME_POINT)]
    return {i: first.setdefault(key, i) for i, key in enumerate(keys)}


def _same_course(a: Contour, b: Contour, tolerance: float) -> bool:
    if a.closed != b.closed:
        return False
    near = min(tolerance, min(a.length, b.length) / 10)
    chord = max(near / 4, 1e-3)
    apart = shapely.hausdorff_distance(line(a, chord), line(b, chord))
    return float(apart) <= near + chord / 2


def merge_overlaps(
    strokes: Sequence[Stroke], tolerance: float
) -> tuple[list[Stroke], list[Stroke]]:
    """Make one line of straight lines that lie partly on one another.

    Parameters
    ----------
    strokes : sequence of Stroke
        All that are open; only single straight lines are looked at.
    tolerance : float
        Lines that overlap by less than this merely touch, in mm.

    Returns
    -------
    list of Stroke
        All strokes, in their order, with one line for each group of overlapping ones.
    list of Stroke
        The lines that came from merging.
    """
    straight = [i for i, s in enumerate(strokes) if len(s.contour) == 2 and not s.contour.bulges[0]]
    if len(straight) < 2:
        return list(strokes), []
    ends = np.array([strokes[i].contour.points for i in straight])
    pairs = _overlapping(ends, tolerance)
    if not len(pairs):
        return list(strokes), []
    merged, replaced = [], set()
    for group in _groups(pairs, len(straight)):
        members = [straight[i] for i in group]
        replaced.update(members)
        first = strokes[min(members)]
        merged.append(Stroke(_hull(ends[group]), first.style, first.order, first.mark))
    kept = [s for i, s in enumerate(strokes) if i not in replaced]
    return sorted([*kept, *merged], key=lambda s: s.order), merged


def _overlapping(ends: FloatArray, tolerance: float) -> FloatArray:
    """Pairs of lines, shape (n, 2), that share more than `tolerance` of their course."""
    lines = shapely.linestrings(ends)
    a, b = shapely.STRtree(lines).query(lines, predicate="dwithin", distance=CURVE)
    ahead = a < b
    a, b = a[ahead], b[ahead]
    lengths = np.hypot(*(ends[:, 1] - ends[:, 0]).T)
    longer = np.where(lengths[a] >= lengths[b], a, b)
    shorter = np.where(lengths[a] >= lengths[b], b, a)
    origin = ends[longer, 0]
    along = (ends[longer, 1] - origin) / lengths[longer, None]
    off = ends[shorter] - origin[:, None, :]
    across = off[..., 0] * along[:, None, 1] - off[..., 1] * along[:, None, 0]
    position = np.einsum("nij,nj->ni", off, along)
    low = np.maximum(position.min(axis=1), 0)
    high = np.minimum(position.max(axis=1), lengths[longer])
    share = np.minimum(tolerance, lengths[shorter] / 2)
    fits = (np.abs(across).max(axis=1) <= CURVE) & (high - low > share)
    return np.asarray(np.column_stack([a, b])[fits])


def _groups(pairs: FloatArray, count: int) -> list[list[int]]:
    """Sets of two or more that hang together."""
    graph = coo_array((np.ones(len(pairs)), (pairs[:, 0], pairs[:, 1])), shape=(count, count))
    labels = connected_components(graph, directed=False)[1]
    groups: dict[int, list[int]] = defaultdict(list)
    for i in np.unique(pairs):
        groups[int(labels[i])].append(int(i))
    return list(groups.values())


def _hull(ends: FloatArray) -> Contour:
    """The line between the outermost ends of lines that all lie on one another."""
    longest = max(ends, key=lambda e: math.dist(*e))
    points = ends.reshape(-1, 2)
    along = (points - longest[0]) @ (longest[1] - longest[0])
    return Contour([points[along.argmin()], points[along.argmax()]], closed=False)
