"""The SVG of a layout, drawn by Chromium, and the DXF that is cut show the same."""

from __future__ import annotations

import re
from io import BytesIO

import numpy as np
import pytest
from PIL import Image

from nestlib.reporting import layout_svg
from tests.reporting import drawn_dxf

#: Share of the pixels that may differ.
MOST = 0.001

_WIDE = 1600

#: Pieces alone, in black; or cuts and leads alone, 4 pixels wide.
PIECES = "svg > :not(defs, .pieces) { display: none } [fill-rule=evenodd] { fill: #000 }"
CUTS = (
    "svg > :not(.cuts, .leads) { display: none }"
    " path { stroke: #000; stroke-width: 4px; stroke-dasharray: none;"
    " stroke-linecap: round; stroke-linejoin: round }"
)


def _shown(chromium, svg: str, style: str) -> tuple[np.ndarray, drawn_dxf.Raster]:
    """Dark pixels of a picture under a style, and where they lie."""
    left, top = (float(re.search(rf'data-{side}="([^"]+)"', svg)[1]) for side in ("left", "top"))
    wide, high = (float(v) for v in re.search(r'viewBox="0 0 (\S+) (\S+)"', svg).groups())
    scale, height = _WIDE / wide, round(_WIDE * high / wide)
    page = chromium.new_page(viewport={"width": _WIDE, "height": height})
    try:
        size = f"svg {{ display: block; width: {_WIDE}px; height: {_WIDE * high / wide}px }}"
        page.set_content(f"<style>body {{ margin: 0 }} {size} {style}</style>{svg}")
        picture = Image.open(BytesIO(page.screenshot())).convert("L")
    finally:
        page.close()
    raster = drawn_dxf.Raster(scale, left, top, _WIDE, height)
    return np.asarray(picture) < 128, raster


@pytest.mark.parametrize("name", list(drawn_dxf.CASES))
def test_the_svg_shows_what_the_dxf_cuts(name, chromium, tmp_path):
    """The metal of the pieces, and the lines of cuts and leads, each within a thousandth of all
    pixels; shifted by 2 mm they would not be."""
    layout, job, file = drawn_dxf.written(name, "R2010", tmp_path)
    svg = layout_svg(layout, job)
    cuts = ("CUT_OUTER", "CUT_INNER", "MARK", "LEAD_IN")
    for style, shape in (
        (PIECES, lambda scale: drawn_dxf.metal(file)),
        (CUTS, lambda scale: drawn_dxf.strokes(file, 4 / scale, *cuts)),
    ):
        dark, raster = _shown(chromium, svg, style)
        expected = raster.of(shape(raster.scale))
        assert expected.mean() > 10 * MOST
        assert (dark != expected).mean() < MOST
        assert (dark != np.roll(expected, round(2 * raster.scale), axis=1)).mean() > MOST
