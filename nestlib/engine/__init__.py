"""Dense layouts of a strip or a sheet: parts may overlap at first and are then moved apart.

::

    pack_strip        the one call: parts and a width to a short strip
    items             what is placed                                fitting    what fits at all
    arguments         what a search can be told
    pack_sheet        items and a room of any outline to a layout of as much value as fits

    columns           a layout and a bound without any search
    construction      a first layout, part by part

    search            several starts, the best goes on              schedule   what when
    climb             steps: a slice out, apart, exact, repeat      attempts   one try
    pipeline          tries ahead of their turn                     crew       who does them
    sheet_search      pieces thrown in, apart, exact, repeat    stock      kinds and rooms
    beginning         a layout of the caller's to begin with    parameters how a strip is searched
    separation        sweeps that move overlapping parts            layouts    what is kept
    relocation        the best place for one part, by samples       meetings   weights of pairs
    lattice_places    the same among all places of a lattice        lattice    overlaps on one
    compaction        linear programs that make a layout exact      convex     convex pieces
    turning           linear programs that also turn the parts      separating_lines
    freeing           the same for parts that overlap       turning_conditions   what they ask for

    any_angle         a search for parts that may turn freely       search_angles   at which
    any_angle_sheet   the same in a room    sheet_turns, aligning   at which    sheet_angles

    problem           parts in units of the mean part               simplify   fewer vertices
    catalogue         outlines as flat arrays                       holes      useless ones filled
    fields            overlap of two parts, worked out beforehand   minkowski  where parts meet
    overlap           parts on a strip                              grid       who is near
    collision, overlap_measure   the same where there is no field   rng        random numbers
    kernel            how all of this is compiled (numba)

The method is guided local search on the overlaps: J. Egeblad, B. K. Nielsen, A. Odgaard,
"Fast neighborhood search for two- and three-dimensional nesting problems", EJOR 183 (2007)
1249-1266; S. Umetani, M. Yagiura, S. Imahori, T. Imamichi, K. Nonobe, T. Ibaraki, "Solving
the irregular strip packing problem via guided local search for overlap minimization",
Intl. Trans. in Op. Res. 16 (2009) 661-683.
"""

from nestlib.engine.items import Item, ItemPlacement
from nestlib.engine.pack_sheet import SheetPacking, pack_sheet
from nestlib.engine.pack_strip import StripPacking, pack_strip
from nestlib.model import Progress

__all__ = [
    "Item",
    "ItemPlacement",
    "Progress",
    "SheetPacking",
    "StripPacking",
    "pack_sheet",
    "pack_strip",
]
