"""Is a job that was made in code sound? Job files are checked as they are read."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Iterator

from shapely.validation import explain_validity

from nestlib.errors import InputError, Problem
from nestlib.geometry import region
from nestlib.model import Contour, Entry, Job, Part, Sheet
from nestlib.model.entry import LEAD_INS, LEAD_OUTS, STARTS
from nestlib.suggesting import did_you_mean


def demand_sound(job: Job, *, sheets: bool = True) -> None:
    """Refuse a job that cannot be nested, with all its problems.

    Parameters
    ----------
    job : Job
        From a file or made in code.
    sheets : bool
        Whether it needs any; not where they are still to be bought.

    Raises
    ------
    InputError
        If it has no parts, or no sheets and needs some, names twice, distances or quantities
        below 0, or contours that are open, cross or touch themselves or each other.
    """
    problems = [
        *_whole(job, sheets),
        *(p for part in job.parts for p in _part(part)),
        *(p for sheet in job.sheets for p in _sheet(sheet)),
    ]
    if problems:
        raise InputError(
            Problem(job.source, place, problem, remedy) for place, problem, remedy in problems
        )


_HELD = ("none", "tipping", "all")
#: Cuts run on beyond the edge by no more than this, in mm.
_OVERRUN = 20.0

_CUT_OFFS = ("none", "straight", "stepped")
_EDGES = ("outer", "holes", "left", "right", "top", "bottom")

#: Place, problem and remedy.
Fault = tuple[str, str, str]


def _whole(job: Job, sheets: bool) -> Iterator[Fault]:
    if not job.parts:
        yield "", "the job has no parts", "Add a [[part]]"
    if sheets and not job.sheets:
        yield "", "the job has no sheets", "Add a [[sheet]]"
    for kind, names in (("part", job.parts), ("sheet", job.sheets)):
        for name, count in Counter(thing.name for thing in names).items():
            if count > 1:
                yield f"{kind} {name}", f"{count} {kind}s have this name", "Name them differently"
    known = [part.name for part in job.parts]
    for part in job.parts:
        for name in set(part.apart) - set(known):
            remedy = did_you_mean(name, known)
            yield f"part {part.name}", f'there is no part "{name}" to lie apart from', remedy
    for key in ("kerf", "spacing", "margin"):
        value = getattr(job.spacing, key)
        if not (math.isfinite(value) and value >= 0):
            yield "spacing", f"{key} is {value}", "Give 0 or more, in mm"
    yield from _holding("holding", job.holding.joints)
    yield from _unloading(job)
    yield from _entry(job.entry)
    width = job.holding.joint_width
    if width is not None and not (math.isfinite(width) and width > 0):
        yield "holding", f"joint_width is {width}", "Give a width above 0, in mm, or None"


def _unloading(job: Job) -> Iterator[Fault]:
    wishes = job.unloading
    if wishes.cut_off not in _CUT_OFFS:
        remedy = f"Give one of: {', '.join(_CUT_OFFS)}"
        yield "unloading", f'cut_off is "{wishes.cut_off}"', remedy
    for key in ("piece_weight", "piece_size"):
        value = getattr(wishes, key)
        if value is not None and not (math.isfinite(value) and value > 0):
            yield "unloading", f"{key} is {value}", "Give a number above 0, or None"
    if not 0 <= wishes.edge_overrun <= _OVERRUN:
        remedy = f"Give 0 to {_OVERRUN:g} mm"
        yield "unloading", f"edge_overrun is {wishes.edge_overrun}", remedy
    if wishes.cuts_skeleton and wishes.cut_off == "none":
        problem = "the skeleton is to be cut up, but a remnant would stay on it"
        yield "unloading", problem, 'Give cut_off "straight" or "stepped"'
    if wishes.cut_off != "none" and job.spacing.kerf == 0:
        problem = "a cut without a width frees nothing"
        yield "spacing", problem, "Give the kerf of the machine, in mm"


def _holding(place: str, joints: str | None, critical: Iterable[str] = ()) -> Iterator[Fault]:
    if joints not in (None, *_HELD):
        yield place, f'joints is "{joints}"', f"Give one of: {', '.join(_HELD)}"
    for edge in set(critical) - set(_EDGES):
        yield place, f'"{edge}" is no edge of a part', f"Choose from: {', '.join(_EDGES)}"


def _entry(entry: Entry) -> Iterator[Fault]:
    for key, words in (("start_at", STARTS), ("lead_in", LEAD_INS), ("lead_out", LEAD_OUTS)):
        if getattr(entry, key) not in words:
            yield "entry", f'{key} is "{getattr(entry, key)}"', f"Give one of: {', '.join(words)}"
    for key in ("over_cut", "end_gap", "lead_in_length", "lead_out_length", "centre_pierce"):
        value = getattr(entry, key)
        least = 1e-3 if key.endswith("length") else 0.0
        if value is not None and not (math.isfinite(value) and value >= least):
            yield "entry", f"{key} is {value}", "Give a length in mm"
    if entry.end_gap and (entry.over_cut or entry.lead_out != "none"):
        problem = "a cut that ends at a gap has no over-cut and no lead-out"
        yield "entry", problem, "Leave out end_gap, or over_cut and lead_out"


def _part(part: Part) -> Iterator[Fault]:
    place = f"part {part.name}"
    if part.quantity < 0:
        yield place, f"the quantity is {part.quantity}", "Give 0 or more"
    ordered = sum(order.quantity for order in part.orders)
    if ordered > part.quantity:
        problem = f"the orders want {ordered}, and the quantity is {part.quantity}"
        yield place, problem, "Give at least as many as are ordered"
    if part.most_per_sheet is not None and part.most_per_sheet < 1:
        yield place, f"most_per_sheet is {part.most_per_sheet}", "Give 1 or more, or None"
    if not (math.isfinite(part.need) and part.need > 0):
        yield place, f"the need is {part.need}", "Give a number above 0"
    if part.rotations is not None and not part.rotations:
        yield place, "no rotation is allowed", "Allow at least one, or None for any"
    yield from _holding(place, part.joints, part.critical)
    yield from _region(place, part.outer, part.inners)


def _sheet(sheet: Sheet) -> Iterator[Fault]:
    place = f"sheet {sheet.name}"
    if sheet.quantity is not None and sheet.quantity < 0:
        yield place, f"the quantity is {sheet.quantity}", "Give 0 or more, or None for any number"
    for contour in (*sheet.holes, *sheet.keep_outs):
        yield from _region(place, contour)
    yield from _region(place, sheet.outline)


def _region(place: str, outer: Contour, holes: Iterable[Contour] = ()) -> Iterator[Fault]:
    holes = tuple(holes)
    remedy = "Mend the contours; nestlib.check_drawing shows where a drawing is wrong"
    if not all(contour.closed for contour in (outer, *holes)):
        yield place, "a contour is open", remedy
        return
    polygon = region(outer, holes)
    if not polygon.is_valid:
        yield place, f"the contours are no region: {explain_validity(polygon)}", remedy
    elif polygon.area <= 0:
        yield place, "the contours enclose no area", remedy
