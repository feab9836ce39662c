"""Do the cuts take as long as the plan says, by the figures of its machine?

Worked out from the plan alone. The head starts and stops at rest, and in between its speed is
bounded by the feed, by √(a r) on arcs, by the corner rule, and by what can be reached from
the slower of its neighbours, the slowest first. A change of speed by Δ takes
Δ / a, or with a limited jerk j the S-curve's Δ / a + a / j, or 2 √(Δ / j) where a is not
reached; peaks and speeds are found by halving.
"""

from __future__ import annotations

import cmath
import math
from collections.abc import Callable, Iterator, Sequence
from heapq import heapify, heappop, heappush

from nestlib.model import Violation
from nestlib.tolerances import SAME_POINT
from nestlib.verifying.along import planned
from nestlib.verifying.curves import Curve
from nestlib.verifying.pace import Drive, Pace
from nestlib.verifying.path_figures import legs
from nestlib.verifying.written import WrittenCut, WrittenLayout, WrittenPlan

#: Times may differ by this share, and by this in s, since plans may round them. Peaks and speeds
#: are found to 1e-12 of them here and where plans are made, and times turn out as near.
_SHARE, _ROUNDING = 1e-8, 1e-6

#: Halvings of an interval of speeds.
_HALVINGS = 60

#: Without a corner rule the head stops where the direction changes by more, in radians; with
#: one, less than the second is no corner.
_SMOOTH, _STRAIGHT = math.radians(0.5), 1e-9


def check_times(plan: WrittenPlan, layout: WrittenLayout) -> Iterator[Violation]:
    """Check how long each cut is said to take, and the way to it.

    Parameters
    ----------
    plan : WrittenPlan
        Holds the machine's figures.
    layout : WrittenLayout
        Its path; plans without times are not checked.

    Yields
    ------
    Violation
    """
    if plan.pace is None:
        return
    for cut, way in zip(layout.path, legs(plan, layout), strict=True):
        if cut.times is None:
            continue
        for what, said, true in zip(
            ("beam", "moving"), cut.times, _cut_times(cut, way, plan.pace), strict=True
        ):
            if not _agree(said, true):
                text = f"cut {cut.order}: {what} is said to take {said} s, it takes {true} s"
                yield Violation("time-differs", layout.dxf, text, cut.pierce)


def _agree(said: float | None, true: float | None) -> bool:
    """Whether two times are the same; None where the machine has no figures for the metal."""
    if said is None or true is None:
        return said is true
    return abs(said - true) <= _ROUNDING + _SHARE * true


def _cut_times(
    cut: WrittenCut, way: Sequence[tuple[complex, complex]], pace: Pace
) -> tuple[float | None, float]:
    """Time with the beam on, and of all else."""
    runs = [list(segments(stroke)) for stroke in planned(cut)]
    moving = run([_line(a, b) for a, b in way if abs(b - a) > SAME_POINT], pace.rapid) + cut.wait
    moving += pace.lift if cut.lifted else 0.0
    moving += sum(run([_line(0j, complex(joint.gap))], pace.rapid) for joint in cut.joints)
    if cut.role == "mark":
        return sum(run(one, pace.marking) for one in runs), moving
    drive = pace.cutting
    if drive is None:
        return None, moving
    return sum(run(one, drive) + pace.pierce for one in runs), moving


#: Length, radius, and directions at both ends as complex numbers.
Segment = tuple[float, float, complex, complex]


def _line(a: complex, b: complex) -> Segment:
    return abs(b - a), math.inf, b - a, b - a


def segments(curve: Curve) -> Iterator[Segment]:
    """Yield what of a curve takes time."""
    rows = (curve.start.tolist(), curve.end.tolist(), curve.sweep.tolist(), curve.radius.tolist())
    for a, b, sweep, radius in zip(*rows, strict=True):
        if abs(b - a) <= SAME_POINT:
            continue  # what rounding leaves at the end of a stretch: no stop of its own
        if sweep:
            leaves, arrives = (b - a) * cmath.exp(-0.5j * sweep), (b - a) * cmath.exp(0.5j * sweep)
            yield radius * abs(sweep), radius, leaves, arrives
        else:
            yield _line(a, b)


