"""Do pieces that share cuts come out whole, exactly, and not before their time?

The slots are cut again, from the lines and contours that the plan and its file give, and what
they leave is compared with the pieces: a straight slot is all that lies within half a kerf of
its line, and the slot around lies outside of its contour. So a line that is shifted, missing
or too short shows in what is left. Only parts that the job allows may lie so near at all.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import combinations

import shapely
from shapely.geometry.base import BaseGeometry

from nestlib.model import Violation
from nestlib.tolerances import VERIFY
from nestlib.verifying.contours import pair
from nestlib.verifying.curves import Curve
from nestlib.verifying.drawn import DrawnLayout
from nestlib.verifying.shapes import Piece, exact_distance, line_of, polygon_of
from nestlib.verifying.written import WrittenCut, WrittenLayout, WrittenPlan

#: Lines in a quarter of a circle around the end of a slot.
_QUARTER = 32

#: A piece hangs in the sheet by this much of its contour at least, in mm, as long as the way
#: around it has not been cut.
_HANGS = 1.0

#: Thinner than this, in parts of half a kerf, is what arcs of straight lines leave.
_SLIVER = 0.005

#: Sums may differ by this share, since plans may round them.
_ROUNDING = 1e-6

_Numbers = tuple[int, ...]


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
            yield _wrong("shared-cut-wrong", layout, numbers, "are not two pieces, or named twice")
        seen |= set(numbers)
        for name in sorted({layout.placements[n].part for n in numbers}):
            if not plan.parts[name].part.common_lines:
                text = f"share cuts, which the job does not allow for '{name}'"
                yield _wrong("shared-not-allowed", layout, numbers, text)
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
            together = _Together(around, lines, [found[n] for n in around.pieces], plan)
            yield from together.check(layout)


@dataclass(frozen=True, eq=False)
class _Together:
    """Pieces that share cuts, and these cuts."""

    around: WrittenCut
    lines: Sequence[WrittenCut]
    pieces: Sequence[Piece]
    plan: WrittenPlan

    @property
    def slack(self) -> float:
        """How far contours may seem to be off, in mm."""
        outline = Curve.of(self.around.contour)
        return VERIFY + 2 * max([outline.flat[1], *(p.error for p in self.pieces)])

    def check(self, layout: WrittenLayout) -> Iterator[Violation]:
        """Whatever is wrong with them."""
        numbers = self.around.pieces
        if not self.around.contour.closed or any(not _straight(cut) for cut in self.lines):
            text = "share a cut that is no straight line, or the way around them is open"
            yield _wrong("shared-cut-wrong", layout, numbers, text)
            return
        outline = polygon_of(Curve.of(self.around.contour))
        slots = [self._slot(cut) for cut in self.lines]
        slot = shapely.union_all(slots)
        yield from self._centred(layout)
        yield from self._whole(layout, outline, slot)
        yield from self._corners(layout, outline, slot)
        yield from self._hanging(layout, outline, slot)
        yield from self._apart(layout)

    def _slot(self, cut: WrittenCut) -> BaseGeometry:
        """What the beam takes away along a line and its lead."""
        run = [line_of(Curve.of(c)) for c in (cut.lead, cut.contour) if c is not None]
        half = self.plan.spacing.kerf / 2
        return shapely.union_all([line.buffer(half, quad_segs=_QUARTER) for line in run])

    def _centred(self, layout: WrittenLayout) -> Iterator[Violation]:
        """Each line runs exactly half a kerf from the nearest piece on either side of it."""
        half = self.plan.spacing.kerf / 2
        for cut in self.lines:
            track = Curve.of(cut.contour)
            nearest = {True: 2 * half, False: 2 * half}
            for piece in self.pieces:
                side = _side(track, piece)
                apart = exact_distance(track, piece.edge, 2 * half)
                nearest[side] = min(nearest[side], apart)
            off = max(abs(apart - half) for apart in nearest.values())
            if off > VERIFY:
                text = f"share cut {cut.order}, which is {off:.6f} mm off the middle of its slot"
                yield _wrong("shared-cut-off", layout, self.around.pieces, text)

    def _whole(
        self, layout: WrittenLayout, outline: BaseGeometry, slot: BaseGeometry
    ) -> Iterator[Violation]:
        """The slots leave every piece whole, and nothing else within the outline."""
        solid = [polygon_of(p.outer) for p in self.pieces]
        for number, piece, metal in zip(self.around.pieces, self.pieces, solid, strict=True):
            lost = metal.intersection(slot).area + metal.difference(outline).area
            if lost > self.slack * piece.outer.length:
                text = f"are cut into: placement {number} loses {lost:.6f} mm²"
                yield _wrong("shared-cut-harms", layout, self.around.pieces, text)
        rest = outline.difference(slot).difference(shapely.union_all(solid))
        most = self.slack * sum(p.outer.length for p in self.pieces)
        if rest.area > most:
            text = f"are not cut apart exactly: {rest.area:.6f} mm² is left at them"
            yield _wrong("shared-cut-leaves", layout, self.around.pieces, text)

    def _corners(
        self, layout: WrittenLayout, outline: BaseGeometry, slot: BaseGeometry
    ) -> Iterator[Violation]:
        """Where the way around turns inward between two pieces, a slot takes what it leaves."""
        half = self.plan.spacing.kerf / 2
        own = [_rounded(polygon_of(piece.outer), half) for piece in self.pieces]
        left = _rounded(outline, half).difference(shapely.union_all([outline, slot, *own]))
        left = left.buffer(-max(self.slack, _SLIVER * half))
        if not left.is_empty:
            at = left.representative_point()
            text = "keep a burr where the beam, round as it is, does not reach between them"
            violation = _wrong("shared-cut-leaves", layout, self.around.pieces, text)
            yield replace(violation, place=(at.x, at.y))

    def _hanging(
        self, layout: WrittenLayout, outline: BaseGeometry, slot: BaseGeometry
    ) -> Iterator[Violation]:
        """Until the way around is cut, every piece hangs in the sheet."""
        half = self.plan.spacing.kerf / 2
        beyond = outline.buffer(half).difference(outline).difference(slot)
        for number, piece in zip(self.around.pieces, self.pieces, strict=True):
            near = polygon_of(piece.outer).buffer(half).intersection(beyond)
            if near.area < _HANGS * half:
                text = f"are loose too early: nothing holds placement {number}"
                yield _wrong("loose-too-early", layout, self.around.pieces, text)

    def _apart(self, layout: WrittenLayout) -> Iterator[Violation]:
        """Two pieces are nearer than usual along a slot that lies between them, only there."""
        needed = self.plan.spacing.between_parts
        half = self.plan.spacing.kerf / 2
        tracks = [line_of(Curve.of(cut.contour)) for cut in self.lines]
        for (m, one), (n, other) in combinations(
            zip(self.around.pieces, self.pieces, strict=True), 2
        ):
            if one.polygon.distance(other.polygon) >= needed - VERIFY:
                continue
            between = [t for t in tracks if _separates(t, one, other, half - self.slack)]
            away = [one.polygon.difference(t.buffer(needed + 2 * half)) for t in between]
            far = [a.is_empty or a.distance(other.polygon) >= needed - VERIFY for a in away]
            if not any(far):
                text = f"are too near: no shared cut lies between placements {m} and {n}"
                yield _wrong("parts-too-close", layout, self.around.pieces, text)


def _rounded(outline: BaseGeometry, radius: float) -> BaseGeometry:
    """With all that a disc outside of it does not reach."""
    grown = outline.buffer(radius, quad_segs=_QUARTER)
    return grown.buffer(-radius, quad_segs=_QUARTER)


def _side(track: Curve, piece: Piece) -> bool:
    """On which side of a straight line most of a piece lies."""
    centre = piece.polygon.centroid
    away = complex(centre.x, centre.y) - track.start[0]
    return bool((away * (track.end[0] - track.start[0]).conjugate()).imag > 0)


def _separates(track: BaseGeometry, one: Piece, other: Piece, half: float) -> bool:
    """Whether two pieces lie on different sides of a line, at least so far from it, in mm."""
    (x0, y0), (x1, y1) = track.coords
    way = complex(x1 - x0, y1 - y0)
    sides = []
    for piece in (one, other):
        away = ((piece.edge.flat[0] - complex(x0, y0)) * (way / abs(way)).conjugate()).imag
        sides.append((float(away.min()), float(away.max())))
    (low, high), (least, most) = sides
    return (low >= half and most <= -half) or (least >= half and high <= -half)


def _straight(cut: WrittenCut) -> bool:
    return not cut.contour.closed and len(cut.contour) == 2 and not cut.contour.bulges[0]


def _in_order(layout: WrittenLayout) -> Iterator[Violation]:
    """Holes, then shared lines, then the way around, each with the same pieces."""
    around = {cut.pieces: i for i, cut in enumerate(layout.path) if cut.role == "around"}
    first = {c.pieces: i for i, c in reversed([*enumerate(layout.path)]) if c.role == "shared"}
    for i, cut in enumerate(layout.path):
        late = cut.role == "shared" and i > around.get(cut.pieces, -1)
        if late or (cut.joints and cut.role in ("shared", "around")):
            text = f"share cut {cut.order}, which comes after the way around them, or has joints"
            yield _wrong("wrong-order", layout, cut.pieces, text)
        if cut.role in ("mark", "inner"):
            starts = [n for numbers, n in first.items() if cut.placement in numbers]
            if starts and i > min(starts):
                text = f"share cuts that come before cut {cut.order}, a hole or mark of one"
                yield _wrong("wrong-order", layout, (cut.placement,), text)
        elif cut.role == "outer" and cut.pieces:
            yield _wrong("shared-cut-wrong", layout, cut.pieces, "share an outer contour")
    for numbers in around.keys() - first.keys():
        yield _wrong("shared-cut-wrong", layout, numbers, "are said to share cuts, and do not")


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


def _wrong(code: str, layout: WrittenLayout, numbers: _Numbers, text: str) -> Violation:
    named = ", ".join(str(n) for n in numbers)
    return Violation(code, layout.dxf, f"placements {named} {text}")
