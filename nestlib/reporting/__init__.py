"""Plans, drawings and machines shown to people: pictures, a report, the terminal.

Each name loads its home when it is first used, since some need large libraries.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from nestlib.reporting.console import (
        print_capabilities,
        print_catalogue,
        print_check,
        print_plan,
        print_table,
        print_verification,
    )
    from nestlib.reporting.picture import layout_svg
    from nestlib.reporting.pixels import layout_png
    from nestlib.reporting.progress_line import ProgressLine
    from nestlib.reporting.progress_table import ProgressTable
    from nestlib.reporting.purchase_console import print_purchase
    from nestlib.reporting.purchase_page import purchase_html
    from nestlib.reporting.purchase_print import purchase_pdf
    from nestlib.reporting.report import report_html
    from nestlib.reporting.shop_sheet import shop_sheets_pdf

__all__ = [
    "ProgressLine",
    "ProgressTable",
    "layout_png",
    "layout_svg",
    "print_capabilities",
    "print_catalogue",
    "print_check",
    "print_plan",
    "print_purchase",
    "print_table",
    "print_verification",
    "purchase_html",
    "purchase_pdf",
    "report_html",
    "shop_sheets_pdf",
]

_HOMES = {
    "ProgressLine": "progress_line",
    "ProgressTable": "progress_table",
    "layout_png": "pixels",
    "layout_svg": "picture",
    "print_purchase": "purchase_console",
    "purchase_html": "purchase_page",
    "purchase_pdf": "purchase_print",
    "report_html": "report",
    "shop_sheets_pdf": "shop_sheet",
}


def __getattr__(name: str) -> Any:
    if name not in __all__:
        raise AttributeError(f"module 'nestlib.reporting' has no attribute {name!r}")
    home = import_module(f"nestlib.reporting.{_HOMES.get(name, 'console')}")
    return getattr(home, name)
