"""Repeated patterns: the same piece again and again, found once for each shape.

::

    no_fit      where two outlines overlap
    guesses     rough arrangements, on a raster      steps      lattices of two steps
    polish      exact ones, by linear programs       repeat     the densest of an outline
    laying      an arrangement cut off at the border of a container
    columns     layouts for the integer program      planning   a plan that begins with them
"""

from nestlib.packing.repeats.columns import (
    ColumnTask,
    RepeatTask,
    grow,
    lay_out_repeats,
    repeated_shapes,
)
from nestlib.packing.repeats.planning import planned
from nestlib.packing.repeats.repeat import Repeat, repeats

__all__ = [
    "ColumnTask",
    "Repeat",
    "RepeatTask",
    "grow",
    "lay_out_repeats",
    "planned",
    "repeated_shapes",
    "repeats",
]
