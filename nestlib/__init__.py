"""From sheet-metal drawings and quantities to verified, cut-ready sheets.

>>> import nestlib as nl
>>> job = nl.read_job("job.toml")  # doctest: +SKIP
>>> plan = nl.nest(job, stop=nl.After(seconds=60), seed=7, workers=2)  # doctest: +SKIP
>>> plan.write("out/")  # doctest: +SKIP

Importing this package is cheap: each name loads its home when it is first used.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from nestlib.drawings import check_drawing, read_drawing
    from nestlib.errors import (
        DrawingError,
        InputError,
        JobError,
        LimitError,
        NestlibError,
        OutputError,
        Problem,
        StoppedError,
    )
    from nestlib.handover import write, write_programs
    from nestlib.handover_purchase import write_purchase_folder
    from nestlib.intake import take_in
    from nestlib.jobs.forecast import read_forecast
    from nestlib.loading import job_from_list, read_job
    from nestlib.metals import machine, machines, material, materials, metal
    from nestlib.model import (
        Bound,
        Contour,
        Cost,
        Cut,
        CutPath,
        CutSetting,
        Drawing,
        Effort,
        Finding,
        Job,
        Layout,
        LeftOut,
        Machine,
        Material,
        Metal,
        Money,
        Offer,
        OrderLine,
        Part,
        Placement,
        Plan,
        PriceList,
        Progress,
        Purchase,
        Remnant,
        Sheet,
        Source,
        Spacing,
        Unplaced,
        Verification,
        Violation,
        Work,
    )
    from nestlib.nesting import nest
    from nestlib.orders import feedback_schema, order_feedback
    from nestlib.packing.stopping import After, First, Iterations, Stalled
    from nestlib.pricing import read_prices
    from nestlib.purchase import buy
    from nestlib.shop_papers import write_part_labels, write_picture, write_shop_sheets
    from nestlib.verifying import verify
    from nestlib.writing.buy_json import buy_schema
    from nestlib.writing.plan_json import plan_schema
    from nestlib.writing.read_plan import read_plan

__version__ = "0.1.0"

_HOMES = {
    "nestlib.drawings": ("check_drawing", "read_drawing"),
    "nestlib.errors": (
        "DrawingError",
        "InputError",
        "JobError",
        "LimitError",
        "NestlibError",
        "OutputError",
        "Problem",
        "StoppedError",
    ),
    "nestlib.handover": ("write", "write_programs"),
    "nestlib.intake": ("take_in",),
    "nestlib.handover_purchase": ("write_purchase_folder",),
    "nestlib.jobs.forecast": ("read_forecast",),
    "nestlib.loading": ("job_from_list", "read_job"),
    "nestlib.metals": ("machine", "machines", "material", "materials", "metal"),
    "nestlib.model": (
        "Bound",
        "Contour",
        "Cost",
        "Cut",
        "CutPath",
        "CutSetting",
        "Drawing",
        "Effort",
        "Finding",
        "Job",
        "Layout",
        "LeftOut",
        "Machine",
        "Material",
        "Metal",
        "Money",
        "OrderLine",
        "Offer",
        "Part",
        "Placement",
        "Plan",
        "PriceList",
        "Progress",
        "Purchase",
        "Remnant",
        "Sheet",
        "Source",
        "Spacing",
        "Unplaced",
        "Verification",
        "Violation",
        "Work",
    ),
    "nestlib.nesting": ("nest",),
    "nestlib.orders": ("feedback_schema", "order_feedback"),
    "nestlib.packing.stopping": ("After", "First", "Iterations", "Stalled"),
    "nestlib.pricing": ("read_prices",),
    "nestlib.purchase": ("buy",),
    "nestlib.shop_papers": ("write_part_labels", "write_picture", "write_shop_sheets"),
    "nestlib.verifying": ("verify",),
    "nestlib.writing": ("buy_schema", "plan_schema", "read_plan"),
}
_HOME_OF = {name: home for home, names in _HOMES.items() for name in names}

__all__ = [
    "After",
    "Bound",
    "Contour",
    "Cost",
    "Cut",
    "CutPath",
    "CutSetting",
    "Drawing",
    "DrawingError",
    "Effort",
    "Finding",
    "First",
    "InputError",
    "Iterations",
    "Job",
    "JobError",
    "Layout",
    "LeftOut",
    "LimitError",
    "Machine",
    "Material",
    "Metal",
    "Money",
    "NestlibError",
    "Offer",
    "OrderLine",
    "OutputError",
    "Part",
    "Placement",
    "Plan",
    "PriceList",
    "Problem",
    "Progress",
    "Purchase",
    "Remnant",
    "Sheet",
    "Source",
    "Spacing",
    "Stalled",
    "StoppedError",
    "Unplaced",
    "Verification",
    "Violation",
    "Work",
    "__version__",
    "buy",
    "buy_schema",
    "check_drawing",
    "feedback_schema",
    "job_from_list",
    "machine",
    "machines",
    "material",
    "materials",
    "metal",
    "nest",
    "order_feedback",
    "plan_schema",
    "read_drawing",
    "read_forecast",
    "read_job",
    "read_plan",
    "read_prices",
    "take_in",
    "verify",
    "write",
    "write_part_labels",
    "write_picture",
    "write_programs",
    "write_purchase_folder",
    "write_shop_sheets",
]


def __getattr__(name: str) -> Any:
    if name not in _HOME_OF:
        raise AttributeError(f"module 'nestlib' has no attribute {name!r}")
    value = getattr(import_module(_HOME_OF[name]), name)
    globals()[name] = value
    return value


def __dir__() -> list[str]:
    return sorted({*globals(), *_HOME_OF})
