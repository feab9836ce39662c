"""Writing plans: DXF layouts, ``plan.json``, lists, and the folder that holds them."""

from nestlib.writing.buy_json import buy_record, buy_schema, write_purchase
from nestlib.writing.dxf import Version, layout_bytes, write_layout
from nestlib.writing.failures import write_bytes, write_text, writing_to
from nestlib.writing.folder import REPORT_FILE, demand_free, is_plan_folder, plan_folder
from nestlib.writing.layers import LAYERS, Layer, layer_names
from nestlib.writing.plan_json import plan_record, plan_schema, write_plan_record
from nestlib.writing.program import (
    marked_as_failed,
    never_raised,
    program_files,
    program_record,
    program_text,
)
from nestlib.writing.program_template import (
    PLAIN,
    ProgramTemplate,
    plain_template_text,
    read_template,
)
from nestlib.writing.read_plan import plan_from_record, read_plan
from nestlib.writing.read_purchase import purchase_from_record, read_purchase
from nestlib.writing.tables import layout_files, write_tables

__all__ = [
    "LAYERS",
    "PLAIN",
    "REPORT_FILE",
    "Layer",
    "ProgramTemplate",
    "Version",
    "buy_record",
    "buy_schema",
    "demand_free",
    "is_plan_folder",
    "layer_names",
    "layout_bytes",
    "layout_files",
    "marked_as_failed",
    "never_raised",
    "plain_template_text",
    "plan_folder",
    "plan_from_record",
    "plan_record",
    "plan_schema",
    "program_files",
    "program_record",
    "program_text",
    "purchase_from_record",
    "read_plan",
    "read_purchase",
    "read_template",
    "write_bytes",
    "write_layout",
    "write_plan_record",
    "write_purchase",
    "write_tables",
    "write_text",
    "writing_to",
]
