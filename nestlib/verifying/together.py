"""Do pieces that share cuts come out whole, exactly, and not before their time?

The slots are cut again, from the lines and contours that the plan and its file give, and what
they leave is compared with the pieces: a straight slot is all that lies within half a kerf of
its line, and the slot around lies outside of its contour. So a line that is shifted, missing,
too short or too long shows in what is left. Only parts that the job allows may lie so near.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import combinations

import shapely
from shapely.geometry.base import BaseGeometry

from nestlib.model import Violation
from nestlib.tolerances import VERIFY
from nestlib.verifying.curves import Curve
from nestlib.verifying.shapes import Piece, exact_distance, line_of, polygon_of
from nestlib.verifying.written import WrittenCut, WrittenLayout, WrittenPlan

#: Lines in a quarter of a circle around the end of a slot.
_QUARTER = 32

#: A piece hangs in the sheet by this much of its contour at least, in mm, as long as the way
#: around it has not been cut.
_HANGS = 1.0

#: Thinner than this, in parts of half a kerf, is what arcs of straight lines leave.
_SLIVER = 0.005

Numbers = tuple[int, ...]


@dataclass(frozen=True, eq=False)
class Together:
    """Pieces that share cuts, and these cuts.

    Parameters
    ----------
    around : WrittenCut
        The way around them.
    lines : sequence of WrittenCut
        The cuts that they share.
    pieces : sequence of Piece
        As drawn, in the order of `around.pieces`.
    plan : WrittenPlan
        Holds the kerf and the distances.
    """

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
            yield wrong("shared-cut-wrong", layout, numbers, text)
            return
        outline = polygon_of(Curve.of(self.around.contour))
        slots = [self._slot(cut) for cut in self.lines]
        slot = shapely.union_all(slots)
        yield from self._centred(layout)
        yield from self._no_longer(layout, outline)
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
                yield wrong("shared-cut-off", layout, self.around.pieces, text)

    def _no_longer(self, layout: WrittenLayout, outline: BaseGeometry) -> Iterator[Violation]:
        """A shared line ends in the slot around: beyond it others lie."""
        half = self.plan.spacing.kerf / 2
        reach = outline.buffer(1.01 * half + self.slack, quad_segs=_QUARTER)
        for cut in self.lines:
            if not reach.covers(line_of(Curve.of(cut.contour))):
                text = f"share cut {cut.order}, which runs on beyond the slot around them"
                yield wrong("shared-cut-harms", layout, self.around.pieces, text)

    def _whole(
        self, layout: WrittenLayout, outline: BaseGeometry, slot: BaseGeometry
    ) -> Iterator[Violation]:
        """The slots leave every piece whole, and nothing else within the outline."""
        solid = [polygon_of(p.outer) for p in self.pieces]
        for number, piece, metal in zip(self.around.pieces, self.pieces, solid, strict=True):
            lost = shapely.union_all([metal.intersection(slot), metal.difference(outline)])
            if lost.area > self.slack * piece.outer.length or self._thick(lost):
                text = f"are cut into: placement {number} loses {lost.area:.6f} mm²"
                yield wrong("shared-cut-harms", layout, self.around.pieces, text)
        rest = outline.difference(slot).difference(shapely.union_all(solid))
        most = self.slack * sum(p.outer.length for p in self.pieces)
        if rest.area > most or self._thick(rest):
            text = f"are not cut apart exactly: {rest.area:.6f} mm² is left at them"
            yield wrong("shared-cut-leaves", layout, self.around.pieces, text)

    def _corners(
        self, layout: WrittenLayout, outline: BaseGeometry, slot: BaseGeometry
    ) -> Iterator[Violation]:
        """Where the way around turns inward between two pieces, a slot takes what it leaves."""
        half = self.plan.spacing.kerf / 2
        own = [_rounded(polygon_of(piece.outer), half) for piece in self.pieces]
        left = _rounded(outline, half).difference(shapely.union_all([outline, slot, *own]))
        if self._thick(left):
            at = left.representative_point()
            text = "keep a burr where the beam, round as it is, does not reach between them"
            violation = wrong("shared-cut-leaves", layout, self.around.pieces, text)
            yield replace(violation, place=(at.x, at.y))

    def _thick(self, metal: BaseGeometry) -> bool:
        """Whether metal is more than what arcs of straight lines leave, all along."""
        thin = max(self.slack, _SLIVER * self.plan.spacing.kerf / 2)
        return not metal.buffer(-thin).is_empty

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
                yield wrong("loose-too-early", layout, self.around.pieces, text)

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
                yield wrong("parts-too-close", layout, self.around.pieces, text)


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


def wrong(code: str, layout: WrittenLayout, numbers: Numbers, text: str) -> Violation:
    """Return what is wrong with placements that share cuts."""
    named = ", ".join(str(n) for n in numbers)
    return Violation(code, layout.dxf, f"placements {named} {text}")
