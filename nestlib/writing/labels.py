"""Where a part's name fits inside of it, and how it is spelt in a DXF."""

from __future__ import annotations

import re
from dataclasses import dataclass

import numpy as np
import shapely

from nestlib.geometry.polygons import region
from nestlib.geometry.transform import placed
from nestlib.model.contour import Contour
from nestlib.model.layout import Placement
from nestlib.model.part import Part

#: Capitals of a plain stroke font are about this wide for their height.
_WIDTH = 0.9
_TALLEST = 12.0
_LONGEST = 250  # a DXF string may have 255 characters


@dataclass(frozen=True)
class Label:
    """A line of text, centred on a point.

    Parameters
    ----------
    text : str
        What it says.
    x, y : float
        Its middle, in mm.
    height : float
        Of capital letters, in mm.
    """

    text: str
    x: float
    y: float
    height: float

    def on_sheet(self, placement: Placement) -> Label:
        """Return the label where a placement puts the part; the text stays upright."""
        spot = placed(Contour([(self.x, self.y), (self.x, self.y)], closed=False), placement)
        return Label(self.text, float(spot.points[0, 0]), float(spot.points[0, 1]), self.height)


def part_label(part: Part) -> Label:
    """Return the part's name, in the middle of the largest circle that fits in its metal.

    Parameters
    ----------
    part : Part
        In its own coordinates.

    Returns
    -------
    Label
        Small enough to stay in that circle, whichever way the part is turned.
    """
    text = dxf_text(part.name)
    metal = shapely.make_valid(region(part.outer, part.inners, chord=0.5))
    radius_line = shapely.maximum_inscribed_circle(metal, tolerance=max(part.size) / 200)
    (x, y), edge = np.asarray(radius_line.coords)[:, :2]
    radius = float(np.hypot(*(edge - (x, y))))
    half_diagonal = 0.5 * float(np.hypot(_WIDTH * max(len(text), 1), 1.0))
    return Label(text, float(x), float(y), max(min(_TALLEST, radius / half_diagonal), 0.1))


def dxf_text(text: str) -> str:
    """Return a text that a DXF TEXT entity shows as it is.

    Control characters end a line in the file, ``^`` and ``%%`` start control codes, and
    ``\\U+`` is how R12 spells a character that its code page lacks.

    Examples
    --------
    >>> dxf_text("50%%\\nleft")
    '50% % left'
    """
    spelt = re.sub(r"[\x00-\x1f\x7f-\x9f\u2028\u2029\ud800-\udfff]", " ", text)
    spelt = spelt.replace("%%", "% %").replace("^", "^ ").replace("\\U+", "\\ U+")
    return spelt[:_LONGEST]
