"""Exports of an ERP to jobs: what a mapping says, rows by metal and thickness, bad rows aside."""

from nestlib.intake.drafting import Draft, confirmed, draft_mapping
from nestlib.intake.export import Export, read_export
from nestlib.intake.mapping import Mapping, read_mapping
from nestlib.intake.taking_in import ASIDE_FILE, CheckDrawing, Intake, intake_record, take_in

__all__ = [
    "ASIDE_FILE",
    "CheckDrawing",
    "Draft",
    "Export",
    "Intake",
    "Mapping",
    "confirmed",
    "draft_mapping",
    "intake_record",
    "read_export",
    "read_mapping",
    "take_in",
]
