"""Pieces of different parts laid together: strips of one width, a plate beside a gusset's leg.

What patterns of single parts leave over, and these patterns themselves, are joined two by two,
along the longest edges first, as long as any fit together: a greedy matching. What is joined is
again one thing, so that rows of several parts grow. Only what shares the wishes of a job is
joined: the same priority, due date and kit, a grain or none, and no part that is kept apart
from the other or limited on a sheet.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import combinations_with_replacement

from nestlib.bundling.pattern import Pattern, face, facing_turn, joined, single
from nestlib.bundling.patterns import LEAST_EDGE, all_hang
from nestlib.bundling.things import Thing, placeable
from nestlib.bundling.turns import allowed_turns
from nestlib.model import Job

#: So many pairs of edges are tried at most, since each takes about a millisecond.
_TRIES = 3000

#: Lengths that agree to so many digits are the same, in mm.
_DIGITS = 6

#: So many edges of one length are looked at together.
_ALIKE = 100


def with_others(
    job: Job, made: Sequence[Thing], sharing: Collection[int], most: int
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

    Returns
    -------
    list of Thing
        Together as many pieces of each part as before.
    """
    free = [t for t in made if set(t.parts) <= set(sharing) and _unlimited(t, job)]
    pool = _Pool(job, most, [_laid(thing, job) for thing in free])
    if not pool.join_two():
        return list(made)
    while pool.join_two():
        pass
    joinable = {id(thing) for thing in free}
    return [*(t for t in made if id(t) not in joinable), *pool.things()]


def _unlimited(thing: Thing, job: Job) -> bool:
    """Whether a sheet may hold all pieces of its parts: else they would have to be counted."""
    parts = thing.parts_of(job)
    return all(p.most_per_sheet is None or p.most_per_sheet >= p.quantity for p in parts)


def _laid(thing: Thing, job: Job) -> Thing:
    """The thing with a pattern, if only of one piece."""
    (part, *_) = thing.parts_of(job)
    return replace(thing, pattern=thing.pattern or single(part.name, part.outer))


@dataclass(frozen=True)
class _Edge:
    """A straight edge of a thing."""

    thing: int
    segment: int


class _Pool:
    """What there is to be joined, and how often."""

    def __init__(self, job: Job, most: int, found: Sequence[Thing]) -> None:
        self._job, self._most = job, most
        self._found: list[Thing] = []
        self._left: list[int] = []
        self._edges: defaultdict[tuple[float, object], list[_Edge]] = defaultdict(list)
        numbers = {part.name: i for i, part in enumerate(job.parts)}
        self._apart = [{numbers[n] for n in p.apart if n in numbers} for p in job.parts]
        self._tried: set[tuple[_Edge, _Edge]] = set()
        for thing in sorted(found, key=_area):
            self._add(thing)

    def things(self) -> Iterator[Thing]:
        """All there is; pieces that nothing was joined to by themselves again."""
        for thing, left in zip(self._found, self._left, strict=True):
            if left:
                pattern = thing.pattern if thing.pieces > 1 else None
                yield replace(thing, quantity=left, pattern=pattern)

    def join_two(self) -> bool:
        """Join two kinds of things as often as there are both; False if none can be."""
        for one, other in self._pairs():
            if len(self._tried) >= _TRIES:
                return False
            self._tried.add((one, other))
            thing = self._joined(one, other)
            if thing is not None:
                for k in (one.thing, other.thing):
                    self._left[k] -= thing.quantity
                self._add(thing)
                return True
        return False

    def _add(self, thing: Thing) -> None:
        number = len(self._found)
        self._found.append(thing)
        self._left.append(thing.quantity)
        starts, ends, _ = _pattern(thing).outline.segments
        for i in _pattern(thing).edges(LEAST_EDGE):
            length = round(math.dist(starts[i], ends[i]), _DIGITS)
            self._edges[length, _wishes(thing, self._job)].append(_Edge(number, i))

    def _pairs(self) -> Iterator[tuple[_Edge, _Edge]]:
        """Equally long edges of different things that may lie together, not yet tried."""
        for key in sorted(self._edges, key=lambda key: -key[0]):
            edges = [e for e in self._edges[key] if self._joinable(e.thing)][:_ALIKE]
            for one, other in combinations_with_replacement(edges, 2):
                if (one, other) not in self._tried and self._may_meet(one.thing, other.thing):
                    yield one, other

    def _joinable(self, number: int) -> bool:
        return self._left[number] > 0 and self._found[number].pieces < self._most

    def _may_meet(self, a: int, b: int) -> bool:
        one, other = self._found[a], self._found[b]
        parts = {*one.parts, *other.parts}
        enough = a != b or self._left[a] > 1
        few = one.pieces + other.pieces <= self._most
        return len(parts) > 1 and enough and few and not (parts & self._apart_from(parts))

    def _apart_from(self, parts: Collection[int]) -> set[int]:
        """What may not lie on a sheet with any of some parts."""
        return set().union(*(self._apart[i] for i in parts))

    def _joined(self, one: _Edge, other: _Edge) -> Thing | None:
        """Two things with an edge of each at the other; None if they do not fit together."""
        first, second = self._found[one.thing], self._found[other.thing]
        whole = self._put_together(first, one.segment, second, other.segment)
        parts = [*first.parts_of(self._job), *second.parts_of(self._job)]
        if whole is None or not placeable(parts, whole, self._job) or not all_hang(whole, parts):
            return None
        a, b = one.thing, other.thing
        number = self._left[a] // 2 if a == b else min(self._left[a], self._left[b])
        return Thing((*first.parts, *second.parts), number, whole)

    def _put_together(self, first: Thing, i: int, second: Thing, j: int) -> Pattern | None:
        """The second turned and moved to the first, if they may lie so."""
        one, other, spacing = _pattern(first), _pattern(second), self._job.spacing
        other = other.turned(facing_turn(one, i, other, j))
        members = Pattern((*one.members, *other.members), one.outline)
        parts = [*first.parts_of(self._job), *second.parts_of(self._job)]
        if not face(one, i, other, j) or allowed_turns(parts, members) == ():
            return None
        whole = joined(one, i, other, j, spacing.kerf, spacing.between_parts)
        return None if whole is None else whole.from_corner()


def _pattern(thing: Thing) -> Pattern:
    assert thing.pattern is not None
    return thing.pattern


def _area(thing: Thing) -> float:
    return _pattern(thing).outline.area


def _wishes(thing: Thing, job: Job) -> tuple[object, ...]:
    """What has to be the same of all that is laid together."""
    (part, *_) = thing.parts_of(job)
    return part.priority, part.due, part.kit, part.grain is None
