"""The geometry of filling a room without any waste, on flat arrays.

Terms
-----
region
    What is still free: a row (x, y, next, previous) for each vertex of its boundary, the
    free side on the left. `next` and `previous` are rows; several rings may touch in a
    vertex, which then has a row for each.
hook
    A vertex of a piece in one of its ways to lie, listed by the direction of an edge.
"""

from __future__ import annotations

import math

import numpy as np

from nestlib.packing.kernels import FloatArray, IntArray, njit

#: Directions in radians closer than this may be the same; points decide.
ALIKE = 1e-6


@njit
def direction(x: float, y: float) -> float:
    """Return the direction of a vector in radians, from -10 `ALIKE` to almost a full turn."""
    angle = math.atan2(y, x)
    return angle + 2 * math.pi if angle < -10 * ALIKE else angle


@njit
def turn(ax: float, ay: float, bx: float, by: float) -> float:
    """Return the angle from one vector counter-clockwise to another, above 0 to a full turn."""
    angle = math.atan2(ax * by - ay * bx, ax * bx + ay * by)
    return angle + 2 * math.pi if angle <= 1e-12 else angle


@njit
def _first_alike(region: FloatArray, count: int, x: float, y: float, eps: float) -> int:
    """The first of some vertices that lies at a point; -1 if there is none."""
    for i in range(count):
        if abs(region[i, 0] - x) <= eps and abs(region[i, 1] - y) <= eps:
            return i
    return -1


@njit
def _contains(ends: FloatArray, count: int, x: float, y: float) -> bool:
    """Whether a point lies within closed rings, given by the ends (x, y, x, y) of edges."""
    inside = False
    for i in range(count):
        ay, by = ends[i, 1], ends[i, 3]
        if (ay > y) != (by > y):
            ax, bx = ends[i, 0], ends[i, 2]
            if x < ax + (bx - ax) * (y - ay) / (by - ay):
                inside = not inside
    return inside


@njit
def _split(
    ends: FloatArray, names: IntArray, points: FloatArray, ids: IntArray, eps: float
) -> tuple[FloatArray, IntArray]:
    """Cut edges at the points that lie on them.

    `names` are the points at the ends of each edge; the pieces of an edge follow each
    other in its direction.
    """
    room = len(ends) * (1 + len(points))
    cut, named = np.empty((room, 4)), np.empty((room, 2), np.int64)
    at, who = np.empty(len(points)), np.empty(len(points), np.int64)
    used = 0
    for e in range(len(ends)):
        ax, ay, bx, by = ends[e, 0], ends[e, 1], ends[e, 2], ends[e, 3]
        dx, dy = bx - ax, by - ay
        length = math.hypot(dx, dy)
        dx, dy = dx / length, dy / length
        found = 0
        for p in range(len(points)):
            x, y = points[p, 0] - ax, points[p, 1] - ay
            along = x * dx + y * dy
            if not eps < along < length - eps or abs(x * dy - y * dx) > eps:
                continue
            k = found
            while k > 0 and at[k - 1] > along:
                at[k], who[k] = at[k - 1], who[k - 1]
                k -= 1
            at[k], who[k] = along, p
            found += 1
        x, y, name = ax, ay, names[e, 0]
        for k in range(found):
            p = who[k]
            if ids[p] == name or ids[p] == names[e, 1]:
                continue
            cut[used] = x, y, points[p, 0], points[p, 1]
            named[used] = name, ids[p]
            x, y, name = points[p, 0], points[p, 1], ids[p]
            used += 1
        cut[used] = x, y, bx, by
        named[used] = name, names[e, 1]
        used += 1
    return cut[:used], named[:used]


@njit
def _cross(a: FloatArray, b: FloatArray, eps: float) -> bool:
    """Whether any edge of one list passes through the inside of one of the other."""
    for i in range(len(a)):
        ax, ay = a[i, 0], a[i, 1]
        dx, dy = a[i, 2] - ax, a[i, 3] - ay
        reach = eps * math.hypot(dx, dy)
        x0, x1 = min(ax, a[i, 2]), max(ax, a[i, 2])
        y0, y1 = min(ay, a[i, 3]), max(ay, a[i, 3])
        for j in range(len(b)):
            if max(b[j, 0], b[j, 2]) < x0 or min(b[j, 0], b[j, 2]) > x1:
                continue
            if max(b[j, 1], b[j, 3]) < y0 or min(b[j, 1], b[j, 3]) > y1:
                continue
            c = (b[j, 1] - ay) * dx - (b[j, 0] - ax) * dy
            d = (b[j, 3] - ay) * dx - (b[j, 2] - ax) * dy
            if not ((c > reach and d < -reach) or (c < -reach and d > reach)):
                continue
            ex, ey = b[j, 2] - b[j, 0], b[j, 3] - b[j, 1]
            far = eps * math.hypot(ex, ey)
            c = (ay - b[j, 1]) * ex - (ax - b[j, 0]) * ey
            d = (a[i, 3] - b[j, 1]) * ex - (a[i, 2] - b[j, 0]) * ey
            if (c > far and d < -far) or (c < -far and d > far):
                return True
    return False


