"""Sheets that the parts and their distances fill exactly."""

import pytest

import nestlib
from nestlib.metals import machine, metal
from nestlib.model import Contour, Job, Part, Sheet, Spacing
from nestlib.packing import Iterations

#: Two cuts lie between parts, one between a part and the edge.
SPACING = Spacing(kerf=0.25, spacing=4.0, margin=10.0)
GAP, EDGE = 4.5, 10.25

ONE_WAY, BOTH_WAYS = (0.0,), (0.0, 90.0)


def plate(x: float, y: float, width: float, height: float) -> Contour:
    """A rectangle with its lower left corner at (x, y)."""
    return Contour([(x, y), (x + width, y), (x + width, y + height), (x, y + height)])


def sheet(columns: int, rows: int, width: float, height: float) -> Sheet:
    """A sheet with room for a grid of plates and nothing to spare."""
    size = (
        columns * width + (columns - 1) * GAP + 2 * EDGE,
        rows * height + (rows - 1) * GAP + 2 * EDGE,
    )
    return Sheet("sheet", plate(0, 0, *size), quantity=1)


@pytest.mark.parametrize(
    ("part", "stock", "turns"),
    [
        (plate(0, 0, 300, 200), sheet(3, 2, 300, 200), ONE_WAY),
        (plate(0, 0, 300, 200), sheet(3, 2, 300, 200), BOTH_WAYS),
        (plate(0, 0, 300, 200), sheet(2, 3, 200, 300), BOTH_WAYS),
        (plate(0, 0, 200, 300), sheet(3, 2, 300, 200), BOTH_WAYS),
        (plate(0, 0, 200, 300), sheet(3, 2, 300, 200), (90.0,)),
        (plate(1234.56, -78.9, 300, 200), sheet(3, 2, 300, 200), ONE_WAY),
        (plate(0, 0, 300, 200), sheet(2, 3, 300, 200), BOTH_WAYS),
    ],
)
def test_six_plates_fill_their_sheet_exactly(
    part: Contour, stock: Sheet, turns: tuple[float, ...]
) -> None:
    """All six are placed, lying the way that is allowed."""
    job = Job(
        "Exact",
        (Part("plate", part, quantity=6, rotations=turns),),
        (stock,),
        metal("mild-steel", "2"),
        machine("fibre-2000"),
        SPACING,
    )
    plan = nestlib.nest(job, stop=Iterations(1))
    assert plan.unplaced == ()
    (layout,) = plan.layouts
    assert len(layout.placements) == 6
    assert {round(p.rotation) % 180 for p in layout.placements} <= {round(t) for t in turns}
