"""Outlines as text for the database, and how much of them can be used."""

from __future__ import annotations

import json
from collections.abc import Iterable

from nestlib.geometry import moved, region
from nestlib.model import Contour

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
