"""Does a layout's program cut what the plan says, in its order?

The program is interpreted, and each stroke of the beam is compared with its cut. Where the
control keeps half a slot away, lead and contour have to be run as they are. Where the path
does, two things are asked: every point of the path lies half a slot from the contour, in
the waste; and every point half a slot beside the contour that is no nearer to another of
its points lies on the path. So the path is the curve beside it, whole and nothing else.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from nestlib.errors import InputError, Problem
from nestlib.model import Violation
from nestlib.verifying.curves import Complexes, Curve, deviation, point_distances
from nestlib.verifying.program import Stroke, interpret
from nestlib.verifying.written import WrittenCut, WrittenLayout, WrittenPlan, WrittenProgram

#: How far a program may stray, in mm, unless its coordinates are coarser.
_STRAY = 1e-4

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

    Raises
    ------
    InputError
        If the program cannot be understood.
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
        text = path.read_bytes().decode("ascii")
    except (OSError, UnicodeDecodeError) as error:
        problem = f"the program cannot be read: {error}"
        raise InputError(Problem(str(path), "", problem, "Write it again")) from None
    return compare(plan, layout, interpret(text, said.dialect, str(path)), said)


def compare(
    plan: WrittenPlan, layout: WrittenLayout, strokes: tuple[Stroke, ...], said: WrittenProgram
) -> ProgramResult:
    """Compare the strokes of a program with the cuts of a layout."""
    violations: list[Violation] = []
    if len(strokes) != len(layout.path):
        text = f"the program has {len(strokes)} cuts and marks, the plan has {len(layout.path)}"
        violations.append(Violation("program-differs", layout.dxf, text))
    largest = 0.0
    most = max(_STRAY, _STEPS * said.step)
    for cut, stroke in zip(layout.path, strokes, strict=False):
        problem, strays = _one(cut, stroke, plan.spacing.kerf, said, most)
        largest = max(largest, strays)
        if problem is None and strays > most:
            problem = f"strays {strays:.6f} mm from the plan"
        if problem is not None:
            text = f"cut {cut.order} in line {stroke.line} of the program {problem}"
            violations.append(Violation("program-differs", layout.dxf, text, cut.pierce))
    return ProgramResult(tuple(violations), largest if math.isfinite(largest) else 0.0)


def _one(
    cut: WrittenCut, stroke: Stroke, kerf: float, said: WrittenProgram, most: float
) -> tuple[str | None, float]:
    """What is wrong with one stroke, in words, and how far it strays in mm."""
    mark = cut.role == "mark"
    if stroke.word != (said.dialect.mark_on if mark else said.dialect.beam_on):
        return f"is a {cut.role} contour and is begun with {stroke.word}", 0.0
    through = not mark and cut.contour.closed
    if stroke.side != ("left" if through and not said.in_path else ""):
        return "is not kept to the side that the plan wants", 0.0
    if through and said.in_path and kerf > 0:
        return _beside(cut, stroke.path, kerf / 2, most)
    lead = () if cut.lead is None else (Curve.of(cut.lead),)
    return _as_planned(_chain((*lead, Curve.of(cut.contour))), stroke.path, most)


def _as_planned(whole: Curve, path: Curve, most: float) -> tuple[str | None, float]:
    """Check a stroke that should run along lead and contour, from start to end."""
    ends = max(abs(whole.start[0] - path.start[0]), abs(whole.end[-1] - path.end[-1]))
    strays = max(float(ends), deviation(whole, path))
    if abs(whole.length - path.length) > most * (len(whole.start) + len(path.start)):
        return f"is {path.length:.4f} mm long, not {whole.length:.4f} mm", strays
    if whole.area * path.area < 0 and abs(whole.area) > most * whole.length:
        return "is run the wrong way round", strays
    return None, strays


def _beside(cut: WrittenCut, path: Curve, half: float, most: float) -> tuple[str | None, float]:
    """Check a stroke whose contour is run half a slot beside the part."""
    contour = Curve.of(cut.contour)
    lead, ring = _split(path, cut.lead is not None, most)
    if ring is None:
        return "does not come back to where its contour begins", 0.0
    begin = abs(complex(*cut.pierce) - path.start[0]) if cut.lead is not None else 0.0
    strays = [begin, _from_lead(cut, lead, half)]
    strays.append(float(np.abs(point_distances(ring.samples(), contour) - half).max()))
    points = _points_beside(contour, half)
    free = points[point_distances(points, contour) > half - most / 4]
    strays.append(float(point_distances(free, ring).max(initial=0.0)))
    if ring.area * contour.area <= 0:
        return "is run the wrong way round", max(strays)
    if (abs(ring.area) > abs(contour.area)) != (contour.area < 0):
        return "runs on the side of the part", max(strays)
    if ring.length > contour.length + 2 * math.pi * half + len(ring.start) * most:
        return "is run more than once", max(strays)
    return None, max(strays)


def _split(path: Curve, led: bool, most: float) -> tuple[Curve | None, Curve | None]:
    """The lead, and the closed rest that ends where it begins."""
    if not led:
        back = abs(path.end[-1] - path.start[0]) <= most
        return None, path if back else None
    home = np.flatnonzero(np.abs(path.start - path.end[-1]) <= most / 100)
    if not len(home) or home[0] == 0:
        return None, None
    rows = np.arange(len(path.start))
    return path.part(rows < home[0]), path.part(rows >= home[0])


def _from_lead(cut: WrittenCut, lead: Curve | None, half: float) -> float:
    """How much farther than half a slot the lead strays from the planned one."""
    if lead is None or cut.lead is None:
        return 0.0
    return max(0.0, deviation(Curve.of(cut.lead), lead) - half * math.sqrt(2))


def _points_beside(contour: Curve, half: float) -> Complexes:
    """Points half a slot to the left of the contour, at the ends and within its segments."""
    found = []
    for share in (0.0, 0.1, 0.3, 0.5, 0.7, 0.9, 1.0):
        line = contour.start + share * (contour.end - contour.start)
        turned = (contour.start - contour.centre) * np.exp(1j * share * contour.sweep)
        along = np.where(
            contour.bulge == 0,
            contour.end - contour.start,
            1j * turned * np.sign(contour.sweep),
        )
        on = np.where(contour.bulge == 0, line, contour.centre + turned)
        found.append(on + half * 1j * along / np.abs(along))
    return np.concatenate(found)


def _chain(curves: tuple[Curve, ...]) -> Curve:
    """Curves run one after another."""
    return Curve(
        np.concatenate([c.start for c in curves]),
        np.concatenate([c.end for c in curves]),
        np.concatenate([c.bulge for c in curves]),
        False,
    )


def note(plan: WrittenPlan, largest: float) -> Iterator[str]:
    """Say what the programs were found to be."""
    if plan.program is not None:
        cuts = sum(len(layout.path) for layout in plan.layouts)
        yield (
            f"The machine programs run {cuts} cuts and marks as planned, within {largest:.6f} mm"
        )
        if not plan.program.checked_by:
            yield "The machine programs are drawings of the order: nobody has checked the template"
