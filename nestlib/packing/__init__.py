"""Placing shapes on sheets.

::

    interface   what a packer is given and hands back; any engine can stand behind it
    stopping    when to stop
    pack        fill, then improve
    bound       what no plan can beat; its arguments are in `nestlib.packing.bounds`
    leftovers   what is left of a sheet and worth keeping

    problem     shapes and containers made ready     filling   bottom-left, sheet by sheet
    orientations, simplify, trapezoids               search    streams of changed recipes
    board       one container being filled           order     recipes and their changes
    kernels     geometry on flat arrays (numba)      sheets    CP-SAT: which layouts to cut
                                                     boxes     CP-SAT: new layouts
"""

from nestlib.packing.bound import lower_bound
from nestlib.packing.interface import Container, PackedPlacement, PackedSheet, Packing, Shape
from nestlib.packing.leftovers import leftover
from nestlib.packing.pack import pack
from nestlib.packing.stopping import (
    After,
    First,
    Iterations,
    SearchState,
    Stalled,
    StoppingRule,
)

__all__ = [
    "After",
    "Container",
    "First",
    "Iterations",
    "PackedPlacement",
    "PackedSheet",
    "Packing",
    "SearchState",
    "Shape",
    "Stalled",
    "StoppingRule",
    "leftover",
    "lower_bound",
    "pack",
]
