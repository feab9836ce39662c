"""What is packed: parts by themselves, and patterns of them, never more pieces than wanted."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from nestlib.bundling.pattern import Pattern
from nestlib.bundling.patterns import patterns, saved_length
from nestlib.bundling.turns import allowed_turns, grain_of
from nestlib.geometry.transform import placed, turned
from nestlib.model import Job, Part, Sheet

#: A pattern takes this share of the largest sheet at most: larger ones are hard to place.
_SHARE = 1 / 4


@dataclass(frozen=True, eq=False)
class Thing:
    """One shape for the packer.

    Parameters
    ----------
    parts : tuple of int
        Index of the part of each of its pieces, in the order of the pattern's members.
    quantity : int
        How many of it are wanted.
    pattern : Pattern, or None
        Pieces laid together; None for one piece by itself.
    most : int, or None
        Most of it on one sheet.
    """

    parts: tuple[int, ...]
    quantity: int
    pattern: Pattern | None = None
    most: int | None = None

    @property
    def pieces(self) -> int:
        """How many pieces one of it is."""
        return len(self.parts)

    def parts_of(self, job: Job) -> list[Part]:
        """Return the part of each of its pieces."""
        return [job.parts[i] for i in self.parts]


def plain_things(job: Job) -> list[Thing]:
    """Return every part by itself."""
    return [Thing((i,), p.quantity, None, p.most_per_sheet) for i, p in enumerate(job.parts)]


def usable(part: Part, job: Job, most: int) -> list[Pattern]:
    """Return the patterns of a part that may lie on a sheet and leave room for others.

    Parameters
    ----------
    part : Part
        How many are wanted, on one sheet too, and how they may turn.
    job : Job
        Sheets and spacing.
    most : int
        Most pieces in a pattern.
    """
    limit = min(most, part.quantity, part.most_per_sheet or most)
    half_turns = part.rotations is None or part.grain is not None or _has_opposite(part.rotations)
    found = patterns(part, job.spacing, limit, half_turns=half_turns)
    return [p for p in found if placeable([part] * len(p.members), p, job)]


def most_area(job: Job) -> float:
    """Return how large a pattern may be, in mm²."""
    inset = 2 * job.spacing.to_edge
    rooms = [math.prod(max(0.0, side - inset) for side in s.size) for s in job.sheets]
    return _SHARE * max(rooms, default=0.0)


def placeable(parts: Sequence[Part], pattern: Pattern, job: Job) -> bool:
    """Return whether a pattern may lie on a sheet and leaves room for others there.

    Parameters
    ----------
    parts : sequence of Part
        Whose pieces its members are, one for each.
    pattern : Pattern
        With its lower left corner at (0, 0).
    job : Job
        Sheets and spacing.
    """
    turns, grain = allowed_turns(parts, pattern), grain_of(parts, pattern)
    return any(
        _fits(pattern, turn, sheet, job)
        for sheet in job.sheets
        for turn in _lying(turns, grain, sheet)
    )


def things(job: Job, found: Mapping[int, Sequence[Pattern]], most: int) -> list[Thing]:
    """Return patterns of the parts that may share cuts, and what is left over by itself.

    Parameters
    ----------
    job : Job
        The parts.
    found : mapping of int to sequence of Pattern
        Index of a part that may -> its usable patterns.
    most : int
        Most pieces in a pattern.

    Returns
    -------
    list of Thing
        Together as many pieces of each part as are wanted.
    """
    made = []
    for thing in plain_things(job):
        (part,) = thing.parts
        small = [p for p in found.get(part, ()) if len(p.members) <= most]
        made += list(_of_part(thing, job.parts[part], small))
    return made


def as_part(parts: Sequence[Part], pattern: Pattern) -> Part:
    """Return the pattern as if it were one part, with the holes of all its pieces."""
    pairs = zip(parts, pattern.members, strict=True)
    holes = tuple(placed(c, m) for part, m in pairs for c in part.inners)
    return Part("", pattern.outline, holes)


def _lying(
    turns: tuple[float, ...] | None, grain: float | None, sheet: Sheet
) -> tuple[float | None, ...]:
    """The turns of a pattern on a sheet; None among them for any."""
    if grain is not None and turns is None:
        return (sheet.grain - grain,)
    return (None,) if turns is None else turns


def _of_part(thing: Thing, part: Part, found: Sequence[Pattern]) -> Iterator[Thing]:
    """The largest pattern as often as it goes, then smaller ones, then single pieces."""
    left = part.quantity
    for size in sorted({len(p.members) for p in found}, reverse=True):
        # Only one size where a sheet holds only so many: singles and patterns count together.
        if part.most_per_sheet and left < part.quantity:
            break
        number, rest = divmod(left, size)
        on_sheet = None if part.most_per_sheet is None else (part.most_per_sheet - rest) // size
        if number and on_sheet != 0:
            same = [p for p in found if len(p.members) == size]
            best = max(same, key=lambda p: saved_length(p, [part] * size))
            yield Thing(thing.parts * size, number, best, on_sheet)
            left = rest
    if left:
        yield Thing(thing.parts, left, None, thing.most)


def _has_opposite(turns: Sequence[float]) -> bool:
    return any((t + 180.0) % 360.0 in {u % 360.0 for u in turns} for t in turns)


def _fits(pattern: Pattern, turn: float | None, sheet: Sheet, job: Job) -> bool:
    """Whether a pattern is no larger than what it may take of a sheet; None: turned anyhow."""
    x0, y0, x1, y1 = turned(pattern.outline, turn or 0.0).bounds
    room = [max(0.0, side - 2 * job.spacing.to_edge) for side in sheet.size]
    sides = [x1 - x0, y1 - y0]
    if turn is None:
        room, sides = sorted(room), sorted(sides)
    small = sides[0] * sides[1] <= _SHARE * room[0] * room[1]
    return small and sides[0] <= room[0] and sides[1] <= room[1]
