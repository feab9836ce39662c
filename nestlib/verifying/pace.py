"""How fast the plan's machine is in the plan's metal, and how it changes its speed."""

from __future__ import annotations

import math
from dataclasses import dataclass

from nestlib.verifying.fields import Field


@dataclass(frozen=True)
class Drive:
    """What moves the head; lengths in mm, times in s. None: not limited, or not stated."""

    speed: float
    a: float | None
    jerk: float | None = None
    jump: float | None = None
    deviation: float | None = None

    def change(self, change: float) -> float:
        """How long a change of speed takes."""
        a, j = self.a or math.inf, self.jerk
        if j is None:
            return change / a
        if change >= a * a / j:
            return change / a + a / j
        return 2 * math.sqrt(max(0.0, change) / j)

    def way(self, one: float, other: float) -> float:
        """How far the head comes while its speed changes."""
        return (one + other) / 2 * self.change(abs(other - one))


@dataclass(frozen=True)
class Pace:
    """How fast the plan's machine is in the plan's metal."""

    cutting: Drive | None
    marking: Drive
    rapid: Drive
    pierce: float
    lift: float


def read_pace(job: Field) -> Pace | None:
    """Return how fast the machine of a plan is; plans that do not say of older versions."""
    machine, metal = job["machine"], job["metal"]
    if not machine.has("acceleration"):
        return None

    def known(key: str) -> float | None:
        return machine[key].number(0) if machine.has(key) and machine[key].given else None

    a, jerk = known("acceleration"), known("jerk")
    jump, deviation = known("corner_jump"), known("corner_deviation")
    jump = None if jump is None else jump / 60
    thickness, family = metal["thickness"].number(0), metal["family"].text()
    rows = [
        (row["thickness"].number(0), row["feed"].number(0) / 60, row["pierce"].number(0))
        for row in machine["settings"]
        if row["family"].text() == family
    ]
    _, feed, pierce = min((r for r in rows if r[0] >= thickness - 1e-9), default=(0.0, 0.0, 0.0))
    rapid = Drive(
        machine["rapid"].number(0) / 60,
        known("rapid_acceleration") or a,
        known("rapid_jerk") or jerk,
    )
    return Pace(
        Drive(feed, a, jerk, jump, deviation) if feed else None,
        Drive(machine["mark_feed"].number(0) / 60, a, jerk, jump, deviation),
        rapid,
        pierce,
        known("lift") or 0.0,
    )
