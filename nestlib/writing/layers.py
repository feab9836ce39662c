"""Which layer of a written layout holds what, and how it looks.

The names are part of the interface: they stand in ``plan.json`` and are the same in
every DXF version. Plain capital letters, because R12 allows nothing else.
"""

from __future__ import annotations

from dataclasses import dataclass
from types import MappingProxyType


@dataclass(frozen=True)
class Layer:
    """Name and looks of one layer.

    Parameters
    ----------
    name : str
        As written in the DXF.
    colour : int
        DXF colour index (group code 62); each has a contrast of 3 : 1 or more against
        white as well as against black.
    linetype : str
        ``"CONTINUOUS"`` or ``"DASHED"``.
    """

    name: str
    colour: int
    linetype: str = "CONTINUOUS"


#: Role of a thing in a layout -> its layer.
LAYERS = MappingProxyType(
    {
        "sheet": Layer("SHEET", 8),
        "keep_out": Layer("SHEET_KEEP_OUT", 32, "DASHED"),
        "outer": Layer("CUT_OUTER", 150),
        "inner": Layer("CUT_INNER", 134),
        "shared": Layer("CUT_SHARED", 42),
        "around": Layer("CUT_AROUND", 190),
        "bundled": Layer("PART_SHARING_CUTS", 251, "DASHED"),
        "mark": Layer("MARK", 200),
        "lead": Layer("LEAD_IN", 230),
        "lead_out": Layer("LEAD_OUT", 210),
        "joint": Layer("MICRO_JOINT", 10),
        "skeleton": Layer("CUT_SKELETON", 20),
        "cut_off": Layer("CUT_OFF", 84),
        "order": Layer("CUT_ORDER", 252),
        "remnant": Layer("REMNANT", 94, "DASHED"),
        "label": Layer("PART_NAME", 54),
    }
)


def layer_names() -> dict[str, str]:
    """Return role -> layer name, as it stands in ``plan.json``.

    Examples
    --------
    >>> layer_names()["outer"]
    'CUT_OUTER'
    """
    return {role: layer.name for role, layer in LAYERS.items()}
