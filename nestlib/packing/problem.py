"""Shapes and containers, made ready once for all fillings. Can be sent to other processes."""

from __future__ import annotations

import math
import uuid
from collections import Counter, defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property

from shapely import Polygon

from nestlib.packing.board import Board, Room
from nestlib.packing.interface import Aims, Container, PackedPlacement, Shape
from nestlib.packing.orientations import Orientation, orientations
from nestlib.packing.simplify import simplified

#: What to do about a shape that is too large.
_LARGER = "Give a larger sheet or a smaller margin, allow more turns, or leave the part out"

#: For one container: each shape's orientations that fit into it.
Turns = list[list[Orientation]]


@dataclass(frozen=True, eq=False)
class Problem:
    """What there is to place and where.

    Parameters
    ----------
    shapes : tuple of Shape
        What to place; simplified.
    containers : tuple of Container
        Where to place it.
    rooms : tuple of Room
        The same, ready for the kernels.
    turns : tuple of list of list of Orientation
        For each container and shape, how the shape fits there when it is empty.
    token : str
        Names the problem in all processes.
    aims : Aims
        What counts besides the price of the containers.
    """

    shapes: tuple[Shape, ...]
    containers: tuple[Container, ...]
    rooms: tuple[Room, ...]
    turns: tuple[Turns, ...]
    token: str = ""
    aims: Aims = field(default_factory=Aims)

    @cached_property
    def areas(self) -> list[float]:
        """True area of each shape in mm²."""
        return [s.area for s in self.shapes]

    @cached_property
    def polygon_areas(self) -> list[float]:
        """Area that each shape takes in mm², clearance included."""
        return [s.polygon.area for s in self.shapes]

    @cached_property
    def outline_areas(self) -> list[float]:
        """Area within the outline of each shape in mm², holes included."""
        return [Polygon(s.polygon.exterior).area for s in self.shapes]

    @cached_property
    def fits(self) -> list[bool]:
        """Whether each shape fits into any container at all."""
        return [any(turns[i] for turns in self.turns) for i in range(len(self.shapes))]

    @cached_property
    def required(self) -> list[int]:
        """For each shape, how many pieces can and must be placed."""
        return self._wanted(fillers=False)

    @cached_property
    def fillers(self) -> list[int]:
        """For each shape, how many pieces may be placed where room is left."""
        return self._wanted(fillers=True)

    @cached_property
    def most(self) -> list[float]:
        """For each shape, how many pieces may lie in one container at most."""
        alone = [i in apart for i, apart in enumerate(self.apart)]
        return [
            1 if single else math.inf if s.most is None else s.most
            for s, single in zip(self.shapes, alone, strict=True)
        ]

    @cached_property
    def apart(self) -> list[frozenset[int]]:
        """For each shape, those that may not lie in the same container."""
        found: list[set[int]] = [set(s.apart) for s in self.shapes]
        for i, s in enumerate(self.shapes):
            for j in s.apart:
                found[j].add(i)
        return [frozenset(others) for others in found]

    @cached_property
    def kits(self) -> list[str]:
        """Names of the kits of several shapes."""
        found = Counter(s.kit for s in self.shapes if s.kit)
        return [kit for kit, n in found.items() if n > 1]

    @cached_property
    def alike(self) -> list[list[int]]:
        """Groups of shapes that only differ in when they are due and in their kits."""
        groups: defaultdict[object, list[int]] = defaultdict(list)
        for i, s in enumerate(self.shapes):
            if s.most is None and not self.apart[i]:
                key = s.polygon.wkb, s.area, s.rotations, s.flip, s.grain, s.filler
                groups[key].append(i)
        wishes = [(s.due, s.kit) for s in self.shapes]
        return [group for group in groups.values() if len({wishes[i] for i in group}) > 1]

    @cached_property
    def conditioned(self) -> bool:
        """Whether any shape says what else may lie in its container."""
        return any(s.apart or s.most is not None for s in self.shapes)

    def allowed(self, shape: int, counts: Mapping[int, int]) -> bool:
        """Return whether one more piece may lie where so many of each shape lie already."""
        if not self.conditioned:
            return True
        others = self.apart[shape] - {shape}
        return counts.get(shape, 0) < self.most[shape] and not any(counts.get(o) for o in others)

    def _wanted(self, fillers: bool) -> list[int]:
        return [
            s.quantity if fit and s.filler == fillers else 0
            for s, fit in zip(self.shapes, self.fits, strict=True)
        ]

    def orientation(self, container: int, placement: PackedPlacement) -> Orientation:
        """Return how a placed piece lies."""
        p = placement
        return self._by_turn[container, p.shape, p.rotation, p.flip]

    def corner(self, container: int, placement: PackedPlacement) -> tuple[float, float]:
        """Return the lower left corner of the bounding box of a placed piece."""
        box = self.orientation(container, placement).box
        return placement.x + box[0], placement.y + box[1]

    @cached_property
    def _by_turn(self) -> dict[tuple[int, int, float, bool], Orientation]:
        return {
            (c, s, o.rotation, o.flip): o
            for c, turns in enumerate(self.turns)
            for s, found in enumerate(turns)
            for o in found
        }

    @cached_property
    def quantities(self) -> list[float]:
        """For each container, how many there are; infinite if as many as needed."""
        return [math.inf if c.quantity is None else c.quantity for c in self.containers]

    @cached_property
    def ranks(self) -> list[list[int]]:
        """Containers by rank, those to be filled first in front."""
        orders = [c.order for c in self.containers]
        return [
            [i for i, order in enumerate(orders) if order == rank] for rank in sorted(set(orders))
        ]

    @cached_property
    def costs(self) -> list[float]:
        """What each container counts for: see `weights`."""
        return weights(self.containers)


