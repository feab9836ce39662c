"""A plan made by hand with all that the report's drawings can show."""

from __future__ import annotations

from nestlib.costing import work
from nestlib.geometry import placed
from nestlib.model import (
    NO_PIECE,
    Bound,
    Contour,
    Cut,
    CutPath,
    CutSetting,
    Job,
    Joint,
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
)

#: Names that would run if they were not escaped.
SCRIPT = "<script>alert(1)</script>"
IMAGE = '"><img src=x onerror=alert(2)>'
CLOSED = "</script><script>alert(3)</script>"

#: A plate with a round hole and a mark, and a slot with two arcs.
PLATE = Part(
    f"plate {IMAGE}",
    Contour.rectangle(100, 60),
    (Contour.circle((50, 30), 10).reversed(),),
    (Contour([(10, 10), (30, 10)], closed=False),),
    quantity=2,
)
STRAP = Part(
    f"strap {SCRIPT}", Contour([(10, 0), (90, 0), (90, 20), (10, 20)], [0, 1, 0, 1]), quantity=3
)
SHEET = Sheet(
    f"sheet {CLOSED}",
    Contour.rectangle(400, 200),
    keep_outs=(Contour([(0, 180), (20, 180), (20, 200), (0, 200)]),),
    cost=12.5,
    heat="H-17",
)
PLACEMENTS = (
    Placement(PLATE.name, 0, False, 20, 20),
    Placement(STRAP.name, 90, True, 200, 120),
    Placement(STRAP.name, 0, False, 240, 20),
)


def plan() -> Plan:
    """Two layouts of six cuts and one: what stays, tips, drops and is held by a joint, and
    at last a cut that frees the remnant, after a wait."""
    job = Job(
        f"Stands {SCRIPT}", (PLATE, STRAP), (SHEET,),
        Metal(Material("steel", "mild-steel", "Mild steel", 7.85, ""), 2.0),
        Machine(
            "laser", "Laser 400 W", "CO2", 400, (3000, 1500),
            (CutSetting("mild-steel", 3, "oxygen", 0.2, 2000, 1),),
        ),
        Spacing(0.2, 3, 10), currency="EUR", heat_distance=40.0,
    )  # fmt: skip
    remnant = Remnant("remnant-001", Contour([(330, 80), (390, 80), (390, 190), (330, 190)]))
    first = Layout(SHEET, PLACEMENTS, 2, CutPath(_cuts(), ("look at the lead",)), (remnant,))
    alone = (Placement(STRAP.name, 0, False, 30, 30),)
    cut = Cut(0, "outer", 0, placed(STRAP.outer, alone[0]), fate="stays")
    layouts = (first, Layout(SHEET, alone, path=CutPath((cut,))))
    made = Plan(
        job, layouts, (Unplaced(PLATE.name, 1, "no room"),), Bound(1, 12.5, "by hand"),
        cautions=("Edges are sharp",), verification=Verification((), 3.4, 10.2, 1e-9, 7),
    )  # fmt: skip
    return Plan(
        job, layouts, made.unplaced, made.bound, cautions=made.cautions,
        verification=made.verification, work=work(made),
    )  # fmt: skip


def _cuts() -> tuple[Cut, ...]:
    hole, outline, mark = (
        placed(c, PLACEMENTS[0]) for c in (PLATE.inners[0], PLATE.outer, PLATE.marks[0])
    )
    turned, straight = (placed(STRAP.outer, p) for p in PLACEMENTS[1:])
    inside = Contour([(70, 50), hole.points[0]], closed=False)
    below = Contour([(20, 14), (20, 20)], closed=False)
    out = Contour([(20, 20), (14, 20)], closed=False)
    across = Contour([(330, 10), (330, 190)], closed=False)
    return (
        Cut(0, "mark", 0, mark),
        Cut(0, "inner", 0, hole, inside, fate="drops"),
        Cut(0, "outer", 0, outline, below, fate="tips", lead_out=out),
        Cut(1, "outer", 0, turned, fate="stays", lifted=True, via=((190.0, 10.0),)),
        Cut(2, "outer", 0, straight, joints=(Joint(30.0, 0.5, 0.7),), fate="tips"),
        Cut(NO_PIECE, "cut_off", 0, across, wait=2.0),
    )
