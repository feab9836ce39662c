"""Plain data that all stages share. Knows no other package."""

from nestlib.model.contour import Contour
from nestlib.model.drawing import Drawing, Finding, LeftOut
from nestlib.model.entry import Entry
from nestlib.model.forecast import ForecastRow
from nestlib.model.job import Holding, Job, Money, Spacing, Unloading
from nestlib.model.layout import (
    NO_PIECE,
    Bundle,
    Cut,
    CutPath,
    Joint,
    Layout,
    Placement,
    Remnant,
    SkeletonPiece,
)
from nestlib.model.machine import CutSetting, Machine, Support
from nestlib.model.metal import Material, Metal
from nestlib.model.offer import Offer, PriceList
from nestlib.model.order import OrderLine
from nestlib.model.part import Part, Source
from nestlib.model.plan import Bound, Plan, Unplaced, Verification, Violation
from nestlib.model.progress import Progress
from nestlib.model.purchase import (
    Asked,
    BoughtLayout,
    MetalPurchase,
    Purchase,
    PurchaseLine,
    Schedule,
    ServiceRow,
    WeekRow,
)
from nestlib.model.sheet import Sheet
from nestlib.model.work import Cost, Effort, Work

__all__ = [
    "NO_PIECE",
    "Asked",
    "BoughtLayout",
    "Bound",
    "Bundle",
    "Contour",
    "Cost",
    "Cut",
    "CutPath",
    "CutSetting",
    "Drawing",
    "Effort",
    "Entry",
    "Finding",
    "ForecastRow",
    "Holding",
    "Job",
    "Joint",
    "Layout",
    "LeftOut",
    "Machine",
    "Material",
    "Metal",
    "MetalPurchase",
    "Money",
    "Offer",
    "OrderLine",
    "Part",
    "Placement",
    "Plan",
    "PriceList",
    "Progress",
    "Purchase",
    "PurchaseLine",
    "Remnant",
    "Schedule",
    "ServiceRow",
    "Sheet",
    "SkeletonPiece",
    "Source",
    "Spacing",
    "Support",
    "Unloading",
    "Unplaced",
    "Verification",
    "Violation",
    "WeekRow",
    "Work",
]
