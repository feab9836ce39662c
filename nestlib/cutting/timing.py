"""How long the machine needs for each cut of a layout, and what it takes.

A cut is one motion from rest to rest, lead and contour together, after the pierce; at each
joint the beam goes off, the head runs over the gap like a rapid, and pierces again. Before a
cut comes its rapid, lifted or not, which stops at the corners of a detour, and a wait if the
sheet has to cool. Feeds, pierce
times and gas are those of the machine's cutting table. Gas is counted while the beam pierces
and cuts through, not while it etches.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from nestlib.cutting.motion import Limits, joined, run_time, stretches, travel_time
from nestlib.geometry.along import cut_stretches, run_out
from nestlib.model.contour import Contour
from nestlib.model.job import Job
from nestlib.model.layout import Cut, Layout
from nestlib.model.machine import Machine
from nestlib.model.metal import Metal
from nestlib.model.work import Effort, scaled

_CALLED = {"rapid": "speed between contours", "mark_feed": "speed of etching"}


@dataclass(frozen=True)
class Pace:
    """How fast a machine goes in one metal.

    Parameters
    ----------
    cutting : Limits, or None
        None if its table has no row for the metal.
    marking, rapid : Limits
        When etching, and with the beam off.
    pierce : float
        s.
    lift : float
        s for raising and lowering the head at a lifted rapid.
    gas_flow : float, or None
        m³/h; None if it is not stated.
    """

    cutting: Limits | None
    marking: Limits
    rapid: Limits
    pierce: float = 0.0
    lift: float = 0.0
    gas_flow: float | None = None


def pace(machine: Machine, metal: Metal) -> Pace:
    """Return how fast a machine goes in a metal, from its file.

    Parameters
    ----------
    machine : Machine
        With its cutting table.
    metal : Metal
        What is cut.
    """
    row = machine.setting(metal.material.family, metal.thickness)
    return Pace(
        cutting=_limits(machine, row.feed) if row and row.feed > 0 else None,
        marking=_limits(machine, machine.mark_feed),
        rapid=Limits(
            machine.rapid / 60,
            machine.rapid_acceleration or machine.acceleration,
            jerk=machine.rapid_jerk or machine.jerk,
        ),
        pierce=row.pierce if row else 0.0,
        lift=machine.lift or 0.0,
        gas_flow=row.gas_flow if row else None,
    )


def not_stated(machine: Machine, metal: Metal) -> Iterator[str]:
    """Yield what a machine's file does not say and the times of a metal would need."""
    row = machine.setting(metal.material.family, metal.thickness)
    if row is None:
        yield f"feed, pierce time and gas for {metal}: so there is no machine time"
        return
    for key in machine.assumed:
        yield f"{_CALLED[key]}: {getattr(machine, key):g} mm/min is taken, a starting value"
    if machine.acceleration is None:
        yield "acceleration: speeds are taken to change at once, so the true time is longer"
    elif machine.corner_jump is None and machine.corner_deviation is None:
        yield "corner rule: the head is taken to stop at each corner"
    if machine.lift is None:
        yield "lift time: none is counted"
    if row.gas_flow is None:
        yield f"flow of {row.gas}: so there is no figure for gas"


def cut_efforts(layout: Layout, job: Job) -> tuple[Effort, ...]:
    """Return what each cut of a layout takes, with the rapid before it.

    Parameters
    ----------
    layout : Layout
        With its cut path.
    job : Job
        Holds the metal and the machine.

    Returns
    -------
    tuple of Effort
        In cutting order, of one sheet.
    """
    speed = pace(job.machine, job.metal)
    return tuple(_moving(way, cut, speed) + _beam(cut, speed) for cut, way in layout.path.rapids)


def runs(cut: Cut) -> list[tuple[Contour, ...]]:
    """Return what of a cut is run without a stop: lead and contour, up to the next joint."""
    first, *others = cut_stretches(cut)
    begun: tuple[Contour, ...] = (first,) if cut.lead_in is None else (cut.lead_in, first)
    chains: list[tuple[Contour, ...]] = [begun, *((other,) for other in others)]
    last = run_out(cut)
    return chains if last is None else [*chains[:-1], (*chains[-1], last)]


def _moving(way: Sequence[tuple[float, float]], cut: Cut, speed: Pace) -> Effort:
    """The way to a cut, and what is waited there."""
    path = Contour(way, closed=False)
    seconds = run_time(stretches(path), speed.rapid) + (speed.lift if cut.lifted else 0.0)
    return Effort(rapid_length=path.length, moving=seconds + cut.wait)


def _beam(cut: Cut, speed: Pace) -> Effort:
    """The cut itself, from the pierce to its end."""
    chains = runs(cut)
    length = math.fsum(contour.length for chain in chains for contour in chain)
    if cut.role == "mark":
        return Effort(mark_length=length, marking=_time(chains, speed.marking))
    over = math.fsum(travel_time(joint.gap, speed.rapid) for joint in cut.joints)
    taken = Effort(length, pierces=len(chains), moving=over)
    if speed.cutting is None:
        return replace(taken, cutting=None, piercing=None, gas=None)
    seconds, piercing = _time(chains, speed.cutting), len(chains) * speed.pierce
    gas = scaled(speed.gas_flow, (seconds + piercing) / 3600)
    return replace(taken, cutting=seconds, piercing=piercing, gas=gas)


def _time(chains: list[tuple[Contour, ...]], limits: Limits) -> float:
    return math.fsum(run_time(joined(chain), limits) for chain in chains)


def _limits(machine: Machine, feed: float) -> Limits:
    """Speeds in machine files are per minute."""
    jump = machine.corner_jump
    return Limits(
        feed / 60,
        machine.acceleration,
        None if jump is None else jump / 60,
        machine.corner_deviation,
        machine.jerk,
    )
