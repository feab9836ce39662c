"""Does the head wait where cuts follow each other too near, and nowhere else?"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

from nestlib.model import Violation
from nestlib.tolerances import VERIFY
from nestlib.verifying.path_figures import end_of
from nestlib.verifying.written import NO_PIECE, WrittenLayout, WrittenPlan


def check_heat(plan: WrittenPlan, layout: WrittenLayout) -> Iterator[Violation]:
    """Check the waits of a layout's path.

    Parameters
    ----------
    plan : WrittenPlan
        Says how far apart cuts are to begin, and how long the head waits where they do not.
    layout : WrittenLayout
        Its path.

    Yields
    ------
    Violation
    """
    through = [c for c in layout.path if c.role != "mark" and c.placement != NO_PIECE]
    ways = {
        b.order: abs(end_of(plan, layout, a) - complex(*b.pierce)) for a, b in pairwise(through)
    }
    for cut in layout.path:
        way = ways.get(cut.order, float("inf"))
        if abs(way - plan.heat_apart) <= VERIFY:
            continue
        wanted = plan.heat_wait if way < plan.heat_apart else 0.0
        if abs(cut.wait - wanted) > VERIFY:
            text = (
                f"the head waits {cut.wait:g} s before cut {cut.order}, {wanted:g} s are demanded"
            )
            yield Violation("wait-differs", layout.dxf, text, cut.pierce)
