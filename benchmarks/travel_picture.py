"""A cut path as a small SVG file: contours grey, travel in colour."""

from __future__ import annotations

from nestlib.geometry.polygons import region
from nestlib.model import Layout

#: Greatest distance in mm between an arc and its lines.
_CHORD = 0.3

_WIDE = 900


def path_picture(layout: Layout) -> str:
    """Return the SVG text of a layout and the travel between its cuts."""
    x0, y0, x1, y1 = layout.sheet.outline.bounds
    scale = _WIDE / (x1 - x0)
    high = (y1 - y0) * scale
    rings = [c.contour for c in layout.path.cuts if c.contour.closed]
    lines = [
        _line(list(region(r, (), _CHORD).exterior.coords), x0, y1, scale, "#888") for r in rings
    ]
    here = (0.0, 0.0)
    for cut in layout.path.cuts:
        lines.append(_line([here, cut.pierce], x0, y1, scale, "#c0392b"))
        here = cut.end
    return "\n".join(
        [
            f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="-2 -2 {_WIDE + 4} {high + 4:.0f}">',
            f'<rect width="{_WIDE}" height="{high:.1f}" fill="#f4f1ea"/>',
            *lines,
            "</svg>",
            "",
        ]
    )


def _line(
    points: list[tuple[float, float]], left: float, top: float, scale: float, colour: str
) -> str:
    way = " ".join(f"{(x - left) * scale:.1f},{(top - y) * scale:.1f}" for x, y in points)
    return f'<polyline points="{way}" fill="none" stroke="{colour}"/>'
