"""Pieces of different parts laid together: strips of one width, a plate beside a gusset's leg.

What patterns of single parts leave over, and these patterns themselves, are joined two by two,
along the longest edges first, as long as any fit together: a greedy matching. What is joined is
again one of them, so that rows of several parts grow. Only what shares the wishes of a job is
joined: the same priority, due date and kit, a grain or none, and no part that is kept apart
from the other or limited on a sheet. Edges of unequal length are joined only if that lets
little room lie idle beside the shorter one.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

from nestlib.bundling.joining import facing_turn, joined
from nestlib.bundling.pattern import Pattern, single
from nestlib.bundling.patterns import LEAST_EDGE, all_hang
from nestlib.bundling.things import Thing, most_area, placeable
from nestlib.bundling.turns import allowed_turns
from nestlib.geometry.polygons import region
from nestlib.model import Job, Part

#: So many pairs of edges are tried at most, since each takes a few milliseconds.
_TRIES = 1000

#: So many edges next in length are tried at an edge.
_NEXT = 100

#: An edge is up to so many times as long as the one that is joined to it.
_LONGER = 2.0

#: What a join of unequal edges may let lie idle, as a share of what is joined.
_IDLE = 0.05

#: Lengths that differ by less are the same, in mm.
_SAME = 1e-6


def with_others(
    job: Job,
    made: Sequence[Thing],
    sharing: Collection[int],
    most: int,
    *,
    unequal: bool = False,
) -> list[Thing]:
    """Return things of which those of different parts are joined where they fit together.

    Parameters
    ----------
    job : Job
        Parts, sheets and spacing.
    made : sequence of Thing
        Parts by themselves and patterns of them.
    sharing : collection of int
        Indices of the parts that may share cuts.
    most : int
        Most pieces in a pattern.
    unequal : bool
        Whether edges of unequal length are joined too.

    Returns
    -------
    list of Thing
        Together as many pieces of each part as before.
    """
    free = [thing for thing in made if _is_free(thing, job, sharing)]
    pool = _Pool(job, most, unequal)
    for unit in sorted((_Unit.of(thing, job) for thing in free), key=lambda u: u.area):
        pool.add(unit)
    if not pool.join():
        return list(made)
    return [*(thing for thing in made if thing not in free), *pool.things()]


def _is_free(thing: Thing, job: Job, sharing: Collection[int]) -> bool:
    """Whether its parts share cuts, and a sheet may hold all pieces: else they would count."""
    parts = thing.parts_of(job)
    counted = any(p.most_per_sheet is not None and p.most_per_sheet < p.quantity for p in parts)
    return not counted and set(thing.parts) <= set(sharing)


@dataclass(eq=False)
class _Unit:
    """A piece or a pattern, and how many of it nothing has been joined to yet."""

    indices: tuple[int, ...]
    parts: tuple[Part, ...]
    pattern: Pattern
    left: int

    @staticmethod
    def of(thing: Thing, job: Job) -> _Unit:
        """A thing with a pattern, if only of one piece."""
        parts = tuple(thing.parts_of(job))
        pattern = thing.pattern or single(parts[0].name, parts[0].outer)
        return _Unit(thing.parts, parts, pattern, thing.quantity)

    @cached_property
    def area(self) -> float:
        """Within its outline, in mm²."""
        return self.pattern.outline.area

    @cached_property
    def names(self) -> frozenset[str]:
        """Its parts."""
        return frozenset(part.name for part in self.parts)

    @cached_property
    def apart(self) -> frozenset[str]:
        """Parts that never lie on a sheet with it."""
        return frozenset(name for part in self.parts for name in part.apart)

    @property
    def wishes(self) -> tuple[object, ...]:
        """What has to be the same of all that is laid together."""
        part = self.parts[0]
        return part.priority, part.due, part.kit, part.grain is None

    def thing(self) -> Thing:
        """What is packed of it."""
        pattern = self.pattern if len(self.parts) > 1 else None
        return Thing(self.indices, self.left, pattern)


@dataclass(frozen=True, eq=False)
class _Edge:
    """A straight edge of a unit."""

    unit: _Unit
    segment: int
    length: float


class _Pool:
    """What there is to be joined."""

    def __init__(self, job: Job, most: int, unequal: bool) -> None:
        self._job, self._most, self._unequal = job, most, unequal
        self._units: list[_Unit] = []
        self._edges: defaultdict[object, list[_Edge]] = defaultdict(list)
        self._most_area = most_area(job)
        self._tried: set[tuple[_Edge, _Edge]] = set()

    def add(self, unit: _Unit) -> None:
        """Take in another."""
        self._units.append(unit)
        for i in unit.pattern.edges(LEAST_EDGE):
            # Another slot along it would end those that end on it within the pattern.
            if not unit.pattern.crossed(i):
                edge = _Edge(unit, i, math.hypot(*unit.pattern.way(i)))
                self._edges[unit.wishes].append(edge)

    def things(self) -> list[Thing]:
        """All there is; pieces that nothing was joined to by themselves again."""
        return [unit.thing() for unit in self._units if unit.left]

    def join(self) -> bool:
        """Join units two by two until none fit together; False if none do."""
        before = len(self._units)
        while self._joined_once():
            pass
        return len(self._units) > before

    def _joined_once(self) -> bool:
        """Join what there is, each two as often as there are both; what that gives comes next."""
        before = len(self._units)
        for longer, edge in self._pairs():
            if len(self._tried) >= _TRIES:
                return False
            self._tried.add((longer, edge))
            unit = self._joined(longer, edge)
            if unit is not None:
                longer.unit.left -= unit.left
                edge.unit.left -= unit.left
                self.add(unit)
        return len(self._units) > before

    def _pairs(self) -> Iterator[tuple[_Edge, _Edge]]:
        """Edges that may lie at each other, not yet tried, those that share most first."""
        for group in [*self._edges.values()]:
            edges = sorted((e for e in group if self._has_room(e.unit)), key=lambda e: -e.length)
            for k, edge in enumerate(edges):
                # The nearest in length first.
                for longer in edges[max(0, k - _NEXT) : k + 1][::-1]:
                    if longer.length > self._longest_at(edge) or not edge.unit.left:
                        break
                    if (longer, edge) not in self._tried and self._may_meet(longer.unit, edge.unit):
                        yield longer, edge

    def _longest_at(self, edge: _Edge) -> float:
        return edge.length * _LONGER if self._unequal else edge.length + _SAME

    def _has_room(self, unit: _Unit) -> bool:
        return unit.left > 0 and len(unit.parts) < self._most

    def _may_meet(self, one: _Unit, other: _Unit) -> bool:
        enough = min(one.left, other.left) > (1 if one is other else 0)
        small = (
            len(one.parts) + len(other.parts) <= self._most
            and one.area + other.area <= self._most_area
        )
        if not (enough and small):
            return False
        parted = one.names & other.apart or other.names & one.apart
        return not parted and len(one.names | other.names) > 1

    def _joined(self, longer: _Edge, edge: _Edge) -> _Unit | None:
        """Two units with an edge of each at the other; None if they do not fit together."""
        one, other, spacing = longer.unit, edge.unit, self._job.spacing
        turn = facing_turn(one.pattern, longer.segment, other.pattern, edge.segment)
        there = other.pattern.turned(turn)
        parts = (*one.parts, *other.parts)
        members = (*one.pattern.members, *there.members)
        if allowed_turns(parts, replace(there, members=members)) == ():
            return None
        whole = joined(
            one.pattern, longer.segment, there, edge.segment, spacing.kerf, spacing.between_parts
        )
        if whole is None or not self._good(whole.from_corner(), parts):
            return None
        if longer.length - edge.length > _SAME and not _compact(whole, one.pattern, there):
            return None
        number = one.left // 2 if one is other else min(one.left, other.left)
        return _Unit((*one.indices, *other.indices), parts, whole.from_corner(), number)

    def _good(self, whole: Pattern, parts: Sequence[Part]) -> bool:
        return placeable(parts, whole, self._job) and all_hang(whole, parts)


def _compact(whole: Pattern, one: Pattern, other: Pattern) -> bool:
    """Whether little room lies idle beside the shorter of two edges."""
    around, first, second = (
        region(pattern.outline).convex_hull.area for pattern in (whole, one, other)
    )
    return bool(around - first - second <= _IDLE * (first + second))
