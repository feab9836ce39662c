"""Changes of speed with limited acceleration, and with limited jerk if that is known.

With the acceleration a at once, a change of speed by Δ takes Δ / a. With the jerk j the
acceleration itself rises and falls evenly, so the speed runs through an S: up to a, which
takes a / j, and down to 0 again. Where Δ ≥ a² / j the acceleration a is reached, and

    T(Δ) = Δ / a + a / j,      else      T(Δ) = 2 √(Δ / j),

since the triangle of the acceleration then encloses Δ = (T / 2)² j. Both courses are
symmetric about their middle, so from speed u to speed w the head comes (u + w) T / 2 far.

A move of length d from rest to rest, with the greatest speed v, follows in closed form. Let
D = v T(v) be the way of both ramps. If d ≥ D the speed v is reached, and t = d / v + T(v).
Else t = 2 T(p) with the peak p of p T(p) = d:

    a reached, d ≥ 2 a³ / j²:   p = (√((a² / j)² + 4 a d) - a² / j) / 2,
                                t = a / j + √((a / j)² + 4 d / a)
    a not reached:              p = ∛(d² j / 4),   t = ∛(32 d / j)

Derived here; for the double-S velocity profile see L. Biagiotti, C. Melchiorri, "Trajectory
Planning for Automatic Machines and Robots", Springer 2008, chapter 3 (cited from memory).
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

from scipy.optimize import brentq

#: Speeds are found to this part of them.
_PRECISE = 1e-12


@dataclass(frozen=True)
class Ramps:
    """How a head changes its speed; lengths in mm, times in s.

    Parameters
    ----------
    acceleration : float
        In mm/s².
    jerk : float, or None
        In mm/s³; None if the acceleration is there at once.

    Examples
    --------
    >>> Ramps(10.0).time(20.0), Ramps(10.0, 20.0).time(20.0), Ramps(10.0, 20.0).time(5.0)
    (2.0, 2.5, 1.0)
    """

    acceleration: float
    jerk: float | None = None

    def time(self, change: float) -> float:
        """Return how long a change of speed takes."""
        a, j = self.acceleration, self.jerk
        if j is None:
            return change / a
        return change / a + a / j if change >= a * a / j else 2 * math.sqrt(max(0.0, change) / j)

    def way(self, slower: float, faster: float) -> float:
        """Return how far the head comes between two speeds."""
        return (slower + faster) / 2 * self.time(faster - slower)

    def reached(self, speed: float, way: float) -> float:
        """Return the speed that is reached from another over a way at most."""
        most = math.sqrt(speed * speed + 2 * self.acceleration * way)
        if self.jerk is None or most <= speed:
            return most
        return _root(lambda w: self.way(speed, w) - way, speed, most)

    def peak(self, enters: float, leaves: float, way: float) -> float:
        """Return the greatest speed between two others on a way, if nothing else bounds it."""
        square = (enters * enters + leaves * leaves) / 2 + self.acceleration * way
        low, most = max(enters, leaves), math.sqrt(square)
        if self.jerk is None or most <= low:
            return most
        return _root(lambda p: self.way(enters, p) + self.way(leaves, p) - way, low, most)


def _root(excess: Callable[[float], float], low: float, high: float) -> float:
    """The speed at which a way is used up; the lower end if it does not suffice even there."""
    if excess(low) >= 0 or excess(high) <= 0:
        return low if excess(low) >= 0 else high
    return float(brentq(excess, low, high, xtol=_PRECISE * high, rtol=1e-14))