def run(chain: Sequence[Segment], drive: Drive) -> float:
    """Return the time in s for segments run one after another, from rest to rest.

    Examples
    --------
    >>> run([_line(0j, 2 + 0j)], Drive(100.0, 100.0, 1.0))
    4.0
    """
    if drive.a is None:
        return sum(length for length, *_ in chain) / drive.speed
    most = [min(drive.speed, math.sqrt(drive.a * radius)) for _, radius, _, _ in chain]
    speeds = _lowered(_bounds(chain, most, drive), chain, drive)
    return math.fsum(
        _one(chain[i][0], most[i], speeds[i], speeds[i + 1], drive) for i in range(len(chain))
    )


def _bounds(chain: Sequence[Segment], most: Sequence[float], drive: Drive) -> list[float]:
    """Speeds at ends and corners that segments and corners by themselves allow."""
    corners = [
        min(most[i], most[i + 1], _through(chain[i], chain[i + 1], drive))
        for i in range(len(chain) - 1)
    ]
    return [0.0, *corners, 0.0]


def _lowered(speeds: list[float], chain: Sequence[Segment], drive: Drive) -> list[float]:
    """Speeds that can be reached from each other.

    With a limited jerk less may be reached from a higher speed than from a lower one, so
    nothing is said of a neighbour before its own speed is settled, and the slowest is first.
    """
    waiting = [(speed, i) for i, speed in enumerate(speeds)]
    heapify(waiting)
    while waiting:
        slow, i = heappop(waiting)
        for fast, length in _beside(i, chain):
            if slow == speeds[i] < speeds[fast]:
                reached = _reached(slow, speeds[fast], length, drive)
                if reached < speeds[fast]:
                    speeds[fast] = reached
                    heappush(waiting, (reached, fast))
    return speeds


def _beside(i: int, chain: Sequence[Segment]) -> Iterator[tuple[int, float]]:
    """The ends next to one of a chain, and how far they are."""
    if i > 0:
        yield i - 1, chain[i - 1][0]
    if i < len(chain):
        yield i + 1, chain[i][0]


def _reached(slow: float, wanted: float, length: float, drive: Drive) -> float:
    """The greatest speed, up to the one wanted, that a length allows."""
    if drive.way(slow, wanted) <= length:
        return wanted
    return _halved(lambda speed: drive.way(slow, speed) <= length, slow, wanted)


def _one(length: float, most: float, enters: float, leaves: float, drive: Drive) -> float:
    """Time of one segment: to a peak, along at it, and on."""

    def fits(peak: float) -> bool:
        return drive.way(enters, peak) + drive.way(peak, leaves) <= length

    low = max(enters, leaves)
    peak = most if fits(most) else _halved(fits, low, most)
    ways = drive.way(enters, peak) + drive.way(peak, leaves)
    turns = drive.change(peak - enters) + drive.change(peak - leaves)
    return turns + (length - ways) / peak


def _halved(fits: Callable[[float], bool], low: float, high: float) -> float:
    for _ in range(_HALVINGS):
        middle = (low + high) / 2
        low, high = (middle, high) if fits(middle) else (low, middle)
    return low


def _through(before: Segment, after: Segment, drive: Drive) -> float:
    """Greatest speed through a corner: the rule for the jump, that for the deviation."""
    turn = abs(cmath.phase(after[2] / before[3]))
    ruled = drive.jump is not None or drive.deviation is not None
    if turn < (_STRAIGHT if ruled else _SMOOTH):
        return math.inf
    allowed = [] if ruled else [0.0]
    if drive.jump is not None:
        allowed.append(drive.jump / abs(cmath.exp(1j * turn) - 1))
    if drive.deviation is not None:
        # The inscribed arc that passes the corner so close; it ends half a side away at most.
        sides = (math.pi - turn) / 2
        radius = drive.deviation * math.sin(sides) / max(1e-300, 1 - math.sin(sides))
        room = min(before[0], after[0]) / 2 * math.tan(sides)
        allowed.append(math.sqrt((drive.a or 0.0) * max(0.0, min(radius, room))))
    return min(allowed)
