"""The inner loops of the engine in C, compiled and called here and nowhere else."""

from __future__ import annotations

import ctypes
import subprocess
import tempfile
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import click
import numpy as np

from nestlib.engine.catalogue import CIRCLES, SMOOTH
from nestlib.engine.overlap import Layout, Shapes

SOURCE = Path(__file__).with_name("c") / "loops.c"

COMPILER = ("gcc", "-O3", "-march=native", "-fno-math-errno", "-fopenmp-simd")

#: Arrays of each structure in the order of the source, and what they hold.
_CATALOGUE = {
    "edge_start": np.int64,
    **dict.fromkeys(("x1", "y1", "x2", "y2", "box", "inside"), np.float64),
    "circles": np.int64,
    **dict.fromkeys(("cx", "cy", "cr"), np.float32),
    **dict.fromkeys(("size", "diameter"), np.float64),
}
_FIELDS = {
    "field": np.int32,
    **dict.fromkeys(("turn", "head"), np.float64),
    "cell": np.int32,
    "value": np.float32,
    "rule": np.int32,
    **dict.fromkeys(("line", "soft"), np.float64),
}
_LAYOUT = {"turn": np.int64, **dict.fromkeys(("x", "y", "box"), np.float64)}


class _Sizes(ctypes.Structure):
    _fields_ = (
        *((name, ctypes.c_int64) for name in ("orientations", "circles", "edges", "parts")),
        ("smooth", ctypes.c_double),
    )


def compiled() -> ctypes.CDLL:
    """Compile the loops and load them.

    Raises
    ------
    click.ClickException
        If there is no compiler, or it fails.
    """
    with tempfile.TemporaryDirectory() as folder:
        library = Path(folder) / "loops.so"
        command = [*COMPILER, "-shared", "-fPIC", "-o", str(library), str(SOURCE), "-lm"]
        try:
            subprocess.run(command, check=True, capture_output=True, text=True)
        except (OSError, subprocess.CalledProcessError) as error:
            what = getattr(error, "stderr", None) or str(error)
            raise click.ClickException(f"the loops in C cannot be compiled: {what}") from error
        return ctypes.CDLL(str(library))


def compiler_version() -> str:
    """Return what compiles."""
    told = subprocess.run([COMPILER[0], "-dumpfullversion"], capture_output=True, text=True)
    return f"{COMPILER[0]} {told.stdout.strip()}"


class Scene:
    """Shapes and a layout, handed to C.

    Parameters
    ----------
    library : ctypes.CDLL
        The compiled loops.
    shapes : Shapes
        What the kernels know about the shapes.
    layout : Layout
        Where the parts lie; with so few that there is no grid.
    """

    def __init__(self, library: ctypes.CDLL, shapes: Shapes, layout: Layout) -> None:
        if layout.grid.first.shape[0]:
            raise click.ClickException("the loops in C know no grid: choose fewer parts")
        self.library = library
        n, most = len(layout.x), int(np.diff(shapes.cat.edge_start).max())
        self.kept: list[Any] = [np.empty((4, most)), *np.empty((2, n + 1), np.int64)]
        sizes = _Sizes(len(shapes.cat.angle), CIRCLES, most, n, SMOOTH)
        structures = [
            _pointers([_checked(getattr(values, name), kind) for name, kind in kinds.items()])
            for values, kinds in (
                (shapes.cat, _CATALOGUE),
                (shapes.fld, _FIELDS),
                (layout, _LAYOUT),
            )
        ]
        self.kept += [shapes, layout, sizes, *structures]
        addresses = [ctypes.addressof(s) for s in (*structures, sizes)]
        arrays = [array.ctypes.data for array in self.kept[:3]]
        self.scene = (ctypes.c_void_p * 7)(*addresses, *arrays)

    def call(self, name: str, before: Sequence[Any], arrays: Sequence[Any]) -> None:
        """Call a loop over arrays of the same length; the last of them is filled.

        Parameters
        ----------
        name : str
            Of the loop.
        before : sequence of ndarray
            What it is given before the number of items.
        arrays : sequence of ndarray
            One value for every item.
        """
        getattr(self.library, name)(
            ctypes.byref(self.scene),
            *(ctypes.c_void_p(a.ctypes.data) for a in before),
            ctypes.c_int64(len(arrays[-1])),
            *(ctypes.c_void_p(a.ctypes.data) for a in arrays),
        )


def _checked(array: Any, kind: Any) -> Any:
    if array.dtype != kind or not array.flags.c_contiguous:
        raise click.ClickException("the arrays of the engine are not those that the C side knows")
    return array


def _pointers(arrays: Sequence[Any]) -> Any:
    return (ctypes.c_void_p * len(arrays))(*(a.ctypes.data for a in arrays))
