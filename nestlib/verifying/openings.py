"""Does the head stay clear of what is open or loose, wherever the plan leaves it down?"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import shapely

from nestlib.model import Violation
from nestlib.verifying.curves import Curve
from nestlib.verifying.path_figures import legs
from nestlib.verifying.shapes import polygon_of
from nestlib.verifying.written import NO_PIECE, WrittenCut, WrittenLayout, WrittenPlan

#: A rapid may go this deep into an opening, in mm: it begins on a contour that was cut.
_GRAZE = 0.3


def check_openings(plan: WrittenPlan, layout: WrittenLayout) -> Iterator[Violation]:
    """Check that no rapid crosses an opening, a loose piece or a clamp with the head down.

    Parameters
    ----------
    plan : WrittenPlan
        Says whether the head may stay down over what lies still.
    layout : WrittenLayout
        Its path; plans of older versions, which say nothing of lifts, are not checked.

    Yields
    ------
    Violation
    """
    if any(cut.lifted is None for cut in layout.path):
        return
    fixed = [Curve.of(c) for c in (*layout.sheet.holes, *layout.sheet.keep_outs)]
    loose = [(i, c) for i, c in enumerate(layout.path) if _loose(plan, c)]
    curves = [*fixed, *(Curve.of(c.contour) for _, c in loose)]
    areas = [polygon_of(curve).buffer(-_GRAZE) for curve in curves]
    since = np.array([-1] * len(fixed) + [i for i, _ in loose])
    down = [
        (i, leg) for i, way in enumerate(legs(plan, layout)) if not layout.path[i].lifted
        for leg in way
    ]  # fmt: skip
    if not down:
        return
    lines = [shapely.LineString([(z.real, z.imag) for z in leg]) for _, leg in down]
    line, area = shapely.STRtree(areas).query(lines, predicate="intersects")
    for i, j in zip(line.tolist(), area.tolist(), strict=True):
        number = down[i][0]
        if since[j] < number:
            text = f"the head goes to cut {number + 1} over an opening or a loose piece, not lifted"
            z = down[i][1][0]
            yield Violation("rapid-over-opening", layout.dxf, text, (z.real, z.imag))


def _loose(plan: WrittenPlan, cut: WrittenCut) -> bool:
    """Whether a cut opens the sheet, or sets something free, that must not be crossed."""
    if cut.role in ("mark", "shared") or cut.joints or cut.placement == NO_PIECE:
        return False
    return not plan.over_openings or cut.fate in ("tips", "drops")
