"""Who draws plain data where a notebook shows it: looked up by name, when it is asked for.

`model` knows no other package, so it cannot say this itself.
"""

from __future__ import annotations

from importlib import import_module
from typing import Any

#: Module and function by the name of the class.
_SHOWN_BY = {
    "Part": ("nestlib.reporting.notebook", "part_svg"),
    "Plan": ("nestlib.reporting.notebook", "plan_html"),
}


def shown(value: object) -> str:
    """Return a value as SVG or HTML.

    Parameters
    ----------
    value : object
        A `Part` or a `Plan`.
    """
    module, name = _SHOWN_BY[type(value).__name__]
    draw: Any = getattr(import_module(module), name)
    return str(draw(value))
