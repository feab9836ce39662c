"""A written sheet read back: every part within 1e-6 mm of what it was made from."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from nestlib.cutting import cut_path
from nestlib.drawings import read_drawing
from nestlib.geometry import placed
from nestlib.model import Contour, Part
from nestlib.writing.dxf import write_layout
from tests.layouts import JOB, mixed_layout

EXACT = 1e-6


def same(read: Contour, made: Contour) -> bool:
    """Whether two contours are one, within 1e-6 mm.

    The one that was read has a vertex more where the beam starts. It lies on the other if
    all other vertices, the length and the area agree.
    """
    if abs(read.length - made.length) > EXACT or abs(read.area - made.area) > EXACT * made.length:
        return False
    if made.is_circle:
        return bool(read.is_circle and np.allclose(read.bounds, made.bounds, rtol=0, atol=EXACT))
    apart = np.hypot(*(read.points[:, None] - made.points[None]).T)
    return bool(apart.min(axis=1).max() <= EXACT)


def contours(part: Part) -> list[Contour]:
    """All contours of a part where they stood in the drawing."""
    assert part.source is not None
    x, y = part.source.origin
    every = (part.outer, *part.inners, *part.marks)
    return [Contour(c.points + np.array((x, y)), c.bulges, c.closed) for c in every]


@pytest.mark.parametrize("version", ["R2010", "R12"])
def test_a_written_sheet_is_read_back(tmp_path: Path, version: str) -> None:
    """Turned, mirrored and nested parts; sheet, leads, order and labels are no parts."""
    layout = mixed_layout()
    layout = replace(layout, path=cut_path(layout, JOB))
    path = tmp_path / "sheet-001.dxf"
    write_layout(layout, JOB, path, version=version)
    drawing = read_drawing(path)
    assert (drawing.units, drawing.units_from, drawing.version) == ("mm", "file", version)
    assert [f.code for f in drawing.findings if f.level != "note"] == []
    parts = {part.name: part for part in JOB.parts}
    made = [
        placed(c, p)
        for p in layout.placements
        for c in (parts[p.part].outer, *parts[p.part].inners, *parts[p.part].marks)
    ]
    # Parts drawn alike are counted once: each read contour stands for one or more.
    read = [c for part in drawing.parts for c in contours(part)]
    assert all(any(same(c, m) for m in made) for c in read)
    assert sum(part.quantity for part in drawing.parts) == len(layout.placements)
    placed_pierces = sum(parts[p.part].pierces for p in layout.placements)
    assert sum(part.quantity * part.pierces for part in drawing.parts) == placed_pierces
