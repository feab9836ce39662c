"""Weights of pieces that no container can hold too much of.

Every argument comes down to this: each piece has a weight, and no container holds pieces
of more weight than its capacity. Whatever containers a plan uses, their capacities add
up to no less than the weight of all pieces. All is in whole numbers, weights rounded
down and capacities up, so nothing is lost or won to floating point.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from nestlib.packing.bounds.case import Case

#: Capacity of a room whose weights are shares of it.
WHOLE = 10**9

#: Part of a room by which pieces may overlap and stick out for want of digits.
ROUNDING = 1e-7


@dataclass(frozen=True)
class Weighting:
    """One argument.

    Parameters
    ----------
    weights : tuple of int
        Weight of one piece of each kind.
    capacities : tuple of int
        Most weight that one container of each kind holds.
    why : str
        The argument, in plain words.
    needed : int
        Weight that the containers have to hold, if it is more than that of all pieces.
    """

    weights: tuple[int, ...]
    capacities: tuple[int, ...]
    why: str
    needed: int = 0

    def total(self, case: Case) -> int:
        """Weight that the containers have to hold."""
        return max(self.needed, sum(w * n for w, n in zip(self.weights, case.numbers, strict=True)))


def shares(areas: Sequence[float], room: float) -> list[int]:
    """Return areas as shares of a room, of which it holds no more than `WHOLE`."""
    return [math.floor(a / room * (1 - ROUNDING) * WHOLE) for a in areas]


def by_area(case: Case) -> list[Weighting]:
    """Return the arguments of area: what lies in a room is no larger than the room.

    Parameters
    ----------
    case : Case
        What has to lie where.

    Returns
    -------
    list of Weighting
        One for each set of containers that some pieces depend on, for those pieces.
    """
    largest = max((s.area for s in case.spaces), default=0.0)
    if not largest:
        return []
    weights = shares([k.area for k in case.kinds], largest)
    rooms = [math.ceil(s.area / largest * WHOLE) for s in case.spaces]
    usable = [
        frozenset(c for c, by_kind in enumerate(case.lyings) if by_kind[i])
        for i in range(len(case.kinds))
    ]
    return [
        Weighting(
            tuple(w if own <= group else 0 for w, own in zip(weights, usable, strict=True)),
            tuple(room if c in group else 0 for c, room in enumerate(rooms)),
            "area of the parts and the gaps around them",
        )
        for group in sorted(set(usable), key=sorted)
    ]
