"""Placing shapes on sheets.

::

    interface   what a packer is given and hands back; any engine can stand behind it
    stopping    when to stop
    pack        fill, then improve
    bound       what no plan can beat; its arguments are in `nestlib.packing.bounds`
    leftovers   what is left of a sheet and worth keeping

    problem     shapes and containers made ready     filling   bottom-left, sheet by sheet
    orientations, simplify, trapezoids               order     recipes and their changes
    board       one container being filled           score     which of two plans is better
    kernels     geometry on flat arrays (numba)

    search      rounds of all the work below, merged in order
    streams     changed recipes                      sheets    CP-SAT: which layouts to cut
    denser      one sheet made denser, new layouts   boxes     CP-SAT: new layouts of boxes
    squeezing   pieces move to fuller sheets         dense     the engine at work on sheets
    tiling      sheets without any waste, by         alike     equal pieces change places, by
    blocks      joining equal edges, and by                    date and by kit
    corners     searching corners (tiling_ways, kernels_tiling)
"""

from nestlib.packing.bound import Demand, Proof, lower_bound
from nestlib.packing.interface import Aims, Container, PackedPlacement, PackedSheet, Packing, Shape
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
    "Aims",
    "Container",
    "Demand",
    "First",
    "Iterations",
    "PackedPlacement",
    "PackedSheet",
    "Packing",
    "Proof",
    "SearchState",
    "Shape",
    "Stalled",
    "StoppingRule",
    "leftover",
    "lower_bound",
    "pack",
]
