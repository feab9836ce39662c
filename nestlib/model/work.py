"""How long a plan's cuts take and what they cost."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

#: What money is spent on, in the order in which it is shown.
CostKind = Literal["sheets", "set_ups", "cutting", "moving", "gas"]
KINDS: tuple[CostKind, ...] = ("sheets", "set_ups", "cutting", "moving", "gas")


@dataclass(frozen=True)
class Effort:
    """What some cuts take; lengths in mm, times in s. Efforts can be added.

    Parameters
    ----------
    cut_length, mark_length, rapid_length : float
        Cut through with leads, etched, and travelled with the beam off.
    pierces : int
        How many times the beam goes through the sheet.
    cutting, marking, piercing, moving : float, or None
        Times; those of moving hold rapids, lifts and waits. None if they are not known.
    gas : float, or None
        Assist gas in m³ while the beam pierces and cuts; None if its flow is not stated.
    """

    cut_length: float = 0.0
    mark_length: float = 0.0
    rapid_length: float = 0.0
    pierces: int = 0
    cutting: float | None = 0.0
    marking: float | None = 0.0
    piercing: float | None = 0.0
    moving: float | None = 0.0
    gas: float | None = 0.0

    @property
    def beam(self) -> float | None:
        """Time in s with the beam on."""
        return added(added(self.cutting, self.marking), self.piercing)

    @property
    def seconds(self) -> float | None:
        """Time in s altogether."""
        return added(self.beam, self.moving)

    def __add__(self, other: Effort) -> Effort:
        return Effort(
            self.cut_length + other.cut_length,
            self.mark_length + other.mark_length,
            self.rapid_length + other.rapid_length,
            self.pierces + other.pierces,
            added(self.cutting, other.cutting),
            added(self.marking, other.marking),
            added(self.piercing, other.piercing),
            added(self.moving, other.moving),
            added(self.gas, other.gas),
        )

    def __sub__(self, other: Effort) -> Effort:
        return self + other.times(-1)

    def times(self, number: int) -> Effort:
        """Return the effort of doing this so many times."""
        return Effort(
            self.cut_length * number,
            self.mark_length * number,
            self.rapid_length * number,
            self.pierces * number,
            scaled(self.cutting, number),
            scaled(self.marking, number),
            scaled(self.piercing, number),
            scaled(self.moving, number),
            scaled(self.gas, number),
        )


@dataclass(frozen=True)
class Cost:
    """Money in hundredths of the job's currency, by what it is spent on.

    Parameters
    ----------
    sheets : int, or None
        Price of the sheets less what their remnants are worth; None if not stated, as are
        all others.
    set_ups : int, or None
        Preparing the layouts.
    cutting : int, or None
        Machine time with the beam on.
    moving : int, or None
        Machine time of rapids, lifts and waits.
    gas : int, or None
        Assist gas.
    """

    sheets: int | None = None
    set_ups: int | None = None
    cutting: int | None = None
    moving: int | None = None
    gas: int | None = None

    @property
    def machine(self) -> int | None:
        """Machine time altogether."""
        known = self.cutting is not None and self.moving is not None
        return (self.cutting or 0) + (self.moving or 0) if known else None

    @property
    def total(self) -> int | None:
        """Sum of what is stated; None if nothing is."""
        known = [v for v in (getattr(self, kind) for kind in KINDS) if v is not None]
        return sum(known) if known else None

    @property
    def amount(self) -> float | None:
        """The same in the job's currency."""
        return None if self.total is None else self.total / 100


@dataclass(frozen=True)
class Work:
    """Times and costs of a whole plan.

    Parameters
    ----------
    cuts : tuple of tuple of Effort
        For each layout one for each cut of its path, with the rapid before it; of one sheet.
    layouts : tuple of Effort
        One for each layout; of one sheet.
    layout_costs : tuple of Cost
        One for each layout; of all its runs.
    parts : dict of str to Effort
        All placed pieces of each part; without moving, which is nobody's own.
    part_costs : dict of str to Cost
        All placed pieces of each part, with their share of what all pieces need.
    total : Effort
        Of the whole plan.
    cost : Cost
        Of the whole plan: to the last hundredth the sum over the parts, and over the layouts.
    not_stated : tuple of str
        What is missing for a figure, in plain words.
    basis : str
        Where the machine's figures come from, as its file says.
    second_price, gas_price : float, or None
        Price of a second of the machine and of a m³ of gas, in the job's currency; None if
        not stated.
    """

    cuts: tuple[tuple[Effort, ...], ...]
    layouts: tuple[Effort, ...]
    layout_costs: tuple[Cost, ...]
    parts: dict[str, Effort]
    part_costs: dict[str, Cost]
    total: Effort
    cost: Cost
    not_stated: tuple[str, ...] = field(default=())
    basis: str = ""
    second_price: float | None = None
    gas_price: float | None = None

    def own_cost(self, effort: Effort) -> float | None:
        """Return what some cuts cost themselves, beam and gas as far as stated, not rounded."""
        pairs = ((effort.beam, self.second_price), (effort.gas, self.gas_price))
        known = [a * price for a, price in pairs if a is not None and price is not None]
        return sum(known) if known else None


def added(one: float | None, other: float | None) -> float | None:
    """Return the sum, None if one of the two is not known."""
    return None if one is None or other is None else one + other


def scaled(value: float | None, factor: float) -> float | None:
    """Return the product, None if the value is not known."""
    return None if value is None else value * factor
