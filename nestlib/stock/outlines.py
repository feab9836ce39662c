"""Outlines as text for the database, and how much of them can be used."""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator
from math import isfinite

from nestlib.errors import Problem, StockError
from nestlib.geometry import moved, region
from nestlib.model import Contour
from nestlib.stock.item import DOCUMENTS, Item

#: Width of the edge that is left uncut, in mm: the usual margin of a job.
EDGE = 10.0


def usable_area(outline: Contour, holes: Iterable[Contour] = ()) -> float:
    """Return the area in mm² that is no nearer than `EDGE` to an edge or a hole.

    Examples
    --------
    >>> usable_area(Contour.rectangle(120, 220))
    20000.0
    """
    return round(float(region(outline, holes, side="inside").buffer(-EDGE).area), 6)


def demand_sound(item: Item) -> None:
    """Refuse an item that cannot be: its figures, its document or its outline.

    Raises
    ------
    StockError
        With everything that is wrong.
    """
    problems = [Problem("", "new item", *fault) for fault in _faults(item)]
    if problems:
        raise StockError(problems)


def _faults(item: Item) -> Iterator[tuple[str, str]]:
    """What is wrong and what to do about it."""
    if not (isfinite(item.thickness) and item.thickness > 0):
        yield f"the thickness is {item.thickness:g}", "Give one above 0, in mm"
    if item.price is not None and not (isfinite(item.price) and item.price >= 0):
        yield f"the price is {item.price:g}", "Give 0 or more, or None"
    if item.document not in ("", *DOCUMENTS):
        problem = f'"{item.document}" is no type of inspection document (EN 10204)'
        yield problem, f"Choose from: {', '.join(DOCUMENTS)}"
    whole = region(item.outline, item.holes)
    if not all(c.closed for c in (item.outline, *item.holes)) or not whole.is_valid:
        yield "the outline and its holes are no sheet", "Close them, and let none cross another"
    elif not whole.area > 0:
        yield "the outline encloses no area", "Give the edge of the sheet"


def to_corner(outline: Contour, holes: Iterable[Contour] = ()) -> tuple[Contour, ...]:
    """Return an outline and its holes, moved so that the bounding box begins at (0, 0)."""
    x, y, _, _ = outline.bounds
    return tuple(moved(contour, -x, -y) for contour in (outline, *holes))


def as_text(contours: Iterable[Contour]) -> str:
    """Return contours as JSON, every digit kept."""
    return json.dumps([[c.points.tolist(), c.bulges.tolist()] for c in contours])


def from_text(text: str) -> tuple[Contour, ...]:
    """Return the contours that `as_text` was given.

    Examples
    --------
    >>> from_text(as_text([Contour.circle((0, 0), 5)]))
    (Contour(circle, 2 vertices, 31.416 mm),)
    """
    return tuple(Contour(points, bulges) for points, bulges in json.loads(text))
