"""A purchase made by hand, with everything that its page has to show, and names that spoil."""

from __future__ import annotations

from nestlib.model import (
    Asked,
    BoughtLayout,
    Material,
    Metal,
    MetalPurchase,
    Placement,
    Purchase,
    PurchaseLine,
    Schedule,
    ServiceRow,
    Unplaced,
    WeekRow,
)

SCRIPT = '<script>alert("x")</script>&[red]'
LARGE, SMALL = f"large {SCRIPT}", "small"
STEEL = Metal(Material("steel", "mild-steel", "Mild steel", 7.85, ""), 3.0)
SPOT = Placement("hook", 90.0, False, 12.5, 7.25)


def purchase() -> Purchase:
    """Steel for which everything was asked, and aluminium for which nothing was."""
    lines = (
        PurchaseLine(LARGE, (2500.0, 1250.0), 4, 2, 3, 11210, 73.59375, 2, 0, "2030-W16"),
        PurchaseLine(SMALL, (2000.0, 1000.0), 1, 1, 1, 6503, 47.1, 0, 0, "2030-W18"),
        PurchaseLine("at hand: rest", (800.0, 700.0), 0, 1, 1, 2000, 13.188, 0, 1),
    )
    steel = MetalPurchase(
        STEEL,
        (f"Stands {SCRIPT}",),
        {"hook": 70, "plate": 12},
        lines,
        paid=4 * 11210 + 6503 + 4500,
        cost=47341,
        bound=41377,
        bound_by="area of the parts",
        exact=True,
        layouts_found=23,
        parts_area=8.5e6,
        sheets_area=11.935e6,
        layouts=(
            BoughtLayout(LARGE, 3, {"hook": 20, "plate": 4}, 0.8123, (742.1, 1250.0), (SPOT,)),
            BoughtLayout(SMALL, 1, {"hook": 10}, 0.5555),
        ),
        by_number=(
            Asked("", ((LARGE, 5),), 49999),
            Asked("", ((LARGE, 4), (SMALL, 1)), 47341),
        ),
        alone=(Asked(LARGE, ((LARGE, 5),), 49999, False), Asked(SMALL, (), None)),
        missing=(Asked(LARGE, (), None), Asked(SMALL, ((LARGE, 5),), 49999)),
        unplaced=(Unplaced("wide <b>sign</b>", 2, "larger than any sheet"),),
        services=(
            ServiceRow(0.9, 44000, 45678.9, 0.1234, 0.0021),
            ServiceRow(0.95, 47341, 47400.25, 0.0567, 0.0011),
        ),
        schedule=Schedule(
            (
                WeekRow("2030-W16", ((LARGE, 4),), (), {}, {}, 0.0, 0.0),
                WeekRow("2030-W18", (), ((LARGE, 3),), {"hook": 70}, {"hook": 70}, 18.4, 73.6),
            ),
            48123, 44840, 2283, 1000, 49001, True,
        ),
        notes=("coil <i>1500</i> does not fit on Laser 400 W",),
        service=0.95,
    )  # fmt: skip
    aluminium = MetalPurchase(
        Metal(Material("aluminium", "aluminium", "Aluminium", 2.7, ""), 1.0, "18 ga"),
        ("Signs",),
        {"sign": 4},
        (PurchaseLine("alu", (2000.0, 1000.0), 5, 5, 1, 4180, 5.4, 1),),
        paid=20900,
        cost=20900,
        bound=20900,
        bound_by="packs",
        exact=False,
        layouts_found=1,
        parts_area=1.2e6,
        sheets_area=2.0e6,
    )
    return Purchase((steel, aluminium), "EUR", 0.8, f"prices {SCRIPT}.toml", 7, 12.345, True,
                    {"shortage": 30.0}, ("1 x S4 left out: priced in USD",))  # fmt: skip
