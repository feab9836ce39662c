"""How long a head needs for a chain of lines and arcs.

The head never leaves the chain and its speed changes with a constant acceleration, so
that the speed over each segment is a trapezoid, or a triangle where the full speed is
not reached. A segment of length d, entered at speed u and left at w, with the greatest
speed v and the acceleration a, is run at p at most, with p² = (u² + w²) / 2 + a d, and
takes (p - u) / a + (p - w) / a + what is left of the way over p (uniformly accelerated
motion: any textbook of kinematics). If the machine's file limits the jerk too, each of these
changes of speed is an S, as `nestlib.cutting.ramps` has it; where two segments meet the
acceleration is 0, which a control may better.

Terms
-----
corner rule
    How fast the head may run through a corner where the direction changes by φ. By the
    allowed jump: the speed changes by the vector 2 v sin(φ/2) (textbook vector
    subtraction), which may be Δ at most. By the allowed deviation: the corner is rounded
    by an arc that touches both sides and passes the corner at δ; with the angle θ = π - φ
    between the sides its radius is r = δ sin(θ/2) / (1 - sin(θ/2)), and it ends at
    r / tan(θ/2) along each side, half of the shorter side at most (plane geometry of the
    inscribed circle). It is run at v² = a r. Without a rule the head stops at each corner.
look-ahead
    Speeds at the joints are first those that the segments and corners allow; a pass
    forward lets none be reached sooner than by accelerating, a pass backward none be kept
    longer than braking allows. This is the two-pass method of time-optimal motion along a
    given path; see Bobrow, Dubowsky and Gibson, Int. J. Robotics Research 4(3), 1985, for
    the general case (cited from memory).

The acceleration a is taken to hold along the path and across it alike: on an arc of radius
r the speed stays below √(a r), the textbook's centripetal acceleration v² / r. The jerk is
limited along the path alone.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from nestlib.cutting.ramps import Ramps
from nestlib.geometry.arcs import arc_angle, arc_radius
from nestlib.model.contour import Contour
from nestlib.tolerances import SAME_POINT

#: Without a rule, a joint that turns by less than this is smooth, in radians: arcs that
#: follow one another in drawings meet only so well.
_SMOOTH = math.radians(0.5)

#: No turn at all.
_STRAIGHT = 1e-9


@dataclass(frozen=True)
class Limits:
    """What bounds the speed of the head; lengths in mm, times in s.

    Parameters
    ----------
    speed : float
        Greatest speed in mm/s.
    acceleration : float, or None
        In mm/s²; None if it is not known, and speeds are then taken to change at once.
    corner_jump : float, or None
        Allowed jump of the velocity at a corner in mm/s.
    corner_deviation : float, or None
        Allowed deviation at a corner in mm. If both are given, the slower speed counts.
    jerk : float, or None
        Along the path in mm/s³; None if the acceleration may change at once.
    """

    speed: float
    acceleration: float | None = None
    corner_jump: float | None = None
    corner_deviation: float | None = None
    jerk: float | None = None


@dataclass(frozen=True)
class Stretch:
    """One line or arc: its length, radius (infinite for a line) and headings in radians."""

    length: float
    radius: float
    leaves: float
    arrives: float


def stretches(contour: Contour) -> list[Stretch]:
    """Return the segments of a contour that have any length.

    Examples
    --------
    >>> [s.length for s in stretches(Contour.rectangle(4, 2))]
    [4.0, 2.0, 4.0, 2.0]
    """
    starts, ends, bulges = (values.tolist() for values in contour.segments)
    rows = zip(starts, ends, bulges, strict=True)
    # What rounding leaves of a segment is none: at its end the head would stop once more, which
    # with a limited jerk takes time however short it is.
    return [_stretch(a, b, bulge) for a, b, bulge in rows if math.dist(a, b) > SAME_POINT]


def run_time(chain: Sequence[Stretch], limits: Limits) -> float:
    """Return the time in s for a chain, from rest to rest.

    Examples
    --------
    >>> line = [Stretch(100.0, math.inf, 0.0, 0.0)]
    >>> run_time(line, Limits(10.0)), run_time(line, Limits(10.0, 5.0))
    (10.0, 12.0)
    """
    return math.fsum(run_times(chain, limits))


def run_times(chain: Sequence[Stretch], limits: Limits) -> list[float]:
    """Return the time in s for each stretch of a chain, from rest to rest."""
    a = limits.acceleration
    if a is None:
        return [s.length / limits.speed for s in chain]
    most = [min(limits.speed, math.sqrt(a * s.radius)) for s in chain]
    ramps = Ramps(a, limits.jerk)
    joints = _joint_speeds(chain, most, limits, ramps)
    return [
        _time(s.length, v, joints[i], joints[i + 1], ramps)
        for i, (s, v) in enumerate(zip(chain, most, strict=True))
    ]


def travel_time(distance: float, limits: Limits) -> float:
    """Return the time in s for a straight way from rest to rest.

    t = d/v + v/a if the speed is reached, and 2 √(d/a) if not; `nestlib.cutting.ramps` has
    the same with a limited jerk.

    Examples
    --------
    >>> travel_time(5.0, Limits(10.0, 20.0)), travel_time(20.0, Limits(10.0, 5.0))
    (1.0, 4.0)
    """
    return run_time([Stretch(distance, math.inf, 0.0, 0.0)], limits) if distance > 0 else 0.0


def joined(chains: Iterable[Contour]) -> list[Stretch]:
    """Return the stretches of contours that are run one after another without a stop."""
    return [s for contour in chains for s in stretches(contour)]


def _stretch(a: list[float], b: list[float], bulge: float) -> Stretch:
    chord, heading = math.dist(a, b), math.atan2(b[1] - a[1], b[0] - a[0])
    if not bulge:
        return Stretch(chord, math.inf, heading, heading)
    radius, angle = arc_radius((a[0], a[1]), (b[0], b[1]), bulge), arc_angle(bulge)
    return Stretch(radius * abs(angle), radius, heading - angle / 2, heading + angle / 2)


def _joint_speeds(
    chain: Sequence[Stretch], most: Sequence[float], limits: Limits, ramps: Ramps
) -> list[float]:
    """Speeds at both ends and at all joints, after the passes forward and backward."""
    speeds = [0.0] * (len(chain) + 1)
    for i in range(1, len(chain)):
        corner = _corner_speed(chain[i - 1], chain[i], limits, ramps.acceleration)
        reached = ramps.reached(speeds[i - 1], chain[i - 1].length)
        speeds[i] = min(most[i - 1], most[i], corner, reached)
    for i in range(len(chain) - 1, 0, -1):
        speeds[i] = min(speeds[i], ramps.reached(speeds[i + 1], chain[i].length))
    return speeds


def _corner_speed(before: Stretch, after: Stretch, limits: Limits, a: float) -> float:
    """Greatest speed through a joint by the corner rule."""
    turn = abs(math.remainder(after.leaves - before.arrives, 2 * math.pi))
    ruled = limits.corner_jump is not None or limits.corner_deviation is not None
    if turn < (_STRAIGHT if ruled else _SMOOTH):
        return math.inf
    allowed = []
    if limits.corner_jump is not None:
        allowed.append(limits.corner_jump / (2 * math.sin(turn / 2)))
    if limits.corner_deviation is not None:
        half = math.cos(turn / 2)  # of the angle between the sides, its sine
        # 1 - cos(φ/2), written so that it does not become 0 at a slight turn.
        radius = limits.corner_deviation * half / (2 * math.sin(turn / 4) ** 2)
        room = min(before.length, after.length) / 2 / math.tan(turn / 2)
        allowed.append(math.sqrt(a * max(0.0, min(radius, room))))
    return min(allowed, default=0.0)


def _time(length: float, most: float, enters: float, leaves: float, ramps: Ramps) -> float:
    """Time for one stretch: up to a peak, along at it, and down."""
    peak = min(most, ramps.peak(enters, leaves, length))
    used = ramps.way(enters, peak) + ramps.way(leaves, peak)
    turns = ramps.time(peak - enters) + ramps.time(peak - leaves)
    # Ramps may be too long for the stretch by rounding, and what is left is below 0 then. It
    # stays so: with a limited jerk the time of a slight ramp goes with the root of its change,
    # so a peak that is off by 1e-12 would cost 1e-6 s if its way were not made up for.
    return turns + (length - used) / peak
