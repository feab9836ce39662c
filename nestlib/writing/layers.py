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
    what : str
        What lies on it, in words.
    linetype : str
        ``"CONTINUOUS"`` or ``"DASHED"``.
    """

    name: str
    colour: int
    what: str
    linetype: str = "CONTINUOUS"


#: Role of a thing in a layout -> its layer.
LAYERS = MappingProxyType(
    {
        "sheet": Layer("SHEET", 8, "outline of the sheet and its holes"),
        "keep_out": Layer(
            "SHEET_KEEP_OUT", 32, "zones of the sheet where nothing may lie", "DASHED"
        ),
        "outer": Layer("CUT_OUTER", 150, "outside contours of parts, cut with the slot outside"),
        "inner": Layer("CUT_INNER", 134, "holes of parts, cut with the slot inside"),
        "shared": Layer(
            "CUT_SHARED", 42, "cuts between two pieces: beam on the line, no compensation"
        ),
        "around": Layer("CUT_AROUND", 190, "the way around pieces that share cuts"),
        "bundled": Layer(
            "PART_SHARING_CUTS", 251, "contours of pieces that share cuts: not to be cut", "DASHED"
        ),
        "mark": Layer("MARK", 200, "lines that are etched and not cut through"),
        "lead": Layer("LEAD_IN", 230, "from the pierce point to the contour"),
        "lead_out": Layer("LEAD_OUT", 210, "from the contour into the waste, and over-cuts"),
        "joint": Layer("MICRO_JOINT", 10, "where a contour is to be left uncut"),
        "skeleton": Layer("CUT_SKELETON", 20, "cuts that take the skeleton apart"),
        "cut_off": Layer("CUT_OFF", 84, "the last cut, which frees the remnant"),
        "order": Layer("CUT_ORDER", 252, "numbers of the cuts"),
        "remnant": Layer("REMNANT", 94, "outlines of leftovers worth keeping", "DASHED"),
        "label": Layer("PART_NAME", 54, "names of the parts"),
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
