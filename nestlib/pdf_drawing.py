"""What every PDF needs: embedded fonts, QR codes, and contours as exact as paper can show them.

Texts are set in embedded fonts, so that they can be selected, searched and read anywhere. QR
codes follow ISO/IEC 18004.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from typing import Any

import numpy as np
import segno
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont

from nestlib.geometry import arc_angle, arc_centre
from nestlib.model import Contour

#: Come with reportlab, and may be embedded.
FONT, BOLD = "Vera", "VeraBd"

#: No Bézier curve stands for more of an arc: it is off by 4e-6 of the radius then, which is
#: 0.006 mm of a radius of 1.5 m.
_MOST = math.radians(45)

_Point = tuple[float, float]


def register_fonts() -> None:
    """Make the fonts known to reportlab, as often as one likes."""
    for name in (FONT, BOLD):
        pdfmetrics.registerFont(TTFont(name, f"{name}.ttf"))


def unwritable(text: str) -> str:
    """Return the letters of a text that the fonts lack, each once: they are drawn as boxes."""
    register_fonts()
    known = set.intersection(*(set(pdfmetrics.getFont(n).face.charToGlyph) for n in (FONT, BOLD)))
    return "".join(dict.fromkeys(c for c in text if ord(c) not in known))


def short(text: str, font: str, size: float, room: float) -> str:
    """Return a text that is cut off with dots where it would be wider than there is room.

    Parameters
    ----------
    text, font : str
        What is written, and the name of its font.
    size, room : float
        Of the letters, and the width there is, in points.
    """
    text = text[: int(5 * room / size) + 1]  # no letter is narrower than a fifth of its height
    if pdfmetrics.stringWidth(text, font, size) <= room:
        return text
    while text and pdfmetrics.stringWidth(f"{text}…", font, size) > room:
        text = text[:-1]
    return f"{text}…"


def qr_modules(text: str) -> int:
    """Return how many modules the QR code of a text has along its side, white around left out."""
    return len(_qr(text))


def draw_qr(page: Any, text: str, corner: _Point, side: float) -> None:
    """Draw a QR code; its quiet zone is the white around it, which the caller leaves.

    Parameters
    ----------
    page : reportlab.pdfgen.canvas.Canvas
        Where to.
    text : str
        What it says.
    corner : (float, float)
        Its lower left corner in points.
    side : float
        In points.
    """
    rows = _qr(text)
    one = side / len(rows)
    for r, row in enumerate(rows):
        for c, dark in enumerate(row):
            if dark:
                x, y = corner[0] + c * one, corner[1] + side - (r + 1) * one
                page.rect(x, y, one, one, stroke=0, fill=1)


def _qr(text: str) -> Sequence[bytearray]:
    """The rows of a QR code, true where it is dark."""
    return tuple(segno.make_qr(text, error="m").matrix)


def path_of(page: Any, contours: Iterable[Contour], scale: float, shift: _Point) -> Any:
    """Return contours as one path, arcs as Bézier curves.

    Parameters
    ----------
    page : reportlab.pdfgen.canvas.Canvas
        On which it will be drawn.
    contours : iterable of Contour
        In mm.
    scale : float
        Points for each mm.
    shift : (float, float)
        Where (0, 0) comes to lie, in points.
    """
    path = page.beginPath()
    for contour in contours:
        own = Contour(contour.points * scale + shift, contour.bulges, contour.closed)
        path.moveTo(*own.points[0].tolist())
        for a, b, bulge in zip(*own.segments, strict=True):
            if not bulge or (a == b).all():
                path.lineTo(*b.tolist())
                continue
            for curve in arc_curves(a, b, float(bulge)):
                path.curveTo(*curve)
        if contour.closed:
            path.close()
    return path


def arc_curves(start: Any, end: Any, bulge: float) -> Iterator[tuple[float, ...]]:
    """Yield cubic Bézier curves along an arc: two control points and the end of each.

    The distance of the control points is the usual 4/3 tan(φ/4) of the radius, for instance
    in M. Goldapp, "Approximation of circular arcs by cubic polynomials", Computer Aided
    Geometric Design 8 (1991); cited from memory.

    Parameters
    ----------
    start, end : (float, float)
        Of the arc.
    bulge : float
        As in `Contour`; not 0.
    """
    angle, centre = arc_angle(bulge), np.array(arc_centre(start, end, bulge))
    number = max(1, math.ceil(abs(angle) / _MOST - 1e-9))
    arms = 4 / 3 * math.tan(angle / number / 4)
    spoke = np.asarray(start) - centre
    turns = angle / number * np.arange(number + 1.0)
    cos, sin = np.cos(turns), np.sin(turns)
    spokes = np.stack([cos * spoke[0] - sin * spoke[1], sin * spoke[0] + cos * spoke[1]], axis=1)
    ahead = spokes[:, ::-1] * (-arms, arms)
    on_arc = centre + spokes
    on_arc[-1] = end
    for i in range(number):
        corners = (on_arc[i] + ahead[i], on_arc[i + 1] - ahead[i + 1], on_arc[i + 1])
        yield tuple(float(v) for corner in corners for v in corner)
