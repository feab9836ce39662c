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
from nestlib.verifying.along import off_spot, points_beside, stretches
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
    return compare(plan, layout, strokes, said)


def _unreadable(layout: WrittenLayout, text: str) -> ProgramResult:
    return ProgramResult((Violation("program-unreadable", layout.dxf, text),), 0.0)


def compare(
    plan: WrittenPlan, layout: WrittenLayout, strokes: tuple[Stroke, ...], said: WrittenProgram
) -> ProgramResult:
    """Compare the strokes of a program with the cuts of a layout."""
    violations: list[Violation] = []
    wanted = sum(1 + len(cut.joints) for cut in layout.path)
    if len(strokes) != wanted:
        text = f"the beam is switched on {len(strokes)} times, by the plan it is {wanted} times"
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
            text = f"cut {cut.order} in line {own[0].line} of the program {problem}"
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
    if _detour(cut, own[0]) > most:
        return "is not reached by the way that the plan wants", 0.0
    paths = [stroke.path for stroke in own]
    if through and said.in_path and kerf > 0:
        return _beside(cut, paths, kerf / 2, most)
    lead = [] if cut.lead is None else [Curve.of(cut.lead)]
    first, *others = stretches(Curve.of(cut.contour), cut)
    wanted = [_chain([*lead, first]), *others]
    found = [_as_planned(w, p, most) for w, p in zip(wanted, paths, strict=True)]
    return next((f for f in found if f[0]), (None, max(strays for _, strays in found)))


def _detour(cut: WrittenCut, stroke: Stroke) -> float:
    """How far the corners of the way to a cut lie from where they should, in mm."""
    corners = [complex(*xy) for xy in (*cut.via, cut.pierce)]
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


def _beside(
    cut: WrittenCut, paths: list[Curve], half: float, most: float
) -> tuple[str | None, float]:
    """Check strokes whose contour is run half a slot beside the part."""
    contour = Curve.of(cut.contour)
    lead, first = _split(paths[0], paths[-1].end[-1], cut.lead is not None, most)
    if first is None:
        return "does not come back to where its contour begins", 0.0
    rings = [first, *paths[1:]]
    strays = [_from_lead(cut, lead, half), *_gaps(cut, contour, rings, half)]
    for ring in rings:
        strays.append(float(np.abs(point_distances(ring.samples(), contour) - half).max()))
    points = points_beside(contour, cut, half)
    free = points[point_distances(points, contour) > half - most / 4]
    strays.append(float(point_distances(free, _chain(rings)).max(initial=0.0)))
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


def _gaps(cut: WrittenCut, contour: Curve, rings: Sequence[Curve], half: float) -> Iterator[float]:
    """How far the ends of the strokes at joints lie from where they should, in mm."""
    for joint, before, after in zip(cut.joints, rings[:-1], rings[1:], strict=True):
        low, high = joint.at - joint.gap / 2, joint.at + joint.gap / 2
        yield off_spot(contour, low, half, complex(before.end[-1]))
        yield off_spot(contour, high, half, complex(after.start[0]))


def _closed(rings: Sequence[Curve]) -> Curve:
    """Strokes joined by straight lines over their joints."""
    whole = _chain(rings)
    gaps = [(a.end[-1], b.start[0]) for a, b in pairwise(rings)]
    chords = [Curve(np.array([a]), np.array([b]), np.zeros(1), False) for a, b in gaps]
    return _chain([whole, *chords])


def _split(path: Curve, home: complex, led: bool, most: float) -> tuple[Curve | None, Curve | None]:
    """The lead, and the rest that begins where the whole contour ends."""
    if not led:
        back = abs(home - path.start[0]) <= most
        return None, path if back else None
    at = np.flatnonzero(np.abs(path.start - home) <= most / 100)
    if not len(at) or at[0] == 0:
        return None, None
    rows = np.arange(len(path.start))
    return path.part(rows < at[0]), path.part(rows >= at[0])


def _from_lead(cut: WrittenCut, lead: Curve | None, half: float) -> float:
    """How far the lead strays: it begins at the pierce point, and ends half a slot away."""
    if lead is None or cut.lead is None:
        return 0.0
    begin = float(abs(complex(*cut.pierce) - lead.start[0]))
    return max(begin, deviation(Curve.of(cut.lead), lead) - half * math.sqrt(2))


def _chain(curves: Sequence[Curve]) -> Curve:
    """Curves run one after another."""
    return Curve(
        np.concatenate([c.start for c in curves]),
        np.concatenate([c.end for c in curves]),
        np.concatenate([c.bulge for c in curves]),
        False,
    )


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
