"""Does a layout's program cut what the plan says, in its order?

The program is interpreted, and each stroke of the beam is compared with its cut. Where the
control keeps half a slot away, lead and contour have to be run as they are. Where the path
does, two things are asked: every point of the path lies half a slot from the contour, in
the waste; and every point half a slot beside the contour that is no nearer to another of
its points lies on the path. So the path is the curve beside it, whole and nothing else.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from nestlib.errors import InputError
from nestlib.model import Violation
from nestlib.verifying.along import chain, off_spot, planned, points_beside, run_out
from nestlib.verifying.curves import Curve, deviation, point_distances
from nestlib.verifying.program import Stroke, interpret
from nestlib.verifying.written import WrittenCut, WrittenLayout, WrittenPlan, WrittenProgram

#: How far a program may stray, in mm, unless its coordinates are coarser.
_STRAY = 1e-4

#: Waits may be shorter by this share, since they are rounded.
_WAITED = 1e-5

#: Steps of the last decimal that a program may stray: three roundings, of both ends and the
#: centre of an arc.
_STEPS = 4.0


@dataclass(frozen=True)
class ProgramResult:
    """What the check of one program found.

    Parameters
    ----------
    violations : tuple of Violation
        What differs.
    largest : float
        Greatest deviation in mm.
    """

    violations: tuple[Violation, ...]
    largest: float


def check_program(plan: WrittenPlan, number: int) -> ProgramResult:
    """Compare the program of a layout with the plan.

    Parameters
    ----------
    plan : WrittenPlan
        Says how programs are to be read.
    number : int
        Index of the layout.

    Returns
    -------
    ProgramResult
        One that cannot be read or understood breaks a rule, so that all else is still checked.
    """
    said, layout = plan.program, plan.layouts[number]
    if said is None:
        return ProgramResult((), 0.0)
    name = said.files[number]
    path = plan.folder / name
    if not path.exists():
        text = f"the program {name} is missing"
        return ProgramResult((Violation("program-missing", layout.dxf, text),), 0.0)
    try:
        strokes = interpret(path.read_bytes().decode("ascii"), said.dialect, name)
    except (OSError, UnicodeDecodeError) as error:
        return _unreadable(layout, f"the program {name} cannot be read: {error}")
    except InputError as error:
        return _unreadable(layout, f"the program cannot be understood: {error}")
    return compare(plan, layout, strokes, said, name)


def _unreadable(layout: WrittenLayout, text: str) -> ProgramResult:
    return ProgramResult((Violation("program-unreadable", layout.dxf, text),), 0.0)


def compare(
    plan: WrittenPlan,
    layout: WrittenLayout,
    strokes: tuple[Stroke, ...],
    said: WrittenProgram,
    name: str,
) -> ProgramResult:
    """Compare the strokes of a program, of that file name, with the cuts of a layout."""
    violations: list[Violation] = []
    wanted = sum(1 + len(cut.joints) for cut in layout.path)
    if len(strokes) != wanted:
        text = f"{name} switches the beam on {len(strokes)} times, by the plan it is {wanted} times"
        violations.append(Violation("program-differs", layout.dxf, text))
    largest, at = 0.0, 0
    most = max(_STRAY, _STEPS * said.step)
    for cut in layout.path:
        own = strokes[at : at + 1 + len(cut.joints)]
        at += len(own)
        if len(own) <= len(cut.joints):
            break
        problem, strays = _one(cut, own, plan.spacing.kerf, said, most)
        largest = max(largest, strays)
        if problem is None and strays > most:
            problem = f"strays {strays:.6f} mm from the plan"
        if problem is not None:
            text = f"cut {cut.order} in line {own[0].line} of {name} {problem}"
            violations.append(Violation("program-differs", layout.dxf, text, cut.pierce))
    return ProgramResult(tuple(violations), largest if math.isfinite(largest) else 0.0)


def _one(
    cut: WrittenCut, own: Sequence[Stroke], kerf: float, said: WrittenProgram, most: float
) -> tuple[str | None, float]:
    """What is wrong with the strokes of one cut, in words, and how far they stray in mm."""
    mark = cut.role == "mark"
    through = not mark and cut.contour.closed
    for stroke in own:
        if stroke.word != (said.dialect.mark_on if mark else said.dialect.beam_on):
            return f"is a {cut.role} contour and is begun with {stroke.word}", 0.0
        if stroke.side != ("left" if through and not said.in_path else ""):
            return "is not kept to the side that the plan wants", 0.0
    # A shop's own lines may dwell too, for example while the beam pierces.
    if own[0].waited * said.dwell < cut.wait * (1 - _WAITED):
        return f"waits {own[0].waited * said.dwell:g} s before it, {cut.wait:g} s are planned", 0.0
    paths = [stroke.path for stroke in own]
    beside = through and said.in_path and kerf > 0
    pierce = complex(*cut.pierce)
    if beside and cut.lead is None:
        pierce = _nearest(pierce, paths, most)
    if _detour(cut, own[0], pierce) > most:
        return "is not reached by the way that the plan wants", 0.0
    if beside:
        return _beside(cut, paths, kerf / 2, most)
    wanted = planned(cut)
    if through and not said.in_path and not _can_switch(cut, paths[0], kerf / 2):
        return "has no straight move of half a slot at its begin, so no offset can be set", 0.0
    found = [_as_planned(w, p, most) for w, p in zip(wanted, paths, strict=True)]
    return next((f for f in found if f[0]), (None, max(strays for _, strays in found)))


def _nearest(pierce: complex, paths: Sequence[Curve], most: float) -> complex:
    """Where the beam should begin without a lead: no point of its path is nearer."""
    begin = complex(paths[0].start[0])
    least = float(point_distances(np.array([pierce]), chain(paths))[0])
    return begin if abs(begin - pierce) <= least + most else pierce


def _detour(cut: WrittenCut, stroke: Stroke, pierce: complex) -> float:
    """How far the corners of the way to a cut lie from where they should, in mm."""
    corners = [*(complex(*xy) for xy in cut.via), pierce]
    way = stroke.way or ((complex(stroke.path.start[0]),) if not cut.via else ())
    if len(way) != len(corners):
        return math.inf
    return max(abs(a - b) for a, b in zip(way, corners, strict=True))


def _as_planned(whole: Curve, path: Curve, most: float) -> tuple[str | None, float]:
    """Check a stroke that should run along lead and contour, from start to end."""
    ends = max(abs(whole.start[0] - path.start[0]), abs(whole.end[-1] - path.end[-1]))
    strays = max(float(ends), deviation(whole, path))
    if abs(whole.length - path.length) > most * (len(whole.start) + len(path.start)):
        return f"is {path.length:.4f} mm long, not {whole.length:.4f} mm", strays
    if whole.area * path.area < 0 and abs(whole.area) > most * whole.length:
        return "is run the wrong way round", strays
    return None, strays


def _can_switch(cut: WrittenCut, path: Curve, half: float) -> bool:
    """Whether a lead begins with a straight move on which a control can go half a slot aside."""
    straight = path.bulge[0] == 0 and abs(path.end[0] - path.start[0]) >= half
    return cut.lead is None or bool(straight)


def _beside(
    cut: WrittenCut, paths: list[Curve], half: float, most: float
) -> tuple[str | None, float]:
    """Check strokes whose contour is run half a slot beside the part."""
    contour = Curve.of(cut.contour)
    split = _split(paths, contour, cut, half, most)
    if split is None:
        return "does not come back to where its contour begins", 0.0
    lead, rings, out = split
    strays = [
        _from_lead(cut, lead, half),
        _from_run_out(cut, contour, out, half),
        *_gap_ends(cut, contour, rings, half),
    ]
    for ring in rings:
        strays.append(float(np.abs(point_distances(ring.samples(), contour) - half).max()))
    points = points_beside(contour, cut, half)
    free = points[point_distances(points, contour) > half - most / 4]
    strays.append(float(point_distances(free, chain(rings)).max(initial=0.0)))
    return _runs_round(contour, _closed(rings), half, most), max(strays)


def _runs_round(contour: Curve, ring: Curve, half: float, most: float) -> str | None:
    """What is wrong with the way round the part, in words."""
    if ring.area * contour.area <= 0:
        return "is run the wrong way round"
    if (abs(ring.area) > abs(contour.area)) != (contour.area < 0):
        return "runs on the side of the part"
    if ring.length > contour.length + 2 * math.pi * half + len(ring.start) * most:
        return "is run more than once"
    return None


def _gap_ends(
    cut: WrittenCut, contour: Curve, rings: Sequence[Curve], half: float
) -> Iterator[float]:
    """How far the ends of the strokes at joints lie from where they should, in mm."""
    for joint, before, after in zip(cut.joints, rings[:-1], rings[1:], strict=True):
        low, high = joint.at - joint.gap / 2, joint.at + joint.gap / 2
        yield off_spot(contour, low, half, complex(before.end[-1]))
        yield off_spot(contour, high, half, complex(after.start[0]))
    if cut.end_gap:
        yield off_spot(contour, contour.length - cut.end_gap, half, complex(rings[-1].end[-1]))


def _closed(rings: Sequence[Curve]) -> Curve:
    """Strokes joined by straight lines over their joints."""
    whole = chain(rings)
    gaps = [(a.end[-1], b.start[0]) for a, b in pairwise(rings)]
    chords = [Curve(np.array([a]), np.array([b]), np.zeros(1), False) for a, b in gaps]
    return chain([whole, *chords])


def _split(
    paths: Sequence[Curve], contour: Curve, cut: WrittenCut, half: float, most: float
) -> tuple[Curve | None, list[Curve], Curve | None] | None:
    """The lead, the way round the part, and what is cut beyond it; None if it is not closed."""
    first, last = paths[0], paths[-1]
    begin = 0
    if cut.lead is not None:
        off = np.abs(point_distances(first.start, contour) - half)
        on_way = np.flatnonzero(off[1:] <= most)
        if not len(on_way):
            return None
        begin = int(on_way[0]) + 1
    end = len(last.start)
    if not cut.end_gap:
        back = np.abs(last.end - first.start[begin])
        # In a single stroke the way begins where it has to come back to.
        back[: begin + 1 if len(paths) == 1 else 0] = math.inf
        end = int(np.argmin(back)) + 1
        if back[end - 1] > most:
            return None
    rings = list(paths)
    rings[-1] = last.part(np.arange(end))
    rings[0] = rings[0].part(np.arange(begin, len(rings[0].start)))
    lead = first.part(np.arange(begin)) if begin else None
    return (
        lead,
        rings,
        last.part(np.arange(end, len(last.start))) if end < len(last.start) else None,
    )


def _from_lead(cut: WrittenCut, lead: Curve | None, half: float) -> float:
    """How far the lead strays: it begins at the pierce point, and ends half a slot away."""
    if lead is None or cut.lead is None:
        return 0.0
    begin = float(abs(complex(*cut.pierce) - lead.start[0]))
    aside = max(half * math.sqrt(2), abs(complex(*cut.start) - complex(lead.end[-1])))
    return max(begin, deviation(Curve.of(cut.lead), lead) - aside)


def _from_run_out(cut: WrittenCut, contour: Curve, out: Curve | None, half: float) -> float:
    """How far it strays what is cut beyond the contour: along its path, and to the end."""
    planned = run_out(contour, cut)
    if not planned or out is None:
        return 0.0 if not planned and out is None else math.inf
    whole = chain(planned)
    aside = max(half * math.sqrt(2), abs(complex(whole.start[0]) - complex(out.start[0])))
    strays = deviation(whole, out) - aside
    if cut.lead_out is not None:
        return max(strays, abs(complex(whole.end[-1]) - complex(out.end[-1])))
    return max(strays, off_spot(contour, cut.over_cut, half, complex(out.end[-1])))


def note(plan: WrittenPlan, results: Sequence[ProgramResult]) -> Iterator[str]:
    """Say what the programs were found to be."""
    largest = max((r.largest for r in results), default=0.0)
    if plan.program is not None and not any(r.violations for r in results):
        cuts = sum(len(layout.path) for layout in plan.layouts)
        yield (
            f"The machine programs run {cuts} cuts and marks as planned, within {largest:.6f} mm"
        )
    if plan.program is not None and not plan.program.checked_by:
        yield "The machine programs are drawings of the order: nobody has checked the template"
