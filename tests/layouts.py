"""Layouts made by hand that the tests of cutting and writing use."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from nestlib.model import (
    Bound,
    Contour,
    CutSetting,
    Job,
    Layout,
    Machine,
    Material,
    Metal,
    Part,
    Placement,
    Plan,
    Remnant,
    Sheet,
    Spacing,
    Unplaced,
    Verification,
    Violation,
)
from tests.shapes import rounded_rectangle, slot

STEEL = Metal(Material("mild-steel", "mild-steel", "Mild steel", 7.85, "table", "us"), 2.0, "14 ga")

LASER = Machine(
    "laser-400",
    "Laser 400 W",
    "CO2",
    400.0,
    (3000.0, 1500.0),
    (CutSetting("mild-steel", 3.0, "oxygen", 0.2, 2000.0, 1.0),),
)


def shifted(contour: Contour, dx: float, dy: float) -> Contour:
    """The contour moved, without any help from the library."""
    return Contour(contour.points + np.array((dx, dy)), contour.bulges, contour.closed)


#: Straight, slotted, round and marked: a bracket of a repair stand.
BRACKET = Part(
    "bracket",
    rounded_rectangle(120, 60, 12),
    (
        Contour.circle((20, 30), 4).reversed(),
        Contour.circle((60, 30), 18).reversed(),
        shifted(slot(24, 5), 88, 27).reversed(),
    ),
    (
        Contour([(15, 8), (45, 8), (50, 12)], [0, 0.2, 0], closed=False),
        Contour.circle((100, 45), 3),
    ),
    quantity=10,
    rotations=None,
    flip=True,
)

#: A ring whose hole is wide enough to hold a bracket.
RING = Part(
    "ring",
    Contour.circle((100, 100), 100),
    (Contour.circle((100, 100), 85).reversed(),),
    quantity=2,
)

DISC = Part("disc", Contour.circle((15, 15), 15), quantity=4, rotations=None, filler=True)

SHEET = Sheet(
    "plate",
    Contour.rectangle(1000, 500),
    holes=(Contour.circle((930, 430), 40).reversed(),),
    keep_outs=(Contour([(940, 0), (1000, 0), (1000, 60), (940, 60)]),),
    quantity=3,
    cost=40.0,
    heat="H-17",
)


def job_of(parts: Sequence[Part], sheets: Sequence[Sheet] = (SHEET,), kerf: float = 0.2) -> Job:
    """A job with the usual metal and machine."""
    return Job("Stands", tuple(parts), tuple(sheets), STEEL, LASER, Spacing(kerf, 3.0, 10.0))


JOB = job_of((BRACKET, RING, DISC))


def mixed_layout() -> Layout:
    """Parts turned, mirrored and nested in one another, a sheet with a hole, a remnant."""
    placements = (
        Placement("ring", 0.0, False, 12.0, 12.0),
        Placement("bracket", 0.0, False, 52.0, 82.0),
        Placement("disc", 0.0, False, 97.0, 150.0),
        Placement("bracket", 37.5, True, 420.0, 160.0),
        Placement("bracket", 90.0, False, 520.0, 20.0),
        Placement("bracket", 90.0, False, 583.4, 20.0),
        Placement("disc", 123.4, False, 700.0, 300.0),
    )
    return Layout(
        SHEET,
        placements,
        runs=2,
        remnants=(Remnant("R1", shifted(Contour.rectangle(300, 90), 580, 400)),),
    )


def whole_plan(layout: Layout) -> Plan:
    """A plan with something in every field."""
    violation = Violation("parts-too-close", "sheet-001.dxf", "0.1 mm apart", (1.5, 2.5))
    return Plan(
        JOB,
        (layout,),
        (Unplaced("bracket", 2, "No sheet has room. Add a sheet"),),
        Bound(1, 40.0, "area"),
        seed=7,
        seconds=1.25,
        stopped=True,
        cautions=("Mind the fumes.",),
        verification=Verification(
            (violation, Violation("unknown-part", "", "what is it?")), 0.1, None, 1e-9, 7, ("note",)
        ),
    )
