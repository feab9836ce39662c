"""Do the contours of a part lie on the lines of the drawing that it came from?

The drawing is read anew, by ezdxf's own decomposition and flattening. Only one way
round is asked: that a part shows nothing which its drawing does not. What a drawing
holds besides (other parts, frames, dimensions) is no fault of the plan.
"""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import shapely

from nestlib.model import Contour, Source, Violation
from nestlib.tolerances import CURVE
from nestlib.verifying.curves import Curve, Numbers
from nestlib.verifying.drawing_lines import FLATTENING, CannotReadError, drawing_lines
from nestlib.verifying.written import WrittenPart, WrittenPlan

#: A part may stray from its drawing by a replaced curve and our flattening, besides gaps.
_ALLOWED = CURVE + 4 * FLATTENING


@dataclass(frozen=True)
class Compared:
    """What the comparison of a plan's parts with their drawings found.

    Parameters
    ----------
    violations : tuple of Violation
        Parts that are not as drawn.
    notes : tuple of str
        What could not be compared, and why.
    largest : float
        Greatest distance of a part's contour from a line of its drawing, in mm.
    """

    violations: tuple[Violation, ...]
    notes: tuple[str, ...]
    largest: float


def check_drawings(plan: WrittenPlan) -> Compared:
    """Compare every part that was drawn with its drawing.

    Parameters
    ----------
    plan : WrittenPlan
        With the sources of its parts.

    Returns
    -------
    Compared
    """
    violations, notes, largest = [], [], 0.0
    known: dict[tuple[str, str], list[shapely.STRtree] | str] = {}
    for name, written in plan.parts.items():
        source = written.part.source
        if source is None:
            continue
        key = source.file, source.units
        if key not in known:
            known[key] = _lines(plan, source, written.sha256)
            if isinstance(reason := known[key], str):
                notes.append(f"{source.file} was not compared: {reason}")
        ways = known[key]
        if isinstance(ways, str):
            continue
        strays, place = min(_strays(written, source, tree) for tree in ways)
        largest = max(largest, strays)
        if strays > source.join + _ALLOWED:
            text = f"'{name}' strays {strays:.4f} mm from the lines of {source.file}"
            violations.append(Violation("not-as-drawn", "", text, place))
    return Compared(tuple(violations), tuple(notes), largest)


def _lines(plan: WrittenPlan, source: Source, sha256: str) -> list[shapely.STRtree] | str:
    """All lines of a drawing in mm, or why they cannot be had."""
    try:
        path = _find(plan, source.file)
        if sha256 and hashlib.sha256(path.read_bytes()).hexdigest() != sha256:
            return "it was changed after the plan was made"
        return drawing_lines(path, source.units)
    except CannotReadError as reason:
        return str(reason)
    except OSError as error:
        return f"it cannot be read ({error.strerror})"


def _find(plan: WrittenPlan, file: str) -> Path:
    """Where a drawing lies, as seen from the plan's folder."""
    if not (plan.folder / file).is_file():
        raise CannotReadError("it is not to be found")
    return plan.folder / file


def _strays(
    written: WrittenPart, source: Source, tree: shapely.STRtree
) -> tuple[float, tuple[float, float]]:
    """How far a part's contours stray from the lines at most, and where in the drawing."""
    part = written.part
    points = np.concatenate([_points(c) for c in (part.outer, *part.inners, *part.marks)])
    points = points + np.array(source.origin)
    (index, _), apart = tree.query_nearest(
        shapely.points(points), return_distance=True, all_matches=False
    )
    worst = int(np.argmax(apart))
    x, y = points[index[worst]]
    return float(apart[worst]), (float(x), float(y))


def _points(contour: Contour) -> Numbers:
    curve = Curve.of(contour)
    found = np.append(curve.flat[0], curve.samples())
    return np.stack([found.real, found.imag], axis=1)
