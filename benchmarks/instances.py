"""Open benchmark instances, read into items.

An instance is a JSON file of one of these kinds, lengths in a unit of its own:

strip
    ``width`` (y) and ``parts``; open length (x), to be as short as possible.
bins
    ``bin`` [w, h] and ``parts``; as few equal bins as possible.
sheets
    ``sheets`` [{width, height, cost}] in unlimited number and ``rectangles`` [[w, h]]
    that keep their orientation; at least cost.
tour
    ``points`` [[x, y]] and, if there are any, ``clusters`` [[index of a point]]; a closed tour
    through all points, or one point of every cluster, as short as possible.

A part has ``id``, ``quantity``, ``rotations`` (or null for any), ``outline``, ``holes``.
"""

from __future__ import annotations

import json
import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from shapely import Polygon, box

from nestlib.engine import Item
from nestlib.errors import InputError, Problem

KINDS = ("strip", "bins", "sheets", "tour")


@dataclass(frozen=True)
class Instance:
    """One benchmark instance.

    Parameters
    ----------
    name, kind : str
        As in the file.
    ids : tuple
        Identifier of each item in a solution.
    items : tuple of Item
        What to place.
    data : dict
        The whole file.
    """

    name: str
    kind: str
    ids: tuple[str | int, ...]
    items: tuple[Item, ...]
    data: dict[str, Any]

    @property
    def pieces(self) -> int:
        """Return how many pieces there are."""
        return sum(i.quantity for i in self.items)

    @property
    def area(self) -> float:
        """Return the area of all pieces."""
        return float(sum(i.polygon.area * i.quantity for i in self.items))

    @property
    def rooms(self) -> tuple[tuple[float, float], ...]:
        """Return width (x) and height (y) of each container; that of a strip is infinite."""
        if self.kind == "strip":
            return ((math.inf, self.data["width"]),)
        if self.kind == "bins":
            return (tuple(self.data["bin"]),)
        return tuple((s["width"], s["height"]) for s in self.data["sheets"])

    @property
    def published(self) -> tuple[float, str] | None:
        """Return the best published density in per cent, and the key of its source."""
        known: dict[str, float] = self.data.get("published", {})
        return next(((value, key) for key, value in known.items()), None)


@dataclass(frozen=True)
class Placed:
    """Where a piece lies: turned about (0, 0), then moved.

    Parameters
    ----------
    item : int
        Index of the item.
    rotation : float
        Degrees counter-clockwise.
    x, y : float
        How far it is moved.
    sheet : int
        Which of the containers that were filled.
    """

    item: int
    rotation: float
    x: float
    y: float
    sheet: int = 0


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
    if kind == "tour":
        return Instance(name, kind, (), (), data)
    ids, items = _rectangles(data) if kind == "sheets" else _parts(data)
    return Instance(name, kind, ids, items, data)


def instance_files(folder: Path, kinds: Iterable[str], names: Sequence[str] = ()) -> list[Path]:
    """Return the files of a folder that hold instances of some kinds, by name.

    Parameters
    ----------
    folder : path
        Where to look.
    kinds : iterable of str
        Which kinds.
    names : sequence of str
        Only instances of these names; all if there are none.
    """
    wanted = set(kinds)
    return [
        path
        for path in sorted(folder.glob("*.json"))
        if (not names or path.stem in names)
        and json.loads(path.read_text(encoding="utf-8")).get("kind") in wanted
    ]


def at_any_angle(instance: Instance) -> Instance:
    """Return the same instance with every part free to turn."""
    items = tuple(replace(i, rotations=None) for i in instance.items)
    return replace(instance, items=items)


def copies(instance: Instance, times: int) -> Instance:
    """Return an instance with `times` as many of every part."""
    items = tuple(replace(i, quantity=times * i.quantity) for i in instance.items)
    return replace(instance, items=items)


def _parts(data: dict[str, Any]) -> tuple[tuple[str | int, ...], tuple[Item, ...]]:
    items = []
    for part in data["parts"]:
        polygon = Polygon(part["outline"], part["holes"])
        turns = part["rotations"]
        allowed = None if turns is None else tuple(float(t) for t in turns)
        items.append(Item(str(part["id"]), polygon, part["quantity"], allowed))
    return tuple(p["id"] for p in data["parts"]), tuple(items)


def _rectangles(data: dict[str, Any]) -> tuple[tuple[str | int, ...], tuple[Item, ...]]:
    items = tuple(Item(str(i), box(0, 0, w, h)) for i, (w, h) in enumerate(data["rectangles"]))
    return tuple(range(len(items))), items


def rounded(
    instance: Instance, item: int, rotation: float, x: float, y: float, sheet: int = 0
) -> Placed:
    """Return a placement as it is written.

    Edges that coincide but for the last digit make GEOS 3.14 return wrong intersections; a
    billionth of the size is far below what counts as an overlap.
    """
    digits = 9 - math.floor(math.log10(max(height for _, height in instance.rooms)))
    return Placed(item, rotation, round(x, digits), round(y, digits), sheet)


def solution(
    instance: Instance, placed: Sequence[Placed], containers: Sequence[int] = ()
) -> dict[str, Any]:
    """Return placements in the form of a solution file.

    Parameters
    ----------
    instance : Instance
        What was packed.
    placed : sequence of Placed
        How.
    containers : sequence of int
        Which container each filled one is.

    Returns
    -------
    dict
        ``placements`` [{part, rotation, x, y, container}], and ``containers`` [index of
        the sheet] for instances of kind sheets.
    """
    placements = [
        {
            "part": instance.ids[p.item],
            "rotation": p.rotation,
            "x": p.x,
            "y": p.y,
            "container": p.sheet,
        }
        for p in placed
    ]
    result: dict[str, Any] = {"placements": placements}
    if instance.kind == "sheets":
        result["containers"] = list(containers)
    return result
