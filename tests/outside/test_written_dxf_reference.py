"""Written layouts against the DXF Reference, read by group codes and by ezdxf.

Sources: DXF Reference, LWPOLYLINE (bulge is the tangent of a quarter of the included
angle, negative if clockwise), CIRCLE, HEADER ($INSUNITS 4 = millimetres, $ACADVER
AC1009 = R12, AC1024 = 2010). $MEASUREMENT 1 = metric and R12's POLYLINE with VERTEX and
SEQEND are recalled from memory.
"""

import cmath
import math

import numpy as np
import pytest
from ezdxf import recover
from ezdxf.math import bulge_to_arc

from nestlib.cutting import cut_path
from nestlib.model import Contour, Layout, Part, Placement
from nestlib.writing import layout_bytes, write_layout
from tests.layouts import JOB, job_of, mixed_layout

VERSIONS = ["R12", "R2010"]


def group_codes(data: bytes) -> list[tuple[int, str]]:
    """Pairs of group code and value."""
    lines = data.decode("utf-8", "replace").splitlines()
    return [(int(code), value.strip()) for code, value in zip(lines[::2], lines[1::2], strict=True)]


def entities(data: bytes) -> list[list[tuple[int, str]]]:
    """The tags of each entity in the ENTITIES section."""
    tags = group_codes(data)
    begin = tags.index((2, "ENTITIES")) + 1
    found: list[list[tuple[int, str]]] = []
    for code, value in tags[begin:]:
        if (code, value) == (0, "ENDSEC"):
            break
        if code == 0:
            found.append([])
        found[-1].append((code, value))
    return found


def header(data: bytes) -> dict[str, tuple[int, str]]:
    """Header variables with one value."""
    tags = group_codes(data)
    end = tags.index((0, "ENDSEC"))
    return {v: tags[i + 1] for i, (code, v) in enumerate(tags[:end]) if code == 9}


@pytest.mark.parametrize(("version", "number"), [("R12", "AC1009"), ("R2010", "AC1024")])
def test_version_and_units_stand_in_the_header(version, number):
    """$ACADVER as the reference lists it, millimetres and metric in both forms."""
    variables = header(layout_bytes(mixed_layout(), JOB, version=version))
    assert variables["$ACADVER"] == (1, number)
    assert variables["$INSUNITS"] == (70, "4")
    assert variables["$MEASUREMENT"] == (70, "1")


@pytest.mark.parametrize("version", VERSIONS)
def test_a_circle_is_a_circle(version):
    """CIRCLE with its middle (10, 20) and radius (40), within 1e-12 of itself."""
    job = job_of((Part("disc", Contour.circle((15, 15), 12.3456789)),))
    layout = Layout(job.sheets[0], (Placement("disc", 90.0, False, 200, 100),))
    layout = Layout(layout.sheet, layout.placements, 1, cut_path(layout, job))
    data = layout_bytes(layout, job, version=version)
    circle = next(dict(e) for e in entities(data) if (8, "CUT_OUTER") in e)
    assert circle[0] == "CIRCLE"
    assert float(circle[10]) == pytest.approx(185, rel=1e-12)
    assert float(circle[20]) == pytest.approx(115, rel=1e-12)
    assert float(circle[40]) == pytest.approx(12.3456789, rel=1e-12)


@pytest.mark.parametrize("degrees", [30, 60, 90, 120, 180, 270, -45, -90])
def test_bulges_are_tangents_of_a_quarter_of_the_angle(degrees):
    """Group code 42 of an arc of known angle is tan(angle / 4), to the last digit but one."""
    bulge = math.tan(math.radians(degrees) / 4)
    points = [(0, 0), (100, 0), (100, 100), (0, 100)]
    job = job_of((Part("tag", Contour(points, [0, bulge, 0, 0])),))
    layout = Layout(job.sheets[0], (Placement("tag", 0.0, False, 300, 200),))
    outer = next(e for e in entities(layout_bytes(layout, job)) if (8, "CUT_OUTER") in e)
    assert (0, "LWPOLYLINE") in outer
    assert (90, "4") in outer
    assert (70, "1") in outer
    written = [float(value) for code, value in outer if code == 42 and float(value)]
    assert written == [pytest.approx(math.tan(math.radians(degrees) / 4), rel=1e-15)]


def test_r12_knows_only_polylines_with_vertices():
    """No LWPOLYLINE in R12: POLYLINE (70 = 1: closed), its VERTEX entities and SEQEND."""
    found = entities(layout_bytes(mixed_layout(), JOB, version="R12"))
    kinds = [dict(e)[0] for e in found]
    assert "LWPOLYLINE" not in kinds
    assert kinds.count("POLYLINE") == kinds.count("SEQEND")
    for number, entity in enumerate(found):
        if entity[0] == (0, "POLYLINE") and (8, "CUT_OUTER") in entity:
            assert (70, "1") in entity
            assert kinds[number + 1 : number + 3] == ["VERTEX", "VERTEX"]


