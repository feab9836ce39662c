"""Is every contour drawn once, where the plan puts it, and nothing else?"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import shapely

from nestlib.model import Contour, Part, Violation
from nestlib.tolerances import SAME_POINT
from nestlib.verifying.curves import Curve, deviation, same_vertices
from nestlib.verifying.drawn import DrawnLayout
from nestlib.verifying.regions import meeting_point
from nestlib.verifying.written import WrittenLayout, WrittenPlan

#: Which contours of a part are drawn on the layer of a role.
Key = tuple[int, int]


@dataclass(frozen=True)
class Matched:
    """What the comparison of a layout's file with the plan found.

    Parameters
    ----------
    violations : tuple of Violation
        Contours that are missing, too many or not where they should be.
    largest : float
        Greatest deviation of those that were found, in mm.
    owner : dict of int to int
        Index of a drawn outer contour, those of pieces that share cuts last -> index of its
        placement.
    """

    violations: tuple[Violation, ...]
    largest: float
    owner: dict[int, int]


def match_contours(plan: WrittenPlan, layout: WrittenLayout, drawn: DrawnLayout) -> Matched:
    """Compare each drawn contour with the part's, placed.

    Parameters
    ----------
    plan : WrittenPlan
        Holds the parts.
    layout : WrittenLayout
        Where they should lie.
    drawn : DrawnLayout
        Where they do lie.

    Returns
    -------
    Matched
    """
    violations: list[Violation] = []
    largest, owner = 0.0, {}
    for role in ("outer", "bundled", "inner", "mark"):
        wanted = dict(_wanted(plan, layout, role))
        pairs, missing, extra = pair(list(wanted.values()), drawn.curves[role])
        keys = list(wanted)
        # Pieces that share cuts follow all others, as in `DrawnLayout.outers`.
        first = len(drawn.curves["outer"]) if role == "bundled" else 0
        for i, (j, strays) in pairs.items():
            largest = max(largest, strays)
            if role in ("outer", "bundled"):
                owner[first + j] = keys[i][0]
        for i in missing:
            violations.append(_missing(layout, role, keys[i], wanted[keys[i]]))
        for j in extra:
            violations += _extra(layout, role, drawn.curves[role][j])
    return Matched((*violations, *_sheet(layout, drawn)), largest, owner)


def pair(
    wanted: Sequence[Curve], found: Sequence[Curve]
) -> tuple[dict[int, tuple[int, float]], list[int], list[int]]:
    """Pair each wanted curve with one that was found in its place.

    Parameters
    ----------
    wanted, found : sequence of Curve
        In any order.

    Returns
    -------
    pairs : dict of int to (int, float)
        Index of a wanted curve -> index of the one found, and its deviation in mm.
    missing, extra : list of int
        Indices of those without a partner.
    """
    pairs: dict[int, tuple[int, float]] = {}
    used: set[int] = set()
    tree = shapely.STRtree([shapely.Point(*_middle(c)) for c in found])
    for i, curve in enumerate(wanted):
        near = tree.query(shapely.Point(*_middle(curve)), predicate="dwithin", distance=0.01)
        for j in sorted(int(k) for k in near if int(k) not in used):
            strays = difference(curve, found[j])
            if strays <= SAME_POINT:
                pairs[i] = j, strays
                used.add(j)
                break
    missing = [i for i in range(len(wanted)) if i not in pairs]
    return pairs, missing, [j for j in range(len(found)) if j not in used]


def difference(one: Curve, other: Curve) -> float:
    """Return by how much two curves differ in mm, wherever they begin."""
    simple = same_vertices(one, other)
    if simple is not None and simple <= SAME_POINT:
        return simple
    if abs(one.length - other.length) > SAME_POINT * (len(one.start) + len(other.start)):
        return np.inf
    return deviation(one, other)


def contours_of(part: Part, role: str) -> tuple[Contour, ...]:
    """Return a part's contours of one role."""
    return {"outer": (part.outer,), "inner": part.inners, "mark": part.marks}[role]


def _wanted(plan: WrittenPlan, layout: WrittenLayout, role: str) -> Iterator[tuple[Key, Curve]]:
    of_part = "outer" if role == "bundled" else role
    curves = {
        name: [Curve.of(c) for c in contours_of(written.part, of_part)]
        for name, written in plan.parts.items()
    }
    for number, placement in enumerate(layout.placements):
        if of_part == "outer" and (number in layout.sharing) != (role == "bundled"):
            continue
        for index, curve in enumerate(curves[placement.part]):
            yield (number, index), curve.placed(placement)


def _sheet(layout: WrittenLayout, drawn: DrawnLayout) -> Iterator[Violation]:
    """The sheet's edge, holes and keep-out zones have to be drawn as the plan has them."""
    sheet = layout.sheet
    for role, contours in (
        ("sheet", (sheet.outline, *sheet.holes)),
        ("keep_out", sheet.keep_outs),
    ):
        _, missing, extra = pair([Curve.of(c) for c in contours], drawn.curves[role])
        if missing or extra:
            text = (
                f"the sheet '{sheet.name}' is not drawn as the plan describes it: "
                f"{len(missing)} contours are missing and {len(extra)} are not its own"
            )
            yield Violation("sheet-differs", layout.dxf, text)


def _missing(layout: WrittenLayout, role: str, key: Key, curve: Curve) -> Violation:
    number, index = key
    outer = role in ("outer", "bundled")
    which = "outer contour" if outer else f"{role} contour {index}"
    text = (
        f"the {which} of '{layout.placements[number].part}' (placement {number}) is not drawn "
        "where the plan puts it"
    )
    return Violation("contour-missing", layout.dxf, text, _middle(curve))


def _extra(layout: WrittenLayout, role: str, curve: Curve) -> Iterator[Violation]:
    text = f"a contour is drawn as {role} that belongs to no placement of the plan"
    yield Violation("contour-not-in-plan", layout.dxf, text, _middle(curve))
    # Those of the plan are checked as its parts are.
    point = meeting_point([curve]) if curve.closed else None
    if point is not None:
        text = f"a contour drawn as {role} crosses or touches itself"
        yield Violation("not-a-region", layout.dxf, text, (point.real, point.imag))


def _middle(curve: Curve) -> tuple[float, float]:
    """Middle of the bounding box, to a few micrometres."""
    points = np.append(curve.flat[0], curve.end[-1])
    x, y = points.real, points.imag
    return float(x.min() + x.max()) / 2, float(y.min() + y.max()) / 2
