"""A cut path made safe: fates, joints and rapids for the cuts in their order."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import replace

from nestlib.cutting.bodies import Bodies
from nestlib.cutting.joints import Critical, held, joint_width, joints_wanted, place_joints
from nestlib.cutting.order import Piece
from nestlib.cutting.rapids import Obstacles, ways
from nestlib.cutting.tipping import DROPS, STAYS, TIPS
from nestlib.geometry.along import Along
from nestlib.geometry.polygons import region
from nestlib.model.job import Job
from nestlib.model.layout import Cut, Joint, Layout
from nestlib.model.part import Part

#: Arcs are replaced by lines this close to them where weights and openings count, in mm.
_CHORD = 0.05

#: Cuts that set nothing free.
_FREE_NOTHING = ("mark", "shared")

#: The worst of several fates comes first.
_WORST = (TIPS, DROPS, STAYS)

#: More names than this in one warning help nobody.
_NAMED = 12


def secured(
    cuts: Sequence[Cut], pieces: Sequence[Piece], layout: Layout, job: Job
) -> tuple[tuple[Cut, ...], tuple[str, ...]]:
    """Return cuts with fates, joints and rapids, and what remains risky.

    Parameters
    ----------
    cuts : sequence of Cut
        In cutting order.
    pieces : sequence of Piece
        Those of the layout, where they lie.
    layout : Layout
        The sheet and the placements.
    job : Job
        The parts, what the machine's sheets lie on, and what is to be held.

    Returns
    -------
    cuts : tuple of Cut
    warnings : tuple of str
    """
    bodies = Bodies(pieces, layout, job)
    risks = _Risks(job)
    joined = [_joined(cut, bodies, layout, job) for cut in cuts]
    firm = [_firm(cut, bodies) for cut in joined]
    for cut, holds in zip(joined, firm, strict=True):
        if cut.role not in _FREE_NOTHING and not holds:
            for one in _one_by_one(cut, bodies):
                part = job.part(layout.placements[one.placement].part)
                risks.note(one, part, wanted=_wanted(one, part.joints or job.holding.joints))
    return _with_rapids(joined, firm, layout, job), tuple(risks.told())


def _with_rapids(
    cuts: Sequence[Cut], firm: Sequence[bool], layout: Layout, job: Job
) -> tuple[Cut, ...]:
    """The cuts, each with the way to it."""
    loose = [(i, cut) for i, cut in enumerate(cuts) if not firm[i] and _in_the_way(cut, job)]
    regions = [region(cut.contour, chord=_CHORD) for _, cut in loose]
    obstacles = Obstacles(layout.sheet, regions, [i + 1 for i, _ in loose])
    starts = [(0.0, 0.0), *(cut.end for cut in cuts)]
    ends = [(start, cut.pierce) for start, cut in zip(starts, cuts, strict=False)]
    # How far the head comes while it could be lifted and lowered.
    worth = job.machine.lift_time * job.machine.rapid / 60
    found = ways(ends, obstacles, worth)
    return tuple(
        replace(cut, lifted=way.lifted, via=way.via) for cut, way in zip(cuts, found, strict=True)
    )


def _in_the_way(cut: Cut, job: Job) -> bool:
    """Whether what a cut opens or sets free must not be crossed with the head down."""
    return cut.role not in _FREE_NOTHING and not (
        job.holding.over_openings and cut.fate in (STAYS, None)
    )


def _firm(cut: Cut, bodies: Bodies) -> bool:
    """Whether joints hold the centre of mass of what is cut between them."""
    return bool(cut.joints) and held(Along(cut.contour), cut.joints, bodies.centre(cut))


def _joined(cut: Cut, bodies: Bodies, layout: Layout, job: Job) -> Cut:
    """A cut with its fate and, where they are wanted, its joints."""
    if cut.role in _FREE_NOTHING:
        return cut
    if cut.role == "around":
        # Pieces that are to be held by joints share no cuts.
        found = {one.fate for one in _one_by_one(cut, bodies)}
        return replace(cut, fate=next((fate for fate in _WORST if fate in found), None))
    part = job.part(layout.placements[cut.placement].part)
    cut = replace(cut, fate=bodies.fate(cut))
    if _wanted(cut, part.joints or job.holding.joints):
        return replace(cut, joints=_joints(cut, part, bodies, layout, job))
    return cut


def _one_by_one(cut: Cut, bodies: Bodies) -> Iterator[Cut]:
    """The cut, or that of each piece by itself where it goes around several."""
    if cut.role != "around":
        yield cut
    for number in cut.pieces:
        own = replace(cut, placement=number, role="outer", pieces=())
        yield replace(own, fate=bodies.fate(own))


def _wanted(cut: Cut, joints: str) -> bool:
    """Whether joints shall hold it; slugs that drop are out of the way."""
    return joints == "all" or (
        joints == "tipping" and (cut.fate == TIPS or (cut.fate == DROPS and cut.role == "outer"))
    )


def _joints(cut: Cut, part: Part, bodies: Bodies, layout: Layout, job: Job) -> tuple[Joint, ...]:
    if ("outer" if cut.role == "outer" else "holes") in part.critical:
        return ()
    thickness = job.metal.thickness
    width = job.holding.joint_width or joint_width(thickness)
    sides = Critical(part.critical, layout.placements[cut.placement])
    return place_joints(
        Along(cut.contour),
        bodies.centre(cut),
        joints_wanted(thickness, cut.contour.length),
        width,
        job.spacing.kerf,
        sides if cut.role == "outer" and part.critical else None,
        (cut.over_cut, cut.end_gap),
    )


def _named(cut: Cut, part: Part) -> str:
    return part.name if cut.role == "outer" else f"slugs of {part.name}"


class _Risks:
    """What remains risky, by name."""

    def __init__(self, job: Job) -> None:
        asked = {job.holding.joints, *(part.joints for part in job.parts)}
        self.unknown = job.machine.support is None and "tipping" in asked
        self.tips, self.drops, self.weak = Counter[str](), Counter[str](), Counter[str]()

    def note(self, cut: Cut, part: Part, *, wanted: bool) -> None:
        """Keep in mind what nothing, or too little, holds; slugs that drop are no risk."""
        if wanted:
            self.weak.update([_named(cut, part)])
        elif cut.fate == TIPS:
            self.tips.update([_named(cut, part)])
        elif cut.fate == DROPS and cut.role == "outer":
            self.drops.update([_named(cut, part)])

    def told(self) -> Iterator[str]:
        """One line for each kind."""
        if self.unknown:
            yield (
                "what can tip is not known, so nothing is held for that: the machine file says"
                " nothing of slats or spikes; add [support] to it"
            )
        if self.tips:
            yield (
                f"can tip up once cut free, and the head may hit it: {_listed(self.tips)};"
                ' joints = "tipping" holds it'
            )
        if self.drops:
            yield f"can drop between the supports once cut free: {_listed(self.drops)}"
        if self.weak:
            yield (
                "joints would be wanted, but find no room to hold the centre of mass between"
                f" them, so it is still loose: {_listed(self.weak)}"
            )


def _listed(found: Counter[str]) -> str:
    names = [f"{name} × {n}" for name, n in sorted(found.items())]
    more = len(names) - _NAMED
    return ", ".join(names[:_NAMED]) + (f" and {more} more" if more > 0 else "")
