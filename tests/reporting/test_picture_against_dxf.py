"""The PNG of a layout and the DXF that is cut show the same: compared pixel by pixel."""

from __future__ import annotations

from io import BytesIO

import numpy as np
import pytest
import shapely
from PIL import Image

from nestlib.reporting import layout_png
from tests.reporting import drawn_dxf

#: Share of the pixels that may differ. Letters and the grain mark stand in the PNG alone.
MOST = 0.001

#: The metal around the pieces, and the paper.
PLAIN = ((0xF6, 0xF6, 0xF3), (0xFF, 0xFF, 0xFF))


def _frame(picture: np.ndarray, sheet) -> drawn_dxf.Raster:
    """Where the sheet lies in a picture, by the middle of its own edges, the long dark lines."""
    dark = picture.max(axis=2) < 128
    height, width = dark.shape
    across = np.flatnonzero(dark.sum(axis=0) > 0.5 * height)
    down = np.flatnonzero(dark.sum(axis=1) > 0.5 * width)
    x0, y0, x1, y1 = sheet.outline.bounds
    middle = across.mean() + 0.5, down.mean() + 0.5
    scale = 784 / 800 * width / (x1 - x0)  # the sheet takes 784 of 800 points
    left, top = (x0 + x1) / 2 - middle[0] / scale, (y0 + y1) / 2 + middle[1] / scale
    return drawn_dxf.Raster(scale, left, top, width, height)


@pytest.mark.parametrize("version", ["R2010", "R12"])
@pytest.mark.parametrize("name", list(drawn_dxf.CASES))
def test_the_png_shows_what_the_dxf_cuts(name, version, tmp_path):
    """Pieces and their holes, within a thousandth of all pixels; shifted by 2 mm it would not."""
    layout, job, file = drawn_dxf.written(name, version, tmp_path)
    picture = np.array(Image.open(BytesIO(layout_png(layout, job, 1600))).convert("RGB"))
    raster = _frame(picture, layout.sheet)
    # Contours are drawn 0.4 points wide and joints 2.5, in ink of which a ninth of a pixel is
    # seen; marks of the pieces lie in their metal.
    pixel = 1 / raster.scale
    point = raster.width / 800 * pixel
    ink = [
        *drawn_dxf.strokes(file, 0.4 * point + 0.78 * pixel, "CUT_OUTER", "CUT_INNER"),
        *drawn_dxf.strokes(file, 2.5 * point + 0.78 * pixel, "MICRO_JOINT"),
    ]
    shown = raster.of([*drawn_dxf.metal(file), *ink])
    # Edges and zones of the sheet are left out of the comparison.
    zones = ("SHEET_KEEP_OUT", "REMNANT")
    own = [shapely.Polygon(x) for x in drawn_dxf.lines(file, *zones)]
    other = raster.of([*own, *drawn_dxf.strokes(file, 1.2 * point, "SHEET", *zones)])
    empty = np.any([np.abs(picture - np.array(c)).max(axis=2) < 24 for c in PLAIN], axis=0)
    assert ((shown == empty) & ~other).mean() < MOST
    moved = np.roll(shown, round(2 * raster.scale), axis=1)
    assert ((moved == empty) & ~other).mean() > MOST
