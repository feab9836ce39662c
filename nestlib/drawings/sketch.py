"""What a file holds before its lines are joined to contours.

Terms
-----
stroke
    One drawn thing as a chain of lines and arcs in mm: a line, a circle, a polyline.
sketch
    All strokes of a file, and what was noticed while reading them.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, field

import numpy as np

from nestlib.drawings.codes import finding
from nestlib.geometry.arcs import arc_point
from nestlib.model import Contour, Finding, LeftOut

Place = tuple[float, float]

#: Coordinates beyond this, in mm, have lost the digits that matter.
FARTHEST = 1e12

#: A finding about many like things names no more places than this.
_PLACES = 20

#: And no more handles than this.
_HANDLES = 5


@dataclass(frozen=True)
class Style:
    """How a thing is drawn, which is what rules look at.

    Parameters
    ----------
    kind : str
        DXF or SVG name of the entity, for example ``"LINE"``.
    layer, linetype, handle : str
        As the file has them; inherited ones already resolved.
    """

    kind: str = ""
    layer: str = "0"
    linetype: str = "CONTINUOUS"
    handle: str = ""


@dataclass(frozen=True, eq=False)
class Stroke:
    """One drawn thing.

    Parameters
    ----------
    contour : Contour
        In mm, in the coordinates of the drawing.
    style : Style
        How it is drawn.
    order : int
        Position in the file.
    mark : bool
        Whether it is etched instead of cut.
    """

    contour: Contour
    style: Style = field(default_factory=Style)
    order: int = 0
    mark: bool = False

    @property
    def ends(self) -> tuple[Place, Place]:
        """First and last point."""
        (x0, y0), (x1, y1) = self.contour.points[[0, -1]]
        return (float(x0), float(y0)), (float(x1), float(y1))


class Notes:
    """Collects what is noticed while a drawing is read.

    Findings about many like things become one finding for each layer.
    """

    def __init__(self) -> None:
        self.findings: list[Finding] = []
        self._left: Counter[tuple[str, str, str]] = Counter()
        self._many: dict[tuple[str, str, str], list[tuple[Place | None, str]]] = {}

    def add(
        self,
        code: str,
        message: str,
        places: Iterable[Place] = (),
        style: Style | None = None,
        remedy: str | None = None,
    ) -> None:
        """Note one finding."""
        style = style or Style("", "", "", "")
        self.findings.append(
            finding(
                code, message, places=places, layer=style.layer, handle=style.handle, remedy=remedy
            )
        )

    def repeat(self, code: str, message: str, place: Place | None, style: Style) -> None:
        """Note one of possibly many like findings; `message` is told once, with a count."""
        self._many.setdefault((code, message, style.layer), []).append((place, style.handle))

    def leave_out(self, kind: str, layer: str, reason: str, count: int = 1) -> None:
        """Note that things were read but are never cut."""
        if count:
            self._left[kind, layer, reason] += count

    @property
    def left_out(self) -> tuple[LeftOut, ...]:
        """What was left out, counted by kind, layer and reason."""
        return tuple(LeftOut(k, la, n, why) for (k, la, why), n in sorted(self._left.items()))

    def all_findings(self) -> list[Finding]:
        """Return the findings, those about many like things joined."""
        joined = []
        for (code, message, layer), found in self._many.items():
            times = _times([handle for _, handle in found])
            places = [p for p, _ in found if p][:_PLACES]
            handle = found[0][1] if len(found) == 1 else ""
            joined.append(finding(code, message + times, places=places, layer=layer, handle=handle))
        return self.findings + joined


def _times(handles: list[str]) -> str:
    """How often something was found, with the first few handles."""
    if len(handles) == 1:
        return ""
    named = sorted({h for h in handles if h})
    more = ", ..." if len(named) > _HANDLES else ""
    told = f"; handles {', '.join(named[:_HANDLES])}{more}" if len(named) > 1 else ""
    return f" ({len(handles)} times{told})"


@dataclass(frozen=True, eq=False)
class Sketch:
    """All strokes of a file.

    Parameters
    ----------
    strokes : list of Stroke
        In the order of the file.
    units, units_from, version : str
        As in `nestlib.model.Drawing`.
    """

    strokes: list[Stroke]
    units: str
    units_from: str
    version: str


def middle(contour: Contour) -> Place:
    """Return the point halfway along the middle segment of a contour."""
    starts, ends, bulges = contour.segments
    i = len(bulges) // 2
    return arc_point(starts[i], ends[i], float(bulges[i]), 0.5)


def chain(pieces: Iterable[Contour]) -> Contour:
    """Return open pieces, each starting where the last one ended, as one open contour."""
    pieces = list(pieces)
    points = [p.points[:-1] for p in pieces] + [pieces[-1].points[-1:]]
    bulges = [p.bulges[:-1] for p in pieces] + [np.zeros(1)]
    return Contour(np.concatenate(points), np.concatenate(bulges), closed=False)
