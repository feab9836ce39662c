"""What a bound has to know of shapes and containers."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray
from scipy.spatial.distance import pdist
from shapely import MultiPolygon, Polygon, get_coordinates

from nestlib.packing.bounds.bodies import SLACK, Lying, least_boxes, ways_to_lie
from nestlib.packing.interface import Container, Shape
from nestlib.packing.kernels import FloatArray


@dataclass(frozen=True, eq=False)
class Kind:
    """Pieces of one shape.

    Parameters
    ----------
    shape : Shape
        What it looks like.
    number : int
        How many of them there are.
    outline : shapely.Polygon
        Its clearance polygon without holes.
    area : float
        What it takes of a room: its clearance polygon and the holes in it that are too
        small for any other piece.
    most : int
        How many of them may lie in one container, by the conditions.
    """

    shape: Shape
    number: int
    outline: Polygon
    area: float
    most: int


@dataclass(frozen=True, eq=False)
class Space:
    """One kind of container.

    Parameters
    ----------
    width, height : float
        Of the box around its room.
    area : float
        Of its room.
    stock : int
        How many of them are there or of any use.
    price : float, or None
        What one costs.
    metal : float
        Area of all of it.
    outside : bool
        Whether its room reaches beyond the metal.
    """

    width: float
    height: float
    area: float
    stock: int
    price: float | None
    metal: float
    outside: bool

    @property
    def is_box(self) -> bool:
        """Whether its room is a rectangle along the axes."""
        return 0 < self.width * self.height * (1 - SLACK) <= self.area

    @property
    def whole(self) -> float:
        """The larger of its area and that of the box around its room."""
        return max(self.metal, self.width * self.height, 1e-300)


@dataclass(frozen=True, eq=False)
class Case:
    """What has to lie where.

    Parameters
    ----------
    kinds : list of Kind
        Only those that have pieces and fit somewhere.
    spaces : list of Space
        Where they may lie.
    lyings : list of list of list of Lying
        For each space and kind, how a piece may lie there; empty if it does not fit.
    nested : ndarray of bool, shape (kinds, kinds)
        Whether a piece of the second kind may lie in a hole of one of the first.
    apart : ndarray of bool, shape (kinds, kinds)
        Whether pieces may not lie in one container, by the conditions; symmetric.
    """

    kinds: list[Kind]
    spaces: list[Space]
    lyings: list[list[list[Lying]]]
    nested: NDArray[np.bool_]
    apart: NDArray[np.bool_]

    @property
    def numbers(self) -> list[int]:
        """How many pieces of each kind there are."""
        return [k.number for k in self.kinds]

    @property
    def pieces(self) -> int:
        """How many pieces there are."""
        return sum(self.numbers)

    @property
    def conditioned(self) -> bool:
        """Whether any condition says what may share a container."""
        return bool(self.apart.any()) or any(k.most < k.number for k in self.kinds)


def case(
    shapes: Sequence[Shape], containers: Sequence[Container], missing: Sequence[int] = ()
) -> Case:
    """Find out what matters to a bound.

    Parameters
    ----------
    shapes : sequence of Shape
        What has to be placed; fillers do not count.
    containers : sequence of Container
        What there is.
    missing : sequence of int
        For each shape, how many pieces do not count.

    Returns
    -------
    Case
    """
    left_out = [*missing, *[0] * (len(shapes) - len(missing))]
    needed = [i for i, s in enumerate(shapes) if not s.filler and s.quantity > left_out[i]]
    wanted = [(shapes[i], shapes[i].quantity - left_out[i]) for i in needed]
    outlines = [Polygon(s.polygon.exterior) for s, _ in wanted]

    @cache
    def ways(kind: int, grain: float) -> tuple[list[Lying], FloatArray]:
        shape, outline = wanted[kind][0], outlines[kind]
        return ways_to_lie(shape, outline, grain), least_boxes(shape, outline, grain)

    lyings: list[list[list[Lying]]] = []
    for c in containers:
        grains = [c.grain if s.grain is not None else 0.0 for s, _ in wanted]
        found = [ways(i, g) for i, g in enumerate(grains)]
        lyings.append(
            [_fitting(c.room, *f, s.polygon.area) for f, (s, _) in zip(found, wanted, strict=True)]
        )
    used = [i for i in range(len(wanted)) if any(by_kind[i] for by_kind in lyings)]
    apart = _apart(shapes, [needed[i] for i in used])
    ringed = any(p.interiors for c in containers for p in c.room.geoms)
    kinds, nested = _kinds(
        [wanted[i] for i in used], [outlines[i] for i in used], apart.diagonal(), ringed
    )
    pieces = sum(k.number for k in kinds)
    spaces = [_space(c, pieces) for c in containers]
    return Case(kinds, spaces, [[by_kind[i] for i in used] for by_kind in lyings], nested, apart)


def _apart(shapes: Sequence[Shape], kept: Sequence[int]) -> NDArray[np.bool_]:
    """Which of some shapes may not share a container with which; one saying so is enough."""
    place = {i: k for k, i in enumerate(kept)}
    found = np.zeros((len(kept),) * 2, dtype=bool)
    for i, k in place.items():
        for j in (place[j] for j in shapes[i].apart if j in place):
            found[k, j] = found[j, k] = True
    return found


def _space(container: Container, pieces: int) -> Space:
    stock = pieces if container.quantity is None else min(pieces, container.quantity)
    if container.room.is_empty:
        return Space(0.0, 0.0, 0.0, 0, container.cost, container.area, False)
    x0, y0, x1, y1 = container.room.bounds
    room = container.room.area
    outside = container.beyond > 0
    return Space(x1 - x0, y1 - y0, room, stock, container.cost, container.area, outside)


def _fitting(
    room: MultiPolygon, lyings: list[Lying], boxes: FloatArray, area: float
) -> list[Lying]:
    """Ways to lie that some part of a room is wide, high and large enough for."""
    parts = [p for p in room.geoms if area <= p.area * (1 + SLACK)]
    sizes = [np.array([p.bounds[2] - p.bounds[0], p.bounds[3] - p.bounds[1]]) for p in parts]
    limits = [size + SLACK * size.max() for size in sizes]
    if not any((boxes <= limit).all(axis=1).any() for limit in limits):
        return []
    return [o for o in lyings if any(o.width <= w and o.height <= h for w, h in limits)]


def _kinds(
    wanted: Sequence[tuple[Shape, int]],
    outlines: Sequence[Polygon],
    alone: NDArray[np.bool_],
    ringed: bool,
) -> tuple[list[Kind], NDArray[np.bool_]]:
    """Fill the holes that no outline can lie in, and that no gap of a ringed room can."""
    measures = np.array([_measures(o) for o in outlines]).reshape(-1, 3)
    nested = np.zeros((len(wanted), len(wanted)), dtype=bool)
    kinds = []
    for i, (shape, number) in enumerate(wanted):
        area = shape.polygon.area
        for ring in shape.polygon.interiors:
            hole = Polygon(ring)
            inside = measures[:, 0] <= hole.area * (1 + SLACK)
            if inside.any():
                inside &= (measures <= np.array(_measures(hole)) * (1 + SLACK)).all(axis=1)
            nested[i] |= inside
            area += 0.0 if inside.any() or ringed else hole.area
        most = 1 if alone[i] else number if shape.most is None else min(number, shape.most)
        kinds.append(Kind(shape, number, outlines[i], area, most))
    return kinds, nested


def _measures(polygon: Polygon) -> tuple[float, float, float]:
    """Area, least width and diameter: what lies within another has none of them larger."""
    corners = get_coordinates(polygon.convex_hull.exterior)
    edges = np.diff(corners, axis=0)
    normals = np.stack([edges[:, 1], -edges[:, 0]], axis=1) / np.hypot(*edges.T)[:, None]
    width = np.ptp(corners @ normals.T, axis=0).min()
    return polygon.area, float(width), float(pdist(corners).max())
