"""A plan with everything that a report has to show."""

from __future__ import annotations

from dataclasses import replace

import pytest

from nestlib.geometry import placed
from nestlib.model import (
    Bound,
    Contour,
    Cut,
    CutPath,
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

EVIL = '<script>alert("x")</script>&[red]\x1b[31m'


@pytest.fixture
def plan() -> Plan:
    """Two parts on one sheet, one of them mirrored and turned, with an evil name."""
    slot = Contour([(10, 0), (90, 0), (90, 20), (10, 20)], [0, 1, 0, 1])
    hole = Contour.circle((20, 10), 4).reversed()
    mark = Contour([(40, 10), (60, 10)], closed=False)
    arm = Part("clamp arm", slot, (hole,), (mark,), quantity=2, flip=True)
    evil = Part(EVIL, Contour.rectangle(80, 50), quantity=3)
    sheet = Sheet(
        EVIL,
        Contour.rectangle(400, 200),
        holes=(Contour.circle((350, 150), 20).reversed(),),
        keep_outs=(Contour([(0, 0), (20, 0), (20, 20), (0, 20)]),),
        cost=12.5,
        heat="H-17",
    )
    job = Job(
        f"Stands {EVIL}",
        (arm, evil),
        (sheet,),
        Metal(Material("steel", "mild-steel", "Mild steel", 7.85, ""), 2.0),
        Machine(
            "laser", "Laser 400 W", "CO2", 400, (3000, 1500),
            (CutSetting("mild-steel", 3, "oxygen", 0.2, 2000, 1),),
        ),
        Spacing(0.2, 3, 10),
        currency="EUR",
    )  # fmt: skip
    placements = (
        Placement("clamp arm", 0, False, 40, 40),
        Placement("clamp arm", 90, True, 200, 150),
        Placement(EVIL, 30, False, 250, 60),
    )
    lead = Contour([(78, 36), (80, 40)], closed=False)
    cuts = (
        Cut(0, "mark", 0, placed(mark, placements[0])),
        Cut(0, "inner", 0, placed(hole, placements[0])),
        Cut(0, "outer", 0, placed(slot, placements[0]), lead),
    )
    remnant = Remnant("remnant-001", Contour([(320, 10), (390, 10), (390, 100), (320, 100)]))
    warning = f"no room for a lead on {EVIL}"
    layout = Layout(sheet, placements, 2, CutPath(cuts, (warning,)), (remnant,))
    return Plan(
        job,
        (layout,),
        (Unplaced(EVIL, 1, f"no room: {EVIL}"),),
        Bound(1, 12.5, "area of the parts"),
        seed=3,
        seconds=1.5,
        cautions=(f"Edges are sharp {EVIL}",),
        verification=Verification((), 3.4, 10.2, 1e-9, 3, (f"gone: {EVIL}",)),
    )


@pytest.fixture
def broken(plan: Plan) -> Plan:
    """The same, with violations."""
    found = tuple(
        Violation("parts-too-close", "sheet-001.dxf", f"{i}: {EVIL}", (1.0, 2.0)) for i in range(60)
    )
    return replace(plan, verification=Verification(found, 0.1, None, 0.0, 3))