def prepare(
    shapes: Sequence[Shape], containers: Sequence[Container], aims: Aims | None = None
) -> Problem:
    """Simplify and cut up everything, and find out what fits where.

    Parameters
    ----------
    shapes : sequence of Shape
        What to place.
    containers : sequence of Container
        Where to place it.
    aims : Aims, optional
        What counts besides the price of the containers.

    Returns
    -------
    Problem
    """
    smallest = min((Polygon(s.polygon.exterior).area for s in shapes), default=0.0)
    light = tuple(replace(s, polygon=simplified(s.polygon, smallest)) for s in shapes)
    rooms = tuple(Room.of(c.room) for c in containers)
    every: dict[float, Turns] = {
        grain: [orientations(s, grain) for s in light]
        for grain in dict.fromkeys(c.grain for c in containers)
    }
    turns = tuple(
        [[o for o in found if _fits(o, room)] for found in every[c.grain]]
        for c, room in zip(containers, rooms, strict=True)
    )
    return Problem(light, tuple(containers), rooms, turns, uuid.uuid4().hex, aims or Aims())


def weights(containers: Sequence[Container]) -> list[float]:
    """Return what each container counts for when results are compared.

    Its price; without one, a container of the last rank counts by its area (at the
    average price of the priced ones, if any), and one that is to be used up first
    counts for nothing.

    Parameters
    ----------
    containers : sequence of Container
        With or without prices.

    Returns
    -------
    list of float
    """
    priced = [c for c in containers if c.cost is not None]
    paid, area = sum(c.cost or 0.0 for c in priced), sum(c.area for c in priced)
    rate = paid / area if paid and area else 1.0
    last = max((c.order for c in containers), default=0)
    return [
        c.cost if c.cost is not None else rate * c.area if c.order == last else 0.0
        for c in containers
    ]


def why_unplaced(problem: Problem, shape: int) -> str:
    """Return why pieces of a shape found no place, and what to do about it, in plain words."""
    if problem.fits[shape]:
        why = "no sheet left with room for it" + _under_conditions(problem, shape)
        return f"{why}. Give more sheets, or ask for fewer pieces"
    if not problem.containers:
        return "there is no sheet. Give one"
    tries = [
        (o, room)
        for container, room in zip(problem.containers, problem.rooms, strict=True)
        for o in orientations(problem.shapes[shape], container.grain)
    ]
    if not tries:
        return "no turn is allowed. Allow some"
    if all(min(room.size) <= 0 for room in problem.rooms):
        return "the margin leaves no room on any sheet. Give a smaller margin or larger sheets"
    o, room = min(tries, key=lambda pair: _excess(*pair))
    why = "does not fit on any sheet in any allowed turn: "
    if _excess(o, room) <= 0:
        why += "its box would, but corners, holes or keep-out zones are in the way"
        return f"{why}. {_LARGER}"
    needed, offered = _told((o.width, o.height), room.size)
    return (
        f"{why}with half the distance to its neighbours around it, it takes {needed} mm, "
        f"and the sheet offers {offered} mm within its margin. {_LARGER}"
    )


def _under_conditions(problem: Problem, shape: int) -> str:
    """What else may have kept a shape from a sheet."""
    most, others = problem.most[shape], problem.apart[shape] - {shape}
    words = [f"at most {most:g} on a sheet"] if most < math.inf else []
    if others:
        words.append("never with " + ", ".join(problem.shapes[o].name for o in sorted(others)))
    return f" ({'; '.join(words)})" if words else ""


def _excess(o: Orientation, room: Room) -> float:
    """By how much a box is too wide or too high for a room; 0 or less if it is neither."""
    width, height = room.size
    return max(o.width - width, o.height - height)


def _told(needed: tuple[float, float], offered: tuple[float, float]) -> tuple[str, str]:
    """Two sizes, with as many digits as show that the first is too large for the second."""
    for digits in range(10):
        pairs = [(round(n, digits), round(o, digits)) for n, o in zip(needed, offered, strict=True)]
        if any(n > o for n, o in pairs):
            break
    width, height = (f"{n:.{digits}f}" for n in needed)
    wide, high = (f"{o:.{digits}f}" for o in offered)
    return f"{width} x {height}", f"{wide} x {high}"


def _fits(o: Orientation, room: Room) -> bool:
    return Board(room).find(o)[0] < math.inf
