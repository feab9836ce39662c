"""Pack with and without common lines, and keep what is better.

Patterns of pieces are stiffer than pieces, so they may cost a sheet where single pieces do
not. So the job is packed without them first, then with those that save most, and then with
ever smaller and fewer ones, until one costs no more; what is missing, what sheets and set-ups
cost, and the aims of the job come first, and what is saved in cutting decides only among equals.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace

from nestlib.bundling import Thing, plain_things, put, saved_length, things, usable, with_others
from nestlib.cutting import fate
from nestlib.for_packer import aims_of, containers_of, placement_of, shapes_of
from nestlib.geometry import placed, region
from nestlib.geometry.mass import centre_of_mass
from nestlib.model import Bundle, Job, Part, Placement
from nestlib.packing import PackedSheet, Packing, SearchState, StoppingRule
from nestlib.packing.problem import prepare
from nestlib.packing.score import wanted
from nestlib.packing.stopping import seconds_left

#: Most pieces in a pattern, one attempt after the other.
_SIZES = (8, 4)

#: After this share of the time the packing without patterns is over; of the rest each of the
#: others takes half of what is left.
_PLAIN = 0.5

#: Packs things until a share of the time is over.
Pack = Callable[[Sequence[Thing], float], Packing]


@dataclass(frozen=True)
class Hurried:
    """A stopping rule for one of several searches that share its time.

    Parameters
    ----------
    stop : StoppingRule
        The rule; what it counts is counted anew in each search.
    share : float
        After this share of its time, above 0 and up to 1, the search is over.
    before : float
        What the searches before it took, in s.
    """

    stop: StoppingRule
    share: float
    before: float = 0.0

    def __call__(self, state: SearchState) -> bool:
        """Return whether the search should stop now."""
        return self.stop(replace(state, seconds=(self.before + state.seconds) / self.share))

    def left(self, seconds: float) -> float | None:
        """Return how many seconds are left at most, of all searches."""
        return seconds_left(self.stop, self.before + seconds)


@dataclass(frozen=True, eq=False)
class Packed:
    """What was packed, and how.

    Parameters
    ----------
    packing : Packing
        Its shapes are the things.
    things : sequence of Thing
        Parts and patterns of them.
    """

    packing: Packing
    things: Sequence[Thing]

    def on_sheet(self, sheet: PackedSheet, job: Job) -> tuple[list[Placement], list[Bundle]]:
        """Return the pieces on a sheet, and which of them share cuts."""
        pieces: list[Placement] = []
        bundles: list[Bundle] = []
        for p in sheet.placements:
            thing = self.things[p.shape]
            where = placement_of(job.parts[thing.parts[0]], p)
            if thing.pattern is None:
                pieces.append(where)
            else:
                own, bundle = put(thing.pattern, where, job.spacing.kerf, len(pieces))
                pieces += own
                bundles.append(bundle)
        return pieces, bundles

    def missing(self, job: Job) -> list[int]:
        """Return how many pieces of each part found no place."""
        missing = [0] * len(job.parts)
        for shape, quantity, _ in self.packing.unplaced:
            for part in self.things[shape].parts:
                missing[part] += quantity
        return missing


#: What tells which packing is better, compared from the front; smaller is better.
Rating = Callable[[Packed], tuple[float, ...]]


def best_packed(job: Job, ways: Sequence[Sequence[Thing]], pack: Pack) -> list[Packed]:
    """Return what was packed best, with common lines or without.

    Parameters
    ----------
    job : Job
        With its parts.
    ways : sequence of sequence of Thing
        From `sharing_ways`.
    pack : callable
        Packs things until a share of the time is over.

    Returns
    -------
    list of Packed
        One, or two that are equal but for their remnants and cuts: only a whole plan tells
        which costs less. Without common lines if the user stopped before there was another.
    """
    alone = plain_things(job)
    if not ways:
        return [Packed(pack(alone, 1.0), alone)]
    rating = _rating(job)
    found = [Packed(pack(alone, _PLAIN), alone)]
    for number, way in enumerate(ways, start=1):
        if found[-1].packing.stopped or (number > 1 and _no_worse(found[-1], found[0], rating)):
            break
        until = 1.0 if way is ways[-1] else 1 - (1 - _PLAIN) / 2**number
        found.append(Packed(pack(way, until), way))
    stopped = found[-1].packing.stopped
    found = [replace(f, packing=replace(f.packing, stopped=stopped)) for f in found]
    best = min(found, key=rating)
    alike = rating(best)[:-1] == rating(found[0])[:-1] and best is not found[0]
    return [best, found[0]] if alike and job.money.remnant_worth else [best]


def _no_worse(one: Packed, other: Packed, rating: Rating) -> bool:
    """Whether one is as good as another in all but what it saves in cutting."""
    return rating(one)[:-1] <= rating(other)[:-1]


def may_share(part: Part, job: Job) -> bool:
    """Return whether pieces of a part are laid together.

    Not what has to lie alone, nor what fills small rooms, nor what joints shall hold: a joint
    on the way around would not hold all of its pieces.
    """
    alone = part.filler or part.name in part.apart or job.spacing.kerf <= 0
    return part.common_lines and not alone and not _held(part, job)


def _held(part: Part, job: Job) -> bool:
    """Whether joints would hold it, however it lies."""
    joints, support = part.joints or job.holding.joints, job.machine.support
    if joints == "all" or (joints == "tipping" and part.rotations is None and support is not None):
        return True
    if joints == "none" or support is None:
        return False
    lying = [Placement(part.name, t, f, 0.0, 0.0) for t in part.rotations or (0.0,)
             for f in {False, part.flip}]  # fmt: skip
    # Where it will lie on the slats is not known yet, so that anywhere has to do.
    anywhere = replace(support, offset=None)
    for p in lying:
        outer, holes = placed(part.outer, p), [placed(c, p) for c in part.inners]
        if fate(region(outer, holes), centre_of_mass(outer, holes), anywhere) != "stays":
            return True
    return False


def sharing_ways(job: Job) -> list[list[Thing]]:
    """Return ways to lay pieces together, those that save most first.

    Seconds for a hundred parts that may share cuts, so no clock of a search should run.

    Parameters
    ----------
    job : Job
        Says which parts may share cuts.
    """
    ways: list[list[Thing]] = []
    sharing = {i: part for i, part in enumerate(job.parts) if may_share(part, job)}
    found = {i: usable(part, job, max(_SIZES)) for i, part in sharing.items()}
    for most in _SIZES:
        of_one_part = things(job, found, most)
        mixed = [
            with_others(job, of_one_part, sharing, most, unequal=unequal)
            for unequal in (True, False)
        ]
        for way in (*mixed, of_one_part):
            together = any(thing.pattern for thing in way)
            if together and _alike(way, job) not in [_alike(w, job) for w in ways]:
                ways.append(way)
    return sorted(ways, key=lambda way: -_saved_in_all(way, job))


def _saved(thing: Thing, job: Job) -> float:
    """Length in mm that is not cut for one of it."""
    return saved_length(thing.pattern, thing.parts_of(job)) if thing.pattern else 0.0


def _saved_in_all(way: Sequence[Thing], job: Job) -> float:
    return sum(_saved(thing, job) * thing.quantity for thing in way)


def _alike(way: Sequence[Thing], job: Job) -> tuple[object, ...]:
    """The same for ways that lay the same pieces together and save the same."""
    sizes = sorted((thing.parts, thing.quantity) for thing in way)
    return sizes, round(_saved_in_all(way, job), 6)


def _rating(job: Job) -> Rating:
    """Return what tells which packing is better; last comes what it saves in cutting."""
    # What remnants are worth is left to the search: here it would need the cut paths.
    plain = shapes_of(job, plain_things(job))
    problem = prepare(plain, containers_of(job), replace(aims_of(job), worth=0.0))

    def rating(packed: Packed) -> tuple[float, ...]:
        sheets = [_singly(sheet, packed.things) for sheet in packed.packing.sheets]
        return (*wanted(problem, sheets), -sum(_savings(packed, job)))

    return rating


def _singly(sheet: PackedSheet, way: Sequence[Thing]) -> PackedSheet:
    """The sheet as far as parts and numbers count, not places."""
    pieces = tuple(replace(p, shape=part) for p in sheet.placements for part in way[p.shape].parts)
    return PackedSheet(sheet.container, pieces, sheet.runs)


def _savings(packed: Packed, job: Job) -> Iterator[float]:
    """Length in mm that is not cut, sheet by sheet."""
    for sheet in packed.packing.sheets:
        yield sheet.runs * sum(_saved(packed.things[p.shape], job) for p in sheet.placements)
