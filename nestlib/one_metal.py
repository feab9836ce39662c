"""Several jobs as one: everything to be cut from the same metal, for buying its sheets.

Where jobs keep different distances, the widest of them count, so that every layout holds for
all of them. A part that stands in several jobs alike is counted once, with all its pieces,
whenever they are due. Fillers are not bought for; what is at hand are the sheets whose number
is given.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date

import numpy as np

from nestlib.from_drawings import unique
from nestlib.model import Contour, Job, Metal, Part, Sheet, Spacing


@dataclass(frozen=True, eq=False)
class OneMetal:
    """All that is wanted of one metal in one thickness.

    Parameters
    ----------
    job : Job
        All parts; its sheets are at hand.
    due : tuple of Counter
        For each part, how many pieces are due on which day; None for no day.
    jobs : tuple of str
        Titles of the jobs it comes from.
    """

    job: Job
    due: tuple[Counter[date | None], ...]
    jobs: tuple[str, ...]


def by_metal(jobs: Sequence[Job]) -> list[OneMetal]:
    """Return what is wanted of each metal and thickness, in the order in which they come.

    Parameters
    ----------
    jobs : sequence of Job
        Of any metals.
    """
    groups: defaultdict[tuple[str, float], list[Job]] = defaultdict(list)
    for job in jobs:
        groups[metal_key(job.metal)].append(job)
    return [_together(group) for group in groups.values()]


def metal_key(metal: Metal) -> tuple[str, float]:
    """Return what tells one metal from another: its name, and its thickness in mm."""
    return metal.material.name, round(metal.thickness, 3)


def _together(jobs: Sequence[Job]) -> OneMetal:
    parts, due = _parts(jobs)
    titles = tuple(job.title for job in jobs)
    spacing = Spacing(
        max(job.spacing.kerf for job in jobs),
        max(job.spacing.spacing for job in jobs),
        max(job.spacing.margin for job in jobs),
    )
    remnant_size = max(job.remnant_size for job in jobs)
    job = replace(
        jobs[0],
        title=", ".join(titles),
        parts=parts,
        sheets=_at_hand(jobs),
        spacing=spacing,
        remnant_size=remnant_size,
    )
    return OneMetal(job, due, titles)


def _parts(jobs: Sequence[Job]) -> tuple[tuple[Part, ...], tuple[Counter[date | None], ...]]:
    """All parts, those that are alike once, and when their pieces are due."""
    found: list[Part] = []
    due: list[Counter[date | None]] = []
    for part in (p for job in jobs for p in job.parts if not p.filler and p.quantity):
        same = next((i for i, other in enumerate(found) if _alike(part, other)), len(found))
        if same == len(found):
            found.append(part)
            due.append(Counter())
        due[same][part.due] += part.quantity
    names = unique([part.name for part in found])
    # No piece comes first: all of them are bought for.
    parts = (
        replace(part, name=name, quantity=days.total(), priority=0, kit="", due=None)
        for part, name, days in zip(found, names, due, strict=True)
    )
    return tuple(parts), tuple(due)


def _alike(one: Part, other: Part) -> bool:
    """Whether two parts are the same, apart from how many are wanted and when."""
    if one.name != other.name or len(one.inners) != len(other.inners):
        return False
    free = ("rotations", "flip", "grain", "most_per_sheet", "apart")
    if any(getattr(one, key) != getattr(other, key) for key in free):
        return False
    pairs = zip((one.outer, *one.inners), (other.outer, *other.inners), strict=True)
    return all(_same(a, b) for a, b in pairs)


def _same(one: Contour, other: Contour) -> bool:
    return np.array_equal(one.points, other.points) and np.array_equal(one.bulges, other.bulges)


def _at_hand(jobs: Sequence[Job]) -> tuple[Sheet, ...]:
    """All sheets whose number is given: of the others any number can be bought, at a price."""
    sheets = [sheet for job in jobs for sheet in job.sheets if sheet.quantity is not None]
    names = unique([sheet.name for sheet in sheets])
    return tuple(replace(s, name=n) for s, n in zip(sheets, names, strict=True))
