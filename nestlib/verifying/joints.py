"""Are joints as wide as stated, where they may be, drawn and counted?"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from nestlib.model import Contour, Violation
from nestlib.tolerances import SAME_POINT
from nestlib.verifying.along import gaps
from nestlib.verifying.contours import pair
from nestlib.verifying.curves import Complexes, Curve, Numbers
from nestlib.verifying.drawn import DrawnLayout
from nestlib.verifying.written import WrittenCut, WrittenJoint, WrittenLayout, WrittenPlan

#: Where the direction changes by more than this, a contour has a corner, in degrees.
_CORNER = 20.0

#: Outward directions of the sides that may be critical, as the part is drawn.
_SIDES = {"right": 1.0, "top": 1j, "left": -1.0, "bottom": -1j}


def check_joints(
    plan: WrittenPlan, layout: WrittenLayout, drawn: DrawnLayout
) -> Iterator[Violation]:
    """Check the joints of a layout.

    Parameters
    ----------
    plan : WrittenPlan
        Holds the kerf and the critical edges.
    layout : WrittenLayout
        Its path.
    drawn : DrawnLayout
        Its file.

    Yields
    ------
    Violation
    """
    count, wanted = 0, []
    for cut in layout.path:
        if not cut.joints and not cut.end_gap:
            continue
        measured = _Measured(cut.contour)
        if cut.joints:
            count += len(cut.joints)
            yield from _lie_apart(plan, layout, cut, measured)
            yield from _allowed(plan, layout, cut, measured)
        wanted += [measured.part(a, b) for a, b in gaps(cut, measured.whole)]
    _, missing, extra = pair(wanted, drawn.curves["joint"])
    for curve in (*(wanted[i] for i in missing), *(drawn.curves["joint"][j] for j in extra)):
        text = "the joints are not drawn as the plan has them"
        place = float(curve.start[0].real), float(curve.start[0].imag)
        yield Violation("joint-differs", layout.dxf, text, place)
    if layout.joints is not None and layout.joints != count:
        text = f"the plan says {layout.joints} joints, its path has {count}"
        yield Violation("figure-differs", layout.dxf, text)


class _Measured:
    """A contour with the lengths of its segments."""

    def __init__(self, contour: Contour) -> None:
        self.curve = Curve.of(contour)
        chords = np.abs(self.curve.end - self.curve.start)
        arcs = self.curve.radius * np.abs(self.curve.sweep)
        self.lengths = np.where(self.curve.bulge == 0, chords, arcs)
        self.marks = np.concatenate([[0.0], np.cumsum(self.lengths)])
        chord = self.curve.end - self.curve.start
        self.leaving = chord * np.exp(-0.5j * self.curve.sweep)
        self.arriving = chord * np.exp(0.5j * self.curve.sweep)

    @property
    def whole(self) -> float:
        """Length of the contour."""
        return float(self.marks[-1])

    def corners(self) -> Numbers:
        """How far along the contour its corners lie."""
        turns = np.angle(self.leaving / np.roll(self.arriving, 1))
        return np.asarray(self.marks[:-1][np.abs(np.degrees(turns)) > _CORNER])

    def heading(self, at: float) -> complex:
        """Direction of travel, as a number of length 1."""
        i = self._segment(at)
        share = (at - self.marks[i]) / self.lengths[i]
        way = complex(self.leaving[i] * np.exp(1j * share * self.curve.sweep[i]))
        return way / abs(way)

    def part(self, low: float, high: float) -> Curve:
        """What lies between two lengths along it."""
        inside = np.flatnonzero((self.marks[1:] > low) & (self.marks[:-1] < high))
        if not len(inside):
            inside = np.array([0])
        first = np.clip((low - self.marks[inside]) / self.lengths[inside], 0, 1)
        last = np.clip((high - self.marks[inside]) / self.lengths[inside], 0, 1)
        bulge = np.tan((last - first) * self.curve.sweep[inside] / 4)
        ends = [self._points(inside, share) for share in (first, last)]
        return Curve(ends[0], ends[1], bulge, False)

    def _segment(self, at: float) -> int:
        return int(np.clip(np.searchsorted(self.marks, at, "right") - 1, 0, len(self.lengths) - 1))

    def _points(self, which: NDArray[np.intp], share: Numbers) -> Complexes:
        a, b = self.curve.start[which], self.curve.end[which]
        centre, sweep = self.curve.centre[which], self.curve.sweep[which]
        round_it = centre + (a - centre) * np.exp(1j * share * sweep)
        return np.where(self.curve.bulge[which] == 0, a + share * (b - a), round_it)


def _lie_apart(
    plan: WrittenPlan, layout: WrittenLayout, cut: WrittenCut, measured: _Measured
) -> Iterator[Violation]:
    """Widths as stated, one after the other, none over the start of the cut."""
    last = cut.over_cut
    for joint in cut.joints:
        low, high = joint.at - joint.gap / 2, joint.at + joint.gap / 2
        if abs(joint.gap - joint.width - plan.spacing.kerf) > SAME_POINT:
            text = f"a gap of {joint.gap:.3f} mm does not leave {joint.width:.3f} mm of metal"
            yield _violation("joint-width-differs", layout, cut, measured, joint, text)
        if low <= last or high >= measured.whole - cut.end_gap:
            text = "a joint overlaps another one, or the start of the cut"
            yield _violation("joints-overlap", layout, cut, measured, joint, text)
        last = high


def _allowed(
    plan: WrittenPlan, layout: WrittenLayout, cut: WrittenCut, measured: _Measured
) -> Iterator[Violation]:
    """None in or beside a corner, on a critical edge or on a mark."""
    corners = measured.corners()
    for joint in cut.joints:
        away = np.abs(corners - joint.at)
        away = np.minimum(away, measured.whole - away) - joint.gap / 2
        if len(away) and away.min() < joint.gap - SAME_POINT:
            text = f"a joint lies {max(0.0, away.min()):.3f} mm from a corner"
            yield _violation("joint-in-corner", layout, cut, measured, joint, text)
        if cut.role == "mark" or _critical(plan, layout, cut, measured.heading(joint.at)):
            text = "a joint lies where none may be"
            yield _violation("joint-not-allowed", layout, cut, measured, joint, text)


def _critical(plan: WrittenPlan, layout: WrittenLayout, cut: WrittenCut, heading: complex) -> bool:
    placement = layout.placements[cut.placement]
    critical = plan.parts[placement.part].part.critical
    if ("outer" if cut.role == "outer" else "holes") in critical:
        return True
    if cut.role != "outer":
        return False
    # An outer contour runs clockwise here: the outside is a quarter turn to the left.
    outward = heading * 1j * np.exp(-1j * np.deg2rad(placement.rotation))
    outward = -outward.conjugate() if placement.flip else outward
    facing = [(outward * np.conj(_SIDES[s])).real for s in critical if s in _SIDES]
    return any(f > np.cos(np.pi / 4) for f in facing)


def _violation(
    code: str,
    layout: WrittenLayout,
    cut: WrittenCut,
    measured: _Measured,
    joint: WrittenJoint,
    text: str,
) -> Violation:
    z = measured.part(joint.at, joint.at + joint.gap / 2).start[0]
    place = float(z.real), float(z.imag)
    return Violation(code, layout.dxf, f"cut {cut.order}: {text}", place)
