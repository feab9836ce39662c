"""Features of a job's parts and gaps that are small for the thickness of its sheet.

What a drawing is checked for by `nestlib check` with a thickness is looked for again when a
job is nested, since only then metal and kerf are certain; so is the metal that the job leaves
between neighbouring slots and at the edge. Holes, slots, webs and edges no smaller than the
sheet is thick: common practice, no source. For holes, slots and webs the machine's file may
set a limit of its own, which then counts instead.
"""

from __future__ import annotations

from collections.abc import Iterator

from nestlib.drawings.narrow import RULE, check_narrow
from nestlib.model import Job

#: More parts than this in one caution help nobody.
_NAMED = 6


def feature_cautions(job: Job) -> Iterator[str]:
    """Yield what is small for the thickness, each with its rule.

    Parameters
    ----------
    job : Job
        Its parts, its metal and its spacing.
    """
    thickness = job.metal.thickness
    told = list(_small(job))
    yield from told[:_NAMED]
    if len(told) > _NAMED:
        yield f"{len(told) - _NAMED} more of this kind: nestlib check --thickness shows them all."
    for what, width in (
        ("between two slots", job.spacing.spacing),
        ("at the edge of the sheet", job.spacing.margin),
    ):
        if width < thickness:
            yield (
                f"Spacing: {width:g} mm of metal {what}, and the sheet is {thickness:g} mm thick. "
                f"{RULE}; heat may warp or melt what is thinner."
            )


def _small(job: Job) -> Iterator[str]:
    """What is small in the parts: for the machine, if its file says so, or the thickness."""
    setting = job.machine.setting(job.metal.material.family, job.metal.thickness)
    stated = None if setting is None else setting.least_feature
    for part in job.parts:
        if stated is None:
            for found in check_narrow(part, job.metal.thickness, job.spacing.kerf):
                yield f"{part.name}: {found.message}. {found.remedy}."
        else:
            limit = f"the limit of {job.machine.name},"
            for found in check_narrow(part, stated, job.spacing.kerf, limit):
                by_kerf = found.code == "lost-in-kerf"
                why = found.remedy if by_kerf else "The machine's file says so (least_feature)"
                yield f"{part.name}: {found.message}. {why}."