@njit
def _ends(region: FloatArray) -> FloatArray:
    """Both ends of the edge that begins at each vertex of a region."""
    ends = np.empty((len(region), 4))
    for i in range(len(region)):
        j = int(region[i, 2])
        ends[i] = region[i, 0], region[i, 1], region[j, 0], region[j, 1]
    return ends


@njit
def cut_off(
    region: FloatArray, piece: FloatArray, dx: float, dy: float, eps: float, rest: bool
) -> tuple[bool, FloatArray]:
    """Take a piece away from a region.

    Parameters
    ----------
    region : ndarray, shape (n, 4)
        What is free.
    piece : ndarray, shape (m, 2)
        Its vertices, counter-clockwise.
    dx, dy : float
        How far it is moved.
    eps : float
        Points closer than this along x and y are the same.
    rest : bool
        Whether to return what is left; otherwise an empty array.

    Returns
    -------
    tuple of (bool, ndarray)
        Whether the piece lies within the region, and what is left of that.
    """
    n, m = len(region), len(piece)
    nothing = np.empty((0, 4))
    ends = _ends(region)
    points = np.empty((m, 2))
    ids = np.empty(m, np.int64)
    for j in range(m):
        x, y = piece[j, 0] + dx, piece[j, 1] + dy
        same = _first_alike(region, n, x, y, eps)
        ids[j] = same if same >= 0 else n + j
        points[j, 0] = region[same, 0] if same >= 0 else x
        points[j, 1] = region[same, 1] if same >= 0 else y
    sides, names = np.empty((m, 4)), np.empty((m, 2), np.int64)
    for j in range(m):
        k = (j + 1) % m
        sides[j] = points[j, 0], points[j, 1], points[k, 0], points[k, 1]
        names[j] = ids[j], ids[k]
    if _cross(sides, ends, eps):
        return False, nothing
    own, owned = np.empty(n, np.int64), np.empty((n, 2), np.int64)
    for i in range(n):
        own[i] = _first_alike(region, n, region[i, 0], region[i, 1], eps)
    for i in range(n):
        owned[i] = own[i], own[int(region[i, 2])]
    sides, names = _split(sides, names, region[:, :2], own, eps)
    walls, owned = _split(ends, owned, points, ids, eps)
    side_kept, wall_kept = np.ones(len(sides), np.bool_), np.ones(len(walls), np.bool_)
    for s in range(len(sides)):
        for w in range(len(walls)):
            if names[s, 0] == owned[w, 0] and names[s, 1] == owned[w, 1]:
                side_kept[s] = wall_kept[w] = False
            elif names[s, 0] == owned[w, 1] and names[s, 1] == owned[w, 0]:
                return False, nothing
    for s in range(len(sides)):
        if side_kept[s]:
            x, y = 0.5 * (sides[s, 0] + sides[s, 2]), 0.5 * (sides[s, 1] + sides[s, 3])
            if not _contains(ends, n, x, y):
                return False, nothing
    for w in range(len(walls)):
        if wall_kept[w]:
            x, y = 0.5 * (walls[w, 0] + walls[w, 2]), 0.5 * (walls[w, 1] + walls[w, 3])
            if _contains(sides, len(sides), x, y):
                return False, nothing
    if not rest:
        return True, nothing
    count = len(sides) + len(walls)
    left, ways = np.empty((count, 4)), np.empty((count, 2), np.int64)
    k = 0
    for w in range(len(walls)):
        if wall_kept[w]:
            left[k], ways[k] = walls[w], owned[w]
            k += 1
    for s in range(len(sides)):
        if side_kept[s]:
            left[k] = sides[s, 2], sides[s, 3], sides[s, 0], sides[s, 1]
            ways[k] = names[s, 1], names[s, 0]
            k += 1
    return True, rings(left[:k], ways[:k], eps)


