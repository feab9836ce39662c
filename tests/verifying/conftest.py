"""A small plan that is right, to be spoilt in one way by each test."""

from __future__ import annotations

import io
import json
import math
from collections.abc import Callable
from dataclasses import dataclass, field
from itertools import pairwise
from pathlib import Path
from typing import Any

import ezdxf
import pytest
from ezdxf.enums import TextEntityAlignment

LAYERS = {
    "sheet": "SHEET",
    "keep_out": "SHEET_KEEP_OUT",
    "outer": "CUT_OUTER",
    "inner": "CUT_INNER",
    "mark": "MARK",
    "lead": "LEAD_IN",
    "order": "CUT_ORDER",
    "remnant": "REMNANT",
    "label": "PART_NAME",
}

Row = tuple[float, float, float]


def contour(rows: list[Row], closed: bool = True) -> dict[str, Any]:
    """A contour of plan.json from rows of x, y and bulge."""
    return {
        "points": [[x, y] for x, y, _ in rows],
        "bulges": [b for _, _, b in rows],
        "closed": closed,
    }


def box(x: float, y: float, width: float, height: float) -> list[Row]:
    """Rows of a rectangle."""
    return [(x, y, 0), (x + width, y, 0), (x + width, y + height, 0), (x, y + height, 0)]


def circle(x: float, y: float, radius: float) -> list[Row]:
    """Rows of a circle."""
    return [(x + radius, y, 1), (x - radius, y, 1)]


@dataclass
class Folder:
    """A plan folder under test.

    Two plates of 100 x 60 with a hole of radius 20, 5 mm apart; a disc of radius 10 lies
    in the hole of the first. Kerf 0.5, spacing 3 (so 4 mm between parts), margin 10.
    What follows from the path is filled in when the plan is written, unless a test has
    set it; `edits` are made to the drawing before it is saved.
    """

    path: Path
    record: dict[str, Any]
    drawn: list[tuple[str, list[Row], bool]]
    version: str = "R2010"
    edits: list[Callable[[Any], object]] = field(default_factory=list)

    def write(self) -> Path:
        """Write plan.json and the DXF."""
        _fill_in(self.record)
        document = ezdxf.new(self.version)
        if self.version != "R12":
            document.header["$INSUNITS"] = 4
        for name in LAYERS.values():
            document.layers.add(name)
        for role, rows, closed in self.drawn:
            _draw(document, LAYERS[role], rows, closed, self.version)
        _draw_order(document.modelspace(), self.record["layouts"][0]["path"])
        for edit in self.edits:
            edit(document)
        stream = io.StringIO()
        document.write(stream)
        text = stream.getvalue()
        if self.version == "R12":  # the library leaves this variable out
            unit = "  9\n$INSUNITS\n 70\n     4\n"
            text = text.replace(
                "  9\n$ACADVER\n  1\nAC1009\n", "  9\n$ACADVER\n  1\nAC1009\n" + unit
            )
        (self.path / "sheet-001.dxf").write_text(text)
        (self.path / "plan.json").write_text(json.dumps(self.record), encoding="utf-8")
        return self.path


def _draw(document: Any, layer: str, rows: list[Row], closed: bool, version: str) -> None:
    space, style = document.modelspace(), {"layer": layer}
    if closed and len(rows) == 2 and all(abs(b) == 1 for _, _, b in rows):
        (x0, y0, _), (x1, _, _) = rows
        space.add_circle(((x0 + x1) / 2, y0), (x0 - x1) / 2, style)
    elif version == "R12":
        space.add_polyline2d(rows, format="xyb", close=closed, dxfattribs=style)
    else:
        space.add_lwpolyline(rows, format="xyb", close=closed, dxfattribs=style)


def _draw_order(space: Any, path: list[dict[str, Any]]) -> None:
    """Draw the number of each cut and the rapids between them."""
    position = (0.0, 0.0)
    style = {"layer": LAYERS["order"]}
    for number, cut in enumerate(path, start=1):
        space.add_line(position, cut["pierce"], style)
        text = space.add_text(str(number), height=2, dxfattribs=style)
        text.set_placement(cut["pierce"], align=TextEntityAlignment.MIDDLE_CENTER)
        position = _end(cut)


def _fill_in(record: dict[str, Any]) -> None:
    """Set the numbers, contours and lengths that follow from a layout's path."""
    parts = {p["name"]: p["contours"] for p in record["parts"]}
    for layout in record["layouts"]:
        totals = {"cut_length": 0.0, "mark_length": 0.0, "rapid_length": 0.0}
        position = (0.0, 0.0)
        for number, cut in enumerate(layout["path"], start=1):
            place = layout["placements"][cut["placement"]]
            own = parts[place["part"]]
            group = [own["outer"]] if cut["role"] == "outer" else own[cut["role"] + "s"]
            drawn = group[0]
            points = [[x + place["x"], y + place["y"]] for x, y in drawn["points"]]
            cut.setdefault("order", number)
            cut.setdefault("contour", {**drawn, "points": points})
            cut.setdefault("length", _length(drawn))
            key = "mark_length" if cut["role"] == "mark" else "cut_length"
            totals[key] += _length(drawn) + (_length(cut["lead"]) if cut["lead"] else 0.0)
            totals["rapid_length"] += math.dist(position, cut["pierce"])
            position = _end(cut)
        for key, value in totals.items():
            layout.setdefault(key, value)


