"""A written DXF as pixels, by ezdxf, shapely and numpy: no line of it is our own geometry.

ezdxf reads the file and flattens its entities, and shapely widens lines, subtracts holes and
says which pixels lie inside.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, replace
from functools import reduce
from pathlib import Path

import ezdxf
import numpy as np
import shapely
from ezdxf.path import make_path

from fixtures import demo
from nestlib.cutting import cut_path
from nestlib.geometry import placed
from nestlib.loading import read_job
from nestlib.model import Contour, Job, Layout, Placement, Sheet
from nestlib.writing import write_layout
from tests.layouts import JOB, mixed_layout

#: Flattened lines are no farther than this from their entity, in mm.
_FINE = 0.002


@dataclass(frozen=True)
class Raster:
    """Where pixels lie.

    Parameters
    ----------
    scale : float
        Pixels for each mm.
    left, top : float
        Upper left corner of the picture, in mm of the sheet.
    width, height : int
        In pixels.
    """

    scale: float
    left: float
    top: float
    width: int
    height: int

    def of(self, shapes: Iterable[shapely.Geometry]) -> np.ndarray:
        """Pixels whose middle lies in any of some areas."""
        found = np.zeros((self.height, self.width), bool)
        for polygon in shapely.get_parts(list(shapes)):
            x0, y0, x1, y1 = polygon.bounds
            columns = self._within(self.width, x0 - self.left, x1 - self.left)
            rows = self._within(self.height, self.top - y1, self.top - y0)
            x, y = np.meshgrid(
                self.left + (np.arange(self.width)[columns] + 0.5) / self.scale,
                self.top - (np.arange(self.height)[rows] + 0.5) / self.scale,
            )
            shapely.prepare(polygon)
            found[rows, columns] |= shapely.contains_xy(polygon, x, y)
        return found

    def _within(self, pixels: int, least: float, most: float) -> slice:
        """The pixels between two distances from an edge of the picture, in mm."""
        first, last = math.floor(least * self.scale), math.ceil(most * self.scale) + 1
        return slice(max(0, first), min(pixels, max(0, last)))


def lines(file: Path, *layers: str) -> list[np.ndarray]:
    """The entities on some layers of a DXF, flattened."""
    space = ezdxf.readfile(file).modelspace()
    drawn = [e for e in space if e.dxf.layer in layers and e.dxftype() != "TEXT"]
    return [np.array([(p.x, p.y) for p in make_path(e).flattening(_FINE)]) for e in drawn]


def metal(file: Path) -> list[shapely.Geometry]:
    """What the cut contours enclose: inside an odd number of them."""
    rings = [shapely.Polygon(line) for line in lines(file, "CUT_OUTER", "CUT_INNER")]
    return list(shapely.get_parts(reduce(shapely.symmetric_difference, rings)))


def strokes(file: Path, width: float, *layers: str) -> list[shapely.Geometry]:
    """Lines of some layers, drawn so wide, in mm, with round ends and corners."""
    drawn = [shapely.LineString(line) for line in lines(file, *layers)]
    return [line.buffer(width / 2, quad_segs=32) for line in drawn]


def _demo() -> tuple[Layout, Job]:
    """The demo's frame: arcs and curves of real drawings, one piece of each part, every second
    mirrored, turned by 33 degrees more each, around the middles of squares of 400 mm."""
    job = read_job(Path(demo.__file__).parent / "frame-steel-3mm.toml")
    across = math.ceil(len(job.parts) / 2)
    sheet = Sheet("plate", Contour.rectangle(400 * across, 800))
    placements = []
    for i, part in enumerate(job.parts):
        turn = Placement(part.name, 33.0 * i, bool(i % 2), 0.0, 0.0)
        x0, y0, x1, y1 = placed(part.outer, turn).bounds
        x, y = 200 + 400 * (i % across), 200 + 400 * (i // across)
        placements.append(replace(turn, x=x - (x0 + x1) / 2, y=y - (y0 + y1) / 2))
    return Layout(sheet, tuple(placements), 1), job


#: Layouts that are compared.
CASES = {"by hand": lambda: (mixed_layout(), JOB), "demo": _demo}


def written(name: str, version: str, folder: Path) -> tuple[Layout, Job, Path]:
    """One of the cases with its cut path, its job, and its DXF."""
    layout, job = CASES[name]()
    path = cut_path(layout, job, rounds=0)
    layout = Layout(layout.sheet, layout.placements, layout.runs, path, layout.remnants)
    write_layout(layout, job, folder / "x.dxf", version=version)
    return layout, job, folder / "x.dxf"