@njit
def rings(ends: FloatArray, names: IntArray, eps: float) -> FloatArray:
    """Join directed edges to rings that do not cross, without vertices on straight lines.

    Parameters
    ----------
    ends : ndarray, shape (n, 4)
        Edges (x, y, x, y) with the free side on their left.
    names : ndarray of int, shape (n, 2)
        Which points these ends are.
    eps : float
        Vertices closer to the line through their neighbours are left out.

    Returns
    -------
    ndarray, shape (m, 4)
        A region.
    """
    count = len(ends)
    region, used = np.empty((count, 4)), 0
    free = np.ones(count, np.bool_)
    ring = np.empty(count, np.int64)
    for first in range(count):
        if not free[first]:
            continue
        length, edge = 0, first
        while edge >= 0 and free[edge]:
            free[edge] = False
            ring[length] = edge
            length += 1
            if names[edge, 1] == names[first, 0]:
                best_edge, best = first, _bend(ends, edge, first)
            else:
                best_edge, best = -1, 10.0
            for k in range(count):
                if free[k] and names[k, 0] == names[edge, 1]:
                    angle = _bend(ends, edge, k)
                    if angle < best:
                        best_edge, best = k, angle
            edge = best_edge
        start = used
        for k in range(length):
            a, b = ring[k - 1] if k else ring[length - 1], ring[k]
            ux, uy = ends[b, 0] - ends[a, 0], ends[b, 1] - ends[a, 1]
            vx, vy = ends[b, 2] - ends[a, 0], ends[b, 3] - ends[a, 1]
            if abs(ux * vy - uy * vx) > eps * math.hypot(vx, vy):
                region[used, 0], region[used, 1] = ends[b, 0], ends[b, 1]
                region[used, 2], region[used, 3] = used + 1, used - 1
                used += 1
        if used - start < 3:
            used = start
        else:
            region[start, 3], region[used - 1, 2] = used - 1, start
    return region[:used].copy()


@njit
def _bend(ends: FloatArray, a: int, b: int) -> float:
    """The angle on the left between an edge and one that begins at its end."""
    return turn(
        ends[b, 2] - ends[b, 0],
        ends[b, 3] - ends[b, 1],
        ends[a, 0] - ends[a, 2],
        ends[a, 1] - ends[a, 3],
    )


@njit
def areas(region: FloatArray) -> FloatArray:
    """Return the area of each ring of a region; that of a hole is negative."""
    found, count = np.empty(len(region)), 0
    start = 0
    while start < len(region):
        end = int(region[start, 3]) + 1
        total = 0.0
        x0, y0 = region[start, 0], region[start, 1]
        for i in range(start, end):
            j = int(region[i, 2])
            total += (region[i, 0] - x0) * (region[j, 1] - y0)
            total -= (region[j, 0] - x0) * (region[i, 1] - y0)
        found[count] = 0.5 * total
        count += 1
        start = end
    return found[:count].copy()


@njit
def _at_least(values: FloatArray, start: int, end: int, wanted: float) -> int:
    """The first of some increasing values that is not below another; `end` if all are."""
    while start < end:
        middle = (start + end) // 2
        if values[middle] < wanted:
            start = middle + 1
        else:
            end = middle
    return start


@njit
def _is_listed(values: FloatArray, start: int, end: int, wanted: float, eps: float) -> bool:
    """Whether a value is one of some increasing ones, or beyond the last of them."""
    k = _at_least(values, start, end, wanted - eps)
    return k == end or values[k] <= wanted + eps


@njit
def _bounds(region: FloatArray, eps: float) -> tuple[float, float, float, float]:
    """A box around a region: least x and y, largest x and y."""
    x0, y0, x1, y1 = np.inf, np.inf, -np.inf, -np.inf
    for i in range(len(region)):
        x0, x1 = min(x0, region[i, 0]), max(x1, region[i, 0])
        y0, y1 = min(y0, region[i, 1]), max(y1, region[i, 1])
    return x0 - eps, y0 - eps, x1 + eps, y1 + eps


@njit
def _increasing(values: FloatArray) -> IntArray:
    """Indices of a few values in increasing order; compiled sooner than a sort for many."""
    order = np.empty(len(values), np.int64)
    for i in range(len(values)):
        k = i
        while k > 0 and values[order[k - 1]] > values[i]:
            order[k] = order[k - 1]
            k -= 1
        order[k] = i
    return order


