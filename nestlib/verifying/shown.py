"""Does a layout's file show the order of the cuts as the plan has it?"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import shapely

from nestlib.model import Violation
from nestlib.tolerances import SAME_POINT
from nestlib.verifying.curves import Complexes
from nestlib.verifying.drawn import DrawnLayout
from nestlib.verifying.path_figures import rapids
from nestlib.verifying.written import WrittenLayout, WrittenPlan


def check_shown_order(
    plan: WrittenPlan, layout: WrittenLayout, drawn: DrawnLayout
) -> Iterator[Violation]:
    """Check the numbers of the cuts and the rapids between them.

    Parameters
    ----------
    plan : WrittenPlan
        Holds the parts.
    layout : WrittenLayout
        Its path.
    drawn : DrawnLayout
        Its file.

    Yields
    ------
    Violation
    """
    yield from _numbers(layout, drawn)
    missing, extra = _unpaired(_real(rapids(plan, layout)), _real(np.array(drawn.rapids)))
    for way in missing:
        text = "a rapid of the path is not drawn"
        yield Violation("rapid-differs", layout.dxf, text, _middle(way))
    for way in extra:
        text = "a line is drawn on the layer of the cutting order that is no rapid of the path"
        yield Violation("rapid-differs", layout.dxf, text, _middle(way))


def _numbers(layout: WrittenLayout, drawn: DrawnLayout) -> Iterator[Violation]:
    """Each cut has its number at its pierce point, once, and there are no others."""
    found: dict[str, list[complex]] = {}
    for text, place in drawn.numbers:
        found.setdefault(text, []).append(place)
    for number, cut in enumerate(layout.path, start=1):
        places = found.pop(str(number), [])
        if len(places) != 1:
            text = f"the number {number} of a cut is drawn {len(places)} times"
            yield Violation("order-number-differs", layout.dxf, text, cut.pierce)
        elif abs(places[0] - complex(*cut.pierce)) > SAME_POINT:
            text = f"the number {number} is not drawn where its cut begins"
            yield Violation("order-number-differs", layout.dxf, text, cut.pierce)
    for other, places in found.items():
        text = f"'{other[:40]}' is drawn as the number of a cut, and is none"
        x, y = places[0].real, places[0].imag
        yield Violation("order-number-differs", layout.dxf, text, (x, y))


def _real(ways: Complexes) -> Complexes:
    """Ways of some length, shape (n, 2): others need not be drawn."""
    ways = ways.reshape(-1, 2)
    return ways[np.abs(ways[:, 1] - ways[:, 0]) > SAME_POINT]


def _unpaired(wanted: Complexes, found: Complexes) -> tuple[Complexes, Complexes]:
    """Straight ways without a partner that runs the same way, or back."""
    middles = [shapely.points(w.real.mean(axis=1), w.imag.mean(axis=1)) for w in (wanted, found)]
    i, j = shapely.STRtree(middles[1]).query(middles[0], predicate="dwithin", distance=SAME_POINT)
    there = np.abs(wanted[i] - found[j]).max(axis=1)
    back = np.abs(wanted[i] - found[j][:, ::-1]).max(axis=1)
    left, over = set(range(len(wanted))), set(range(len(found)))
    for k in np.flatnonzero(np.minimum(there, back) <= SAME_POINT):
        if int(i[k]) in left and int(j[k]) in over:
            left.remove(int(i[k]))
            over.remove(int(j[k]))
    return wanted[sorted(left)], found[sorted(over)]


def _middle(way: Complexes) -> tuple[float, float]:
    return float(way.real.mean()), float(way.imag.mean())
