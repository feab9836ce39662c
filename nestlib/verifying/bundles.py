"""Pieces that share cuts: who may, what comes first, what that saves, and what is drawn.

What the drawn slots leave of the pieces is looked at in `nestlib.verifying.together`.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from nestlib.model import Violation
from nestlib.tolerances import VERIFY
from nestlib.verifying.contours import pair
from nestlib.verifying.curves import Curve
from nestlib.verifying.drawn import DrawnLayout
from nestlib.verifying.shapes import Piece
from nestlib.verifying.together import Together, wrong
from nestlib.verifying.written import WrittenLayout, WrittenPlan

#: Sums may differ by this share, since plans may round them.
_ROUNDING = 1e-6


def bundles_of(layout: WrittenLayout, owner: Mapping[int, int]) -> dict[int, int]:
    """Return for each drawn piece that shares cuts to which bundle it belongs.

    Parameters
    ----------
    layout : WrittenLayout
        Its path.
    owner : mapping of int to int
        Index of a piece -> index of its placement.

    Returns
    -------
    dict of int to int
    """
    of_placement = {n: k for k, numbers in enumerate(layout.bundles) for n in numbers}
    return {i: of_placement[n] for i, n in owner.items() if n in of_placement}


def check_saving(plan: WrittenPlan) -> Iterator[Violation]:
    """Check that what is saved by shared cuts is the sum over the layouts.

    Parameters
    ----------
    plan : WrittenPlan
        As written; that of an older version has no such figures.

    Yields
    ------
    Violation
    """
    said = plan.saving
    sharing = [lay for lay in plan.layouts if lay.singly is not None]
    if said is None or not sharing:
        if said is not None or any(lay.bundles for lay in plan.layouts):
            text = "cuts are shared and nothing is said of what that saves, or the other way round"
            yield Violation("figure-differs", "", text)
        return
    cuts = sum(lay.runs for lay in plan.layouts for c in lay.path if c.role == "shared")
    pairs = [(lay, lay.singly) for lay in sharing if lay.singly is not None]
    sums: list[tuple[str, float | None, float]] = [
        ("shared cuts", said.shared_cuts, cuts),
        ("pierces saved", said.pierces, sum((s.pierces - x.pierces) * x.runs for x, s in pairs)),
        (
            "length saved",
            said.cut_length,
            sum((s.cut_length - x.cut_length) * x.runs for x, s in pairs),
        ),
    ]
    times = [(x.work and x.work.seconds, s.seconds, x.runs) for x, s in pairs]
    if all(None not in row for row in times):
        total = sum(((s or 0.0) - (x or 0.0)) * n for x, s, n in times)
        sums.append(("time saved", said.seconds, total))
    for what, value, true in sums:
        if value is not None and abs(value - true) > _ROUNDING * max(1.0, abs(true)):
            text = f"{what}: the plan says {value:g}, its layouts give {true:g}"
            yield Violation("figure-differs", "", text)


def check_shared_order(plan: WrittenPlan, layout: WrittenLayout) -> Iterator[Violation]:
    """Check what a plan says of shared cuts: who may, what comes first, and what is saved.

    Parameters
    ----------
    plan : WrittenPlan
        Holds the parts.
    layout : WrittenLayout
        Its path.

    Yields
    ------
    Violation
    """
    seen: set[int] = set()
    for numbers in layout.bundles:
        if len(set(numbers)) < 2 or seen & set(numbers):
            yield wrong("shared-cut-wrong", layout, numbers, "are not two pieces, or named twice")
        seen |= set(numbers)
        for name in sorted({layout.placements[n].part for n in numbers}):
            if not plan.parts[name].part.common_lines:
                text = f"share cuts, which the job does not allow for '{name}'"
                yield wrong("shared-not-allowed", layout, numbers, text)
    yield from _in_order(layout)
    yield from _saved(plan, layout)


def check_bundles(
    plan: WrittenPlan,
    layout: WrittenLayout,
    drawn: DrawnLayout,
    pieces: Sequence[Piece],
    owner: Mapping[int, int],
) -> Iterator[Violation]:
    """Check the slots that pieces share, as drawn.

    Parameters
    ----------
    plan : WrittenPlan
        Holds the kerf and the distances.
    layout : WrittenLayout
        Its path.
    drawn : DrawnLayout
        Its file.
    pieces : sequence of Piece
        As drawn.
    owner : mapping of int to int
        Index of a piece -> index of its placement.

    Yields
    ------
    Violation
    """
    for role in ("shared", "around"):
        wanted = [Curve.of(c.contour) for c in layout.path if c.role == role]
        _, missing, extra = pair(wanted, drawn.curves[role])
        for curve in (*(wanted[i] for i in missing), *(drawn.curves[role][j] for j in extra)):
            place = float(curve.start[0].real), float(curve.start[0].imag)
            text = f"what is drawn as {role} is not what the plan has"
            yield Violation("shared-cut-differs", layout.dxf, text, place)
    found = {owner[i]: piece for i, piece in enumerate(pieces) if i in owner}
    for around in (c for c in layout.path if c.role == "around" and len(set(c.pieces)) > 1):
        if all(n in found for n in around.pieces):
            lines = [c for c in layout.path if c.role == "shared" and c.pieces == around.pieces]
            together = Together(around, lines, [found[n] for n in around.pieces], plan)
            yield from together.check(layout)


def _in_order(layout: WrittenLayout) -> Iterator[Violation]:
    """Holes, then shared lines, then the way around, each with the same pieces."""
    around = {cut.pieces: i for i, cut in enumerate(layout.path) if cut.role == "around"}
    first = {c.pieces: i for i, c in reversed([*enumerate(layout.path)]) if c.role == "shared"}
    for i, cut in enumerate(layout.path):
        late = cut.role == "shared" and i > around.get(cut.pieces, -1)
        if late or (cut.joints and cut.role in ("shared", "around")):
            text = f"share cut {cut.order}, which comes after the way around them, or has joints"
            yield wrong("wrong-order", layout, cut.pieces, text)
        if cut.role in ("mark", "inner"):
            starts = [n for numbers, n in first.items() if cut.placement in numbers]
            if starts and i > min(starts):
                text = f"share cuts that come before cut {cut.order}, a hole or mark of one"
                yield wrong("wrong-order", layout, (cut.placement,), text)
        elif cut.role == "outer" and cut.pieces:
            yield wrong("shared-cut-wrong", layout, cut.pieces, "share an outer contour")
    for numbers in around.keys() - first.keys():
        yield wrong("shared-cut-wrong", layout, numbers, "are said to share cuts, and do not")


def _saved(plan: WrittenPlan, layout: WrittenLayout) -> Iterator[Violation]:
    """What cutting singly would take: each contour once, and a pierce for each stroke."""
    if layout.singly is None:
        return
    own = [c for c in layout.path if c.role not in ("mark", "shared", "around")]
    single = [plan.parts[layout.placements[n].part].part.outer for n in layout.sharing]
    pierces = sum(1 + len(c.joints) for c in own) + len(single)
    length = sum(c.length for c in own) + sum(Curve.of(c).length for c in single)
    if layout.singly.pierces != pierces:
        text = f"singly it is said to take {layout.singly.pierces} pierces, it would {pierces}"
        yield Violation("figure-differs", layout.dxf, text)
    if layout.singly.cut_length < length - VERIFY * len(layout.path):
        text = f"singly it is said to cut {layout.singly.cut_length:.3f} mm, it has {length:.3f} mm"
        yield Violation("figure-differs", layout.dxf, text)


def note_shared(plan: WrittenPlan) -> Iterator[str]:
    """Say what shared cuts were found to be."""
    cuts = sum(cut.role == "shared" for layout in plan.layouts for cut in layout.path)
    if cuts:
        pieces = sum(len(layout.sharing) for layout in plan.layouts)
        yield (
            f"{pieces} pieces lie one kerf from each other along {cuts} shared cuts, as the job "
            "allows; the smallest distance is that of all others"
        )
