"""From a sheet's coordinates, y up, to those of its picture, y down."""

from __future__ import annotations

from dataclasses import dataclass

from nestlib.geometry import cos_sin
from nestlib.model import Contour, Placement, Sheet
from nestlib.reporting.svg_paths import path_data

#: Room around the sheet, as a share of its longer side.
_BORDER = 0.01


@dataclass(frozen=True)
class Frame:
    """What of the plane a picture shows, in mm.

    Parameters
    ----------
    left, top : float
        Its upper left corner, in the coordinates of the sheet.
    width, height : float
        Its sides.
    longer : float
        The longer side of the sheet.
    """

    left: float
    top: float
    width: float
    height: float
    longer: float

    @classmethod
    def around(cls, sheet: Sheet) -> Frame:
        """Return the frame around a sheet, with a border."""
        x0, y0, x1, y1 = sheet.outline.bounds
        longer = max(x1 - x0, y1 - y0, 1e-6)
        border = _BORDER * longer
        return cls(x0 - border, y1 + border, x1 - x0 + 2 * border, y1 - y0 + 2 * border, longer)

    def view(self, x: float, y: float) -> tuple[float, float]:
        """From the sheet's coordinates to the picture's."""
        return float(x) - self.left, self.top - float(y)

    def path(self, contour: Contour) -> str:
        """Return a contour of the sheet as path data."""
        return path_data(contour, self.view, upside_down=True)

    def matrix(self, placement: Placement) -> str:
        """Return the transform of a placement, followed by turning y round."""
        cos, sin = cos_sin(placement.rotation)
        flip = -1 if placement.flip else 1
        x, y = self.view(placement.x, placement.y)
        turn = (flip * cos, -flip * sin, -sin, -cos)
        return f"matrix({' '.join(f'{v:.9g}' for v in turn)} {x:.4f} {y:.4f})"