@njit
def fewest(
    region: FloatArray,
    vertices: FloatArray,
    starts: IntArray,
    boxes: FloatArray,
    kinds: IntArray,
    hooks: tuple[FloatArray, FloatArray],
    refs: tuple[IntArray, IntArray],
    shape: FloatArray,
    begins: FloatArray,
    sums: FloatArray,
    firsts: IntArray,
    left: IntArray,
    eps: float,
) -> FloatArray:
    """Find the corner that fewest pieces fit into.

    Whatever covers the neighbourhood of a corner of less than 180 degrees along one of
    its sides has a vertex there, an edge along that side and no larger angle.

    Parameters
    ----------
    region : ndarray, shape (n, 4)
        What is free.
    vertices : ndarray, shape (v, 2)
        Of all pieces in all their ways to lie, counter-clockwise.
    starts : ndarray of int, shape (k + 1,)
        First vertex of each way.
    boxes : ndarray, shape (k, 4)
        Bounding box of each way.
    kinds : ndarray of int, shape (k,)
        Which kind of piece it is.
    hooks : tuple of ndarray, shape (v,)
        Directions of the edges that leave and of those that reach a vertex, increasing.
    refs : tuple of ndarray of int, shape (v, 2)
        Way and vertex of each hook.
    shape : ndarray, shape (v, 3)
        Angle at each vertex, length of the edge that leaves it and of that which reaches it.
    begins : ndarray, shape (g,)
        Where each group of directions begins, increasing.
    sums : ndarray
        For each group, the lengths that edges of it have together, increasing.
    firsts : ndarray of int, shape (g + 1,)
        Where the sums of each group begin.
    left : ndarray of int, shape (kinds,)
        How many pieces are left.
    eps : float
        Points closer than this are the same.

    Returns
    -------
    ndarray, shape (c, 6)
        All ways to fill that corner: way, shift along x and y, and whether the piece fills
        the angle, and is as long as the sides.
    """
    n = len(region)
    angle, length = np.empty(n), np.empty(n)
    for i in range(n):
        a, b = int(region[i, 3]), int(region[i, 2])
        ux, uy = region[b, 0] - region[i, 0], region[b, 1] - region[i, 1]
        vx, vy = region[a, 0] - region[i, 0], region[a, 1] - region[i, 1]
        angle[i], length[i] = turn(ux, uy, vx, vy), math.hypot(ux, uy)
    low_x, low_y, high_x, high_y = _bounds(region, eps)
    best = np.empty((0, 6))
    least = 1 << 40
    for i in _increasing(angle):
        if angle[i] > math.pi - ALIKE:
            break
        a, b = int(region[i, 3]), int(region[i, 2])
        x, y = region[i, 0], region[i, 1]
        for side in range(2):
            if side == 0:
                wanted = direction(region[b, 0] - x, region[b, 1] - y)
                far, closed = length[i], angle[b] < math.pi - ALIKE
            else:
                wanted = direction(x - region[a, 0], y - region[a, 1])
                far, closed = length[a], angle[a] < math.pi - ALIKE
            group = _at_least(begins, 0, len(begins), wanted + ALIKE) - 1
            all_hooks = hooks[side]
            start = _at_least(all_hooks, 0, len(all_hooks), wanted - ALIKE)
            end = _at_least(all_hooks, start, len(all_hooks), wanted + ALIKE)
            found, count = np.empty((end - start, 6)), 0
            for h in range(start, end):
                if count >= least:
                    break
                way, vertex = refs[side][h, 0], refs[side][h, 1]
                own = shape[vertex, 0]
                if left[kinds[way]] == 0 or own > angle[i] + ALIKE:
                    continue
                gap = far - shape[vertex, 1 + side]
                if closed and not _is_listed(sums, firsts[group], firsts[group + 1], gap, 4 * eps):
                    continue
                dx, dy = x - vertices[vertex, 0], y - vertices[vertex, 1]
                if boxes[way, 0] + dx < low_x or boxes[way, 2] + dx > high_x:
                    continue
                if boxes[way, 1] + dy < low_y or boxes[way, 3] + dy > high_y:
                    continue
                piece = vertices[starts[way] : starts[way + 1]]
                if not cut_off(region, piece, dx, dy, eps, False)[0]:
                    continue
                full = own > angle[i] - ALIKE
                found[count, 0], found[count, 1], found[count, 2] = way, dx, dy
                found[count, 3] = full
                found[count, 4] = abs(gap) <= eps
                other = length[a] if side == 0 else length[i]
                found[count, 5] = full and abs(shape[vertex, 2 - side] - other) <= eps
                count += 1
            if count < least:
                least, best = count, found[:count].copy()
                if count == 0:
                    return best
    return best
