"""Plain data that all stages share. Knows no other package."""

from nestlib.model.contour import Contour
from nestlib.model.drawing import Drawing, Finding, LeftOut
from nestlib.model.entry import Entry
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
from nestlib.model.order import OrderLine
from nestlib.model.part import Part, Source
from nestlib.model.plan import Bound, Plan, Unplaced, Verification, Violation
from nestlib.model.progress import Progress
from nestlib.model.sheet import Sheet
from nestlib.model.work import Cost, Effort, Work

__all__ = [
    "NO_PIECE",
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
    "Holding",
    "Job",
    "Joint",
    "Layout",
    "LeftOut",
    "Machine",
    "Material",
    "Metal",
    "Money",
    "OrderLine",
    "Part",
    "Placement",
    "Plan",
    "Progress",
    "Remnant",
    "Sheet",
    "SkeletonPiece",
    "Source",
    "Spacing",
    "Support",
    "Unloading",
    "Unplaced",
    "Verification",
    "Violation",
    "Work",
]
