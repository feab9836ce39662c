"""Open benchmark instances, read into shapes and containers.

An instance is a JSON file of one of these kinds, lengths in a unit of its own:

strip
    ``width`` (y) and ``parts``; open length (x), to be as short as possible.
bins
    ``bin`` [w, h] and ``parts``; as few equal bins as possible.
sheets
    ``sheets`` [{width, height, cost}] in unlimited number and ``rectangles`` [[w, h]]
    that keep their orientation; at least cost.

A part has ``id``, ``quantity``, ``rotations`` (or null for any), ``outline``, ``holes``.
"""

from __future__ import annotations

import json
import math
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from shapely import MultiPolygon, Polygon, box

from nestlib.errors import InputError, Problem
from nestlib.packing import Container, Packing, Shape

#: A strip is this many times as long as its parts would need if they left no gap.
_OPEN_LENGTH = 12

KINDS = ("strip", "bins", "sheets")


@dataclass(frozen=True)
class Instance:
    """One benchmark instance.

    Parameters
    ----------
    name, kind : str
        As in the file.
    ids : tuple
        Identifier of each shape in a solution.
    shapes : tuple of Shape
        What to place.
    containers : tuple of Container
        Where to place it.
    data : dict
        The whole file.
    """

    name: str
    kind: str
    ids: tuple[str | int, ...]
    shapes: tuple[Shape, ...]
    containers: tuple[Container, ...]
    data: dict[str, Any]


def read_instance(path: str | Path) -> Instance:
    """Read an instance.

    Parameters
    ----------
    path : str or path
        JSON file.

    Returns
    -------
    Instance

    Raises
    ------
    InputError
        If the file cannot be read or is of a kind that cannot be solved.
    """
    try:
        data = json.loads(Path(path).read_text(encoding="utf-8"))
        kind, name = data["kind"], data["name"]
    except (OSError, ValueError, KeyError, TypeError) as error:
        problem = Problem(str(path), "", f"not an instance ({error})", "Give an instance file")
        raise InputError(problem) from error
    if kind not in KINDS:
        known = ", ".join(KINDS)
        raise InputError(
            Problem(str(path), "kind", f"{kind!r} is not supported yet", f"Known kinds: {known}")
        )
    ids, shapes = _rectangles(data) if kind == "sheets" else _parts(data)
    return Instance(name, kind, ids, shapes, _containers(data, shapes), data)


def _parts(data: dict[str, Any]) -> tuple[tuple[str | int, ...], tuple[Shape, ...]]:
    shapes = []
    for part in data["parts"]:
        polygon = Polygon(part["outline"], part["holes"])
        turns = part["rotations"]
        allowed = None if turns is None else tuple(float(t) for t in turns)
        shapes.append(Shape(part["id"], polygon, polygon.area, part["quantity"], allowed))
    return tuple(p["id"] for p in data["parts"]), tuple(shapes)


def _rectangles(data: dict[str, Any]) -> tuple[tuple[str | int, ...], tuple[Shape, ...]]:
    shapes = tuple(
        Shape(str(i), box(0, 0, w, h), w * h, 1, (0.0,))
        for i, (w, h) in enumerate(data["rectangles"])
    )
    return tuple(range(len(shapes))), shapes


def _containers(data: dict[str, Any], shapes: tuple[Shape, ...]) -> tuple[Container, ...]:
    if data["kind"] == "strip":
        width = data["width"]
        longest = max(max(s.polygon.bounds[2:]) - min(s.polygon.bounds[:2]) for s in shapes)
        area = sum(s.area * s.quantity for s in shapes)
        return (_rectangle("strip", _OPEN_LENGTH * area / width + longest, width, 1, None),)
    if data["kind"] == "bins":
        width, height = data["bin"]
        return (_rectangle("bin", width, height, None, None),)
    return tuple(
        _rectangle(f"sheet {i}", s["width"], s["height"], None, s["cost"])
        for i, s in enumerate(data["sheets"])
    )


def _rectangle(
    name: str, width: float, height: float, quantity: int | None, cost: float | None
) -> Container:
    room = MultiPolygon([box(0, 0, width, height)])
    return Container(name, room, width * height, quantity, cost=cost)


def solution(instance: Instance, packing: Packing) -> dict[str, Any]:
    """Return a packing in the form of a solution file.

    Parameters
    ----------
    instance : Instance
        What was packed.
    packing : Packing
        How.

    Returns
    -------
    dict
        ``placements`` [{part, rotation, x, y, container}], and ``containers`` [index of
        the sheet] for instances of kind sheets.
    """
    # Edges that coincide but for the last digit make GEOS 3.14 return wrong intersections;
    # a billionth of the size is far below what counts as an overlap.
    size = max(c.room.bounds[3] for c in instance.containers)
    digits = 9 - math.floor(math.log10(size))
    filled = [sheet for sheet in packing.sheets for _ in range(sheet.runs)]
    placements = [
        {
            "part": instance.ids[p.shape],
            "rotation": p.rotation,
            "x": round(p.x, digits),
            "y": round(p.y, digits),
            "container": k,
        }
        for k, sheet in enumerate(filled)
        for p in sheet.placements
    ]
    result: dict[str, Any] = {"placements": placements}
    if instance.kind == "sheets":
        result["containers"] = [sheet.container for sheet in filled]
    return result
