"""Places and stretches of a curve by the length along it, and points beside it."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from nestlib.verifying.curves import Complexes, Curve, Numbers
from nestlib.verifying.written import WrittenCut

#: Points so near to a joint's end, in mm, are left to the check of the end itself.
_NEAR = 1e-3

#: Just before and just behind a vertex, in mm: two segments may meet at a slight angle.
_EITHER = (-1e-6, 1e-6)


def points_beside(contour: Curve, cut: WrittenCut, half: float) -> Complexes:
    """Return points at a distance to the left of a contour, all along, but not at its joints."""
    marks = _marks(contour)
    shares = np.array([1e-6, 0.1, 0.3, 0.5, 0.7, 0.9, 1 - 1e-6])
    at = (marks[:-1, None] + shares * np.diff(marks)[:, None]).ravel()
    for low, high in gaps(cut, float(marks[-1])):
        at = at[(at < low - _NEAR) | (at > high + _NEAR)]
    return np.array([spot_beside(contour, float(a), half, marks) for a in at], dtype=complex)


def spot_beside(contour: Curve, at: float, half: float, marks: Numbers | None = None) -> complex:
    """Return the point at a distance to the left of a contour, at a length along it in mm."""
    marks = _marks(contour) if marks is None else marks
    i = int(np.clip(np.searchsorted(marks, at, "right") - 1, 0, len(contour.start) - 1))
    share = (at - marks[i]) / (marks[i + 1] - marks[i])
    chord = contour.end[i] - contour.start[i]
    if contour.bulge[i] == 0:
        return complex(contour.start[i] + share * chord + 1j * half * chord / abs(chord))
    spoke = (contour.start[i] - contour.centre[i]) * np.exp(1j * share * contour.sweep[i])
    inward = -np.sign(contour.sweep[i]) * half
    return complex(contour.centre[i] + spoke * (1 + inward / abs(spoke)))


def off_spot(contour: Curve, at: float, half: float, found: complex) -> float:
    """Return how far a point lies from the one beside the contour, in mm.

    At a vertex where segments meet at a slight angle either side's point will do.
    """
    return min(abs(found - spot_beside(contour, at + off, half)) for off in _EITHER)


def stretches(contour: Curve, cut: WrittenCut) -> list[Curve]:
    """Return what is cut of a contour, from joint to joint."""
    if not cut.joints and not cut.end_gap:
        return [contour]
    marks = _marks(contour)
    whole = float(marks[-1])
    ends = [(j.at - j.gap / 2, j.at + j.gap / 2) for j in cut.joints]
    bounds = [0.0, *(e for pair in ends for e in pair), whole - cut.end_gap]
    pairs = zip(bounds[::2], bounds[1::2], strict=True)
    return [_between(contour, marks, low, high) for low, high in pairs]


def planned(cut: WrittenCut) -> list[Curve]:
    """Return what is run from beam on to off: first the lead, last what lies beyond the contour."""
    contour = Curve.of(cut.contour)
    wanted = stretches(contour, cut)
    if cut.lead is not None:
        wanted[0] = chain([Curve.of(cut.lead), wanted[0]])
    wanted[-1] = chain([wanted[-1], *run_out(contour, cut)])
    return wanted


def gaps(cut: WrittenCut, whole: float) -> list[tuple[float, float]]:
    """Return where a contour of some length is left uncut: joints, and a gap at its end."""
    found = [(j.at - j.gap / 2, j.at + j.gap / 2) for j in cut.joints]
    return [*found, (whole - cut.end_gap, whole)] if cut.end_gap else found


def part_of(contour: Curve, low: float, high: float) -> Curve:
    """Return what lies between two lengths along a contour."""
    return _between(contour, _marks(contour), low, high)


def run_out(contour: Curve, cut: WrittenCut) -> list[Curve]:
    """Return what is cut beyond the contour: over-cut and lead-out, those that there are."""
    over = [part_of(contour, 0.0, cut.over_cut)] if cut.over_cut else []
    return [*over, Curve.of(cut.lead_out)] if cut.lead_out is not None else over


def chain(curves: Sequence[Curve]) -> Curve:
    """Return curves run one after another as one."""
    return Curve(
        np.concatenate([c.start for c in curves]),
        np.concatenate([c.end for c in curves]),
        np.concatenate([c.bulge for c in curves]),
        False,
    )


def _between(contour: Curve, marks: Numbers, low: float, high: float) -> Curve:
    """What lies between two lengths along a contour."""
    keep = np.flatnonzero((marks[1:] > low) & (marks[:-1] < high))
    first = [max(low, float(marks[i])) for i in keep]
    last = [min(high, float(marks[i + 1])) for i in keep]
    turned = contour.sweep[keep] * (np.array(last) - first) / np.diff(marks)[keep]
    points = [np.array([_on(contour, marks, i, a) for i, a in zip(keep, at, strict=True)])
              for at in (first, last)]  # fmt: skip
    return Curve(points[0], points[1], np.tan(turned / 4), False)


def _on(contour: Curve, marks: Numbers, i: np.intp, at: float) -> complex:
    """The point of one segment at a length along the contour."""
    share = (at - marks[i]) / (marks[i + 1] - marks[i])
    if contour.bulge[i] == 0:
        return complex(contour.start[i] + share * (contour.end[i] - contour.start[i]))
    spoke = contour.start[i] - contour.centre[i]
    return complex(contour.centre[i] + spoke * np.exp(1j * share * contour.sweep[i]))


def _marks(contour: Curve) -> Numbers:
    """Lengths along a contour at which its segments begin and end."""
    chords = np.abs(contour.end - contour.start)
    lengths = np.where(contour.bulge == 0, chords, contour.radius * np.abs(contour.sweep))
    return np.concatenate([[0.0], np.cumsum(lengths)])