def _end(cut: dict[str, Any]) -> tuple[float, float]:
    """Where a cut ends; a mark runs to the last of its points."""
    return cut["contour"]["points"][-1] if cut["role"] == "mark" else cut["start"]


def _length(contour: dict[str, Any]) -> float:
    """Length of a circle, or of straight lines."""
    points = contour["points"]
    if any(contour["bulges"]):
        return math.pi * math.dist(*points[:2])
    chain = points + points[:1] if contour["closed"] else points
    return sum(math.dist(a, b) for a, b in pairwise(chain))


@pytest.fixture
def folder(tmp_path: Path) -> Folder:
    """The plan, not written yet."""
    plate = {"outer": contour(box(0, 0, 100, 60)), "inners": [contour(circle(50, 30, 20))]}
    disc = {"outer": contour(circle(10, 10, 10)), "inners": []}
    mark = contour([(5, 5, 0), (15, 5, 0)], closed=False)
    places = [(20.0, 20.0), (125.0, 20.0)]
    drawn = [("sheet", box(0, 0, 300, 200), True)]
    for x, y in places:
        drawn += [
            ("mark", [(x + 5, y + 5, 0), (x + 15, y + 5, 0)], False),
            ("inner", circle(x + 50, y + 30, 20), True),
            ("outer", box(x, y, 100, 60), True),
        ]
    drawn.append(("outer", circle(70, 50, 10), True))
    path = [
        _cut(0, "mark", (25, 25)),
        _cut(2, "outer", (80, 50), lead=[(84, 50, 0), (80, 50, 0)]),
        _cut(0, "inner", (90, 50)),
        _cut(0, "outer", (20, 20), lead=[(17, 20, 0), (20, 20, 0)]),
        _cut(1, "mark", (130, 25)),
        _cut(1, "inner", (195, 50), lead=[(190, 50, 0), (195, 50, 0)]),
        _cut(1, "outer", (125, 20)),
    ]
    drawn += [
        ("lead", rows, False)
        for rows in (
            [(84, 50, 0), (80, 50, 0)],
            [(17, 20, 0), (20, 20, 0)],
            [(190, 50, 0), (195, 50, 0)],
        )
    ]
    hole, round_area = 1256.6370614359173, 314.1592653589793
    plate_area = 6000 - hole
    used = 2 * plate_area + round_area
    record = {
        "format": "nestlib-plan",
        "version": 1,
        "title": "stand plates",
        "job": {"source": "", "metal": {"name": "s", "thickness": 2.0, "density": 7.85}},
        "layers": LAYERS,
        "spacing": {"kerf": 0.5, "spacing": 3.0, "margin": 10.0},
        "parts": [
            _part("plate", 2, plate_area, {**plate, "marks": [mark]}),
            _part("disc", 1, round_area, {**disc, "marks": []}),
        ],
        "sheets": [
            {
                "name": "big", "outline": contour(box(0, 0, 300, 200)), "holes": [],
                "keep_outs": [], "quantity": 1, "grain": 0.0, "cost": 20.0,
            }
        ],
        "layouts": [
            {
                "sheet": "big", "runs": 1, "dxf": "sheet-001.dxf", "utilisation": used / 60000,
                "placements": [
                    *(_placement("plate", x, y) for x, y in places),
                    _placement("disc", 60.0, 40.0),
                ],
                "path": path, "pierces": 5,
            }
        ],
        "unplaced": [],
        "remnants": [],
        "utilisation": used / 60000,
        "weight": used * 2 * 7.85e-6,
        "cost": 20.0,
        "bound": {"sheets": 1, "cost": 15.0, "method": "area"},
    }  # fmt: skip
    return Folder(tmp_path, record, drawn)


def _part(name: str, quantity: int, area: float, contours: dict[str, Any]) -> dict[str, Any]:
    return {
        "name": name, "quantity": quantity, "placed": quantity, "area": area,
        "rotations": [0.0, 90.0, 180.0, 270.0], "flip": False, "grain": None, "filler": False,
        "contours": contours, "source": None,
    }  # fmt: skip


def _placement(part: str, x: float, y: float) -> dict[str, Any]:
    return {"part": part, "rotation": 0.0, "flip": False, "x": x, "y": y}


def _cut(
    placement: int, role: str, start: tuple[float, float], lead: list[Row] | None = None
) -> dict[str, Any]:
    pierce = list(lead[0][:2]) if lead else list(start)
    return {
        "placement": placement, "role": role, "index": 0, "start": list(start), "pierce": pierce,
        "lead": None if lead is None else contour(lead, closed=False),
    }  # fmt: skip


@pytest.fixture
def moved() -> Callable[[list[Row], float, float], list[Row]]:
    """Moves rows."""
    return lambda rows, dx, dy: [(x + dx, y + dy, b) for x, y, b in rows]
