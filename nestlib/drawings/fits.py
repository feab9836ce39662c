"""Whether a part fits on any sheet at all."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence

import numpy as np
from scipy.optimize import minimize_scalar
from shapely import MultiPoint

from nestlib.drawings.codes import finding
from nestlib.geometry.flatten import flatten
from nestlib.geometry.transform import mirrored, turned
from nestlib.model import Contour, Finding, Part, Sheet
from nestlib.model.contour import FloatArray
from nestlib.tolerances import GRID

#: Where any angle is allowed, this many are tried in half a turn before the best is refined.
_ANGLES = 720


def check_fits(part: Part, sheets: Sequence[Sheet], kerf: float = 0.0) -> Iterator[Finding]:
    """Find out whether a part is larger than every sheet in all turns that it may take.

    Bounding boxes are compared, so a part that is reported certainly has no place; a
    part that is not may still find none on a sheet of another shape, or for its margin.

    Parameters
    ----------
    part : Part
        With its allowed turns.
    sheets : sequence of Sheet
        Nothing is reported if there are none.
    kerf : float
        Contours keep at least this distance in mm from the edge of a sheet.

    Yields
    ------
    Finding
        At most one.
    """
    if not sheets or any(fits(part, sheet, kerf) for sheet in sheets):
        return
    largest = max(sheets, key=lambda sheet: sheet.area)
    yield finding(
        "larger-than-sheets",
        f"{_words(part.size)} fits on none of the sheets in any allowed turn; "
        f"the largest, {largest.name}, is {_words(largest.size)}",
        places=[_middle(part.outer)],
        part=part.name,
    )


def fits(part: Part, sheet: Sheet, kerf: float = 0.0) -> bool:
    """Return whether the bounding box of a part, turned as allowed, fits that of a sheet.

    Parameters
    ----------
    part : Part
        With its allowed turns.
    sheet : Sheet
        Of any outline.
    kerf : float
        Distance in mm that contours keep from the edge.

    Returns
    -------
    bool

    Examples
    --------
    >>> long = Part("rail", Contour.rectangle(1400, 10), rotations=(0.0, 90.0))
    >>> square = Sheet("square", Contour.rectangle(1000, 1000))
    >>> fits(long, square), fits(Part("rail", long.outer, rotations=None), square)
    (False, True)
    """
    room = (sheet.size[0] - 2 * kerf + GRID, sheet.size[1] - 2 * kerf + GRID)
    if min(room) <= 0:
        return False
    faces = (part.outer, mirrored(part.outer)) if part.flip else (part.outer,)
    turns = _turns(part, sheet)
    if turns is None:
        return _least_excess(part.outer, room) <= 1
    return any(_excess(_size(turned(f, t)), room) <= 1 for f in faces for t in turns)


def _turns(part: Part, sheet: Sheet) -> Iterable[float] | None:
    if part.grain is None:
        return part.rotations
    # Half a turn more has the same bounding box.
    return (sheet.grain - part.grain,)


def _least_excess(outer: Contour, room: tuple[float, float]) -> float:
    """Smallest excess over all angles."""
    hull = np.asarray(MultiPoint(flatten(outer)).convex_hull.exterior.coords)
    step = math.pi / _ANGLES
    tried = [_excess(_turned_size(hull, i * step), room) for i in range(_ANGLES)]
    best = int(np.argmin(tried)) * step
    refined = minimize_scalar(
        lambda angle: _excess(_turned_size(hull, angle), room),
        bounds=(best - step, best + step),
        method="bounded",
        options={"xatol": 1e-9},
    )
    return min(*tried, float(refined.fun))


def _excess(size: tuple[float, float], room: tuple[float, float]) -> float:
    """How many times larger than the room a box is; at most 1 if it fits."""
    return max(size[0] / room[0], size[1] / room[1])


def _turned_size(points: FloatArray, angle: float) -> tuple[float, float]:
    cos, sin = math.cos(angle), math.sin(angle)
    return float(np.ptp(points @ (cos, -sin))), float(np.ptp(points @ (sin, cos)))


def _size(contour: Contour) -> tuple[float, float]:
    x0, y0, x1, y1 = contour.bounds
    return x1 - x0, y1 - y0


def _middle(contour: Contour) -> tuple[float, float]:
    x0, y0, x1, y1 = contour.bounds
    return (x0 + x1) / 2, (y0 + y1) / 2


def _words(size: tuple[float, float]) -> str:
    return f"{size[0]:.1f} x {size[1]:.1f} mm"
