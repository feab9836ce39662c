"""What is packed: parts by themselves, and patterns of them, never more pieces than wanted."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from nestlib.bundling.pattern import Pattern
from nestlib.bundling.patterns import patterns, saved_length
from nestlib.geometry.transform import placed
from nestlib.model import Job, Part, Sheet

#: A pattern takes this share of the largest sheet at most: larger ones are hard to place.
_SHARE = 1 / 4


@dataclass(frozen=True, eq=False)
class Thing:
    """One shape for the packer.

    Parameters
    ----------
    part : int
        Index of the part.
    quantity : int
        How many of it are wanted.
    pattern : Pattern, or None
        Pieces laid together; None for one piece by itself.
    most : int, or None
        Most of it on one sheet.
    """

    part: int
    quantity: int
    pattern: Pattern | None = None
    most: int | None = None

    @property
    def pieces(self) -> int:
        """How many pieces one of it is."""
        return 1 if self.pattern is None else len(self.pattern.members)


def plain_things(job: Job) -> list[Thing]:
    """Return every part by itself."""
    return [Thing(i, p.quantity, None, p.most_per_sheet) for i, p in enumerate(job.parts)]


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
    return [
        p for p in found
        if allowed_turns(part, p) != () and any(_fits(p, sheet, job) for sheet in job.sheets)
    ]  # fmt: skip


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
        small = [p for p in found.get(thing.part, ()) if len(p.members) <= most]
        made += list(_of_part(thing, job.parts[thing.part], small))
    return made


def allowed_turns(part: Part, pattern: Pattern) -> tuple[float, ...] | None:
    """Return the turns of a pattern that leave each of its pieces an allowed one.

    Parameters
    ----------
    part : Part
        Whose pieces they are; along a grain its pieces may lie either way round.
    pattern : Pattern
        Pieces as they lie in it.

    Returns
    -------
    tuple of float, or None
        None if any turn is allowed.
    """
    if part.rotations is None or part.grain is not None:
        return part.rotations
    turns = {t % 360.0 for t in part.rotations}
    own = {member.rotation for member in pattern.members}
    return tuple(sorted(t for t in turns if {(t + r) % 360.0 for r in own} <= turns))


def as_part(part: Part, pattern: Pattern) -> Part:
    """Return the pattern as if it were one part, with the holes of all its pieces."""
    holes = tuple(placed(c, m) for m in pattern.members for c in part.inners)
    return Part(part.name, pattern.outline, holes)


def _of_part(thing: Thing, part: Part, found: Sequence[Pattern]) -> Iterator[Thing]:
    """The largest pattern as often as it goes, then smaller ones, then single pieces."""
    left = part.quantity
    # Only one size where a sheet holds only so many: singles and patterns count together.
    sizes = sorted({len(p.members) for p in found}, reverse=True)
    for size in sizes[:1] if part.most_per_sheet else sizes:
        number, rest = divmod(left, size)
        on_sheet = None if part.most_per_sheet is None else (part.most_per_sheet - rest) // size
        if number and on_sheet != 0:
            same = [p for p in found if len(p.members) == size]
            best = max(same, key=lambda p: saved_length(p, part))
            yield Thing(thing.part, number, best, on_sheet)
            left = rest
    if left:
        yield Thing(thing.part, left, None, thing.most)


def _has_opposite(turns: Sequence[float]) -> bool:
    return any((t + 180.0) % 360.0 in {u % 360.0 for u in turns} for t in turns)


def _fits(pattern: Pattern, sheet: Sheet, job: Job) -> bool:
    """Whether a pattern is no larger than what it may take of a sheet."""
    x0, y0, x1, y1 = pattern.outline.bounds
    length, width = sorted((side - 2 * job.spacing.to_edge for side in sheet.size), reverse=True)
    longer, shorter = sorted((x1 - x0, y1 - y0), reverse=True)
    small = longer * shorter <= _SHARE * max(0.0, length) * max(0.0, width)
    return small and longer <= length and shorter <= width