def curve_of(entity) -> tuple[list[complex], list[float], bool]:
    """Vertices, bulges and closure of a polyline in either form."""
    if entity.dxftype() == "LWPOLYLINE":
        rows = list(entity.get_points("xyb"))
    else:
        rows = [
            (v.dxf.location.x, v.dxf.location.y, v.dxf.get("bulge", 0.0)) for v in entity.vertices
        ]
    closed = entity.closed if entity.dxftype() == "LWPOLYLINE" else entity.is_closed
    return [complex(x, y) for x, y, _ in rows], [b for _, _, b in rows], bool(closed)


def samples(points, bulges, closed, per_segment=8) -> np.ndarray:
    """Points along lines and arcs; arcs by ezdxf's centre, angles and radius."""
    found = []
    ends = points[1:] + points[:1] if closed else points[1:]
    for a, b, bulge in zip(points, ends, bulges, strict=False):
        shares = np.linspace(0, 1, per_segment, endpoint=False)
        if bulge == 0:
            found.extend(a + (b - a) * shares)
            continue
        centre, first, last, radius = bulge_to_arc((a.real, a.imag), (b.real, b.imag), bulge)
        sweep = (last - first) % (2 * math.pi)
        middle = complex(centre.x, centre.y)
        found.extend(middle + radius * cmath.exp(1j * (first + s * sweep)) for s in shares)
    return np.array(found)


def placed_by_hand(points: np.ndarray, placement: Placement) -> np.ndarray:
    """Complex points mirrored, turned and moved, by formulas of the test's own."""
    z = points[:, 0] + 1j * points[:, 1]
    if placement.flip:
        z = -z.conjugate()
    return z * cmath.exp(1j * math.radians(placement.rotation)) + complex(placement.x, placement.y)


def distance_to_contour(z: complex, points: np.ndarray, bulges: np.ndarray, closed: bool) -> float:
    """Exact distance of a point from a chain of lines and arcs."""
    ends = np.roll(points, -1) if closed else points[1:]
    best = math.inf
    for a, b, bulge in zip(points, ends, bulges, strict=False):
        if bulge == 0:
            share = ((z - a) * (b - a).conjugate()).real / abs(b - a) ** 2
            best = min(best, abs(z - (a + (b - a) * min(1, max(0, share)))))
            continue
        centre = (a + b) / 2 + 1j * (b - a) * (1 - bulge**2) / (4 * bulge)
        angle = cmath.phase((z - centre) / (a - centre)) * math.copysign(1, bulge)
        if angle % (2 * math.pi) <= 4 * math.atan(abs(bulge)):
            best = min(best, abs(abs(z - centre) - abs(a - centre)))
        best = min(best, abs(z - a), abs(z - b))
    return best


@pytest.mark.parametrize("version", VERSIONS)
@pytest.mark.parametrize("path", [False, True])
def test_a_round_trip_keeps_every_contour(tmp_path, version, path):
    """Each written contour lies within 1e-6 mm of the placed drawing, and is as long.

    Lengths are compared within 1e-9 of themselves, so nothing is left out either.
    """
    layout = mixed_layout()
    if path:
        layout = Layout(layout.sheet, layout.placements, 1, cut_path(layout, JOB))
    write_layout(layout, JOB, tmp_path / "x.dxf", version=version)
    document, _ = recover.readfile(tmp_path / "x.dxf")
    checked = 0
    for entity in document.modelspace():
        if entity.dxf.layer not in {"CUT_OUTER", "CUT_INNER", "MARK"}:
            continue
        role, number, index = (tag.value for tag in entity.get_xdata("NESTLIB"))
        placement = layout.placements[number]
        part = JOB.part(placement.part)
        drawn = {"mark": part.marks, "inner": part.inners, "outer": (part.outer,)}[role][index]
        points = placed_by_hand(drawn.points, placement)
        bulges = -drawn.bulges if placement.flip else drawn.bulges
        if entity.dxftype() == "CIRCLE":
            assert drawn.is_circle
            assert abs(complex(entity.dxf.center.x, entity.dxf.center.y) - points.mean()) < 1e-6
            assert entity.dxf.radius == pytest.approx(abs(points[0] - points[1]) / 2, abs=1e-6)
        else:
            vertices, written_bulges, closed = curve_of(entity)
            assert closed == drawn.closed
            along = samples(vertices, written_bulges, closed)
            off = max(distance_to_contour(z, points, bulges, drawn.closed) for z in along)
            assert off < 1e-6
            back = Contour([(z.real, z.imag) for z in vertices], written_bulges, closed)
            assert back.length == pytest.approx(drawn.length, rel=1e-9)
        checked += 1
    pieces = [JOB.part(p.part) for p in layout.placements]
    assert checked == sum(1 + len(p.inners) + len(p.marks) for p in pieces)
