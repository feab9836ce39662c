"""What PDFs share, as PDFium reads it."""

from __future__ import annotations

import ctypes
from io import BytesIO

import numpy as np
import pypdfium2
import pypdfium2.raw as pdfium
import pytest
import shapely
from reportlab.pdfgen.canvas import Canvas

from nestlib.model import Contour
from nestlib.pdf_drawing import path_of


def _drawn(contour: Contour, scale: float, shift: tuple[float, float]) -> np.ndarray:
    """Points along the curves that are drawn, back in mm; curves by De Casteljau's rule."""
    file = BytesIO()
    page = Canvas(file, pagesize=(600, 600))
    page.drawPath(path_of(page, [contour], scale, shift))
    page.save()
    document = pypdfium2.PdfDocument(file.getvalue())
    (path,) = document[0].get_objects(filter=[pdfium.FPDF_PAGEOBJ_PATH])
    corners, kinds = [], []
    for i in range(pdfium.FPDFPath_CountSegments(path)):
        segment = pdfium.FPDFPath_GetPathSegment(path, i)
        x, y = ctypes.c_float(), ctypes.c_float()
        pdfium.FPDFPathSegment_GetPoint(segment, x, y)
        corners.append((x.value, y.value))
        kinds.append(pdfium.FPDFPathSegment_GetType(segment))
    points, at, i = [corners[0]], np.array(corners[0]), 1
    while i < len(corners):
        step = 3 if kinds[i] == pdfium.FPDF_SEGMENT_BEZIERTO else 1
        points += _along(np.array([at, *corners[i : i + step]]), np.linspace(0, 1, 9)[1:])
        at, i = np.array(corners[i + step - 1]), i + step
    return (np.array(points) - shift) / scale


def _along(corners: np.ndarray, at: np.ndarray) -> list[tuple[float, float]]:
    points = np.repeat(corners[None], len(at), axis=0)
    while points.shape[1] > 1:
        points = points[:, :-1] + at[:, None, None] * (points[:, 1:] - points[:, :-1])
    return [(float(x), float(y)) for x, y in points[:, 0]]


@pytest.mark.parametrize("ccw", [True, False])
def test_a_circle_is_as_round_as_it_is(ccw):
    """Radius 700 mm at 1 : 7: no point of its curves is further than 0.02 mm off."""
    circle = Contour.circle((750, 750), 700)
    drawn = _drawn(circle if ccw else circle.reversed(), 0.4, (10.0, 20.0))
    assert len(drawn) > 60
    assert np.abs(np.hypot(*(drawn - 750).T) - 700).max() < 0.02


@pytest.mark.parametrize("bulge", [0.3, -0.3, 1.0, -1.0, 2.5, -0.001])
def test_arcs_run_the_right_way(bulge):
    """With a chord on y = 0 and its other corners above, the enclosed area is as for arcs.

    The area of a circular segment is R² (θ - sin θ) / 2, a positive bulge adds it.
    """
    contour = Contour([(0, 0), (200, 0), (200, 900), (0, 900)], [bulge, 0, 0, 0])
    angle = 4 * np.arctan(abs(bulge))
    radius = 100 / np.sin(angle / 2)
    segment = radius**2 * (angle - np.sin(angle)) / 2
    area = shapely.Polygon(_drawn(contour, 0.3, (100.0, 150.0))).area
    assert area == pytest.approx(200 * 900 + np.sign(bulge) * segment, rel=2e-3)
