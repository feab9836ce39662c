"""What is done when: several starts, long steps, short steps."""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple

#: Tries of the first phases where their number alone tells the phase.
FIRST = {"starts": 32, "long": 48, "short": 20}


class Moment(NamedTuple):
    """Where a search stands.

    Parameters
    ----------
    phase : str
        "starts", "long", "short" or "end".
    share : float
        Share of the phase that is over.
    """

    phase: str
    share: float


#: Says where a search stands before try k, counted from 0.
Schedule = Callable[[int], Moment]


def by_share(spent: Callable[[int], float], starts: float = 0.3, long: float = 0.8) -> Schedule:
    """Give every phase a share of all the time.

    Parameters
    ----------
    spent : callable
        Share of the time that is spent, given the number of tries.
    starts, long : float
        When several starts, and when long steps end.

    Examples
    --------
    >>> schedule = by_share(lambda k: k / 100)
    >>> schedule(55).phase, schedule(100).phase
    ('long', 'end')
    >>> round(schedule(40).share, 6)
    0.2
    """
    ends = (("starts", 0.0, starts), ("long", starts, long), ("short", long, 1.0))

    def moment(k: int) -> Moment:
        now = spent(k)
        for phase, begin, end in ends:
            if now < end:
                return Moment(phase, (now - begin) / (end - begin))
        return Moment("end", 1.0)

    return moment


def by_number(tries: int) -> Schedule:
    """Tell the phase by the number of the try alone.

    Long and short steps take turns, twice as many each time. So a search of more tries does
    at first what one of fewer does, and never ends with a worse layout.

    Examples
    --------
    >>> [by_number(1000)(k).phase for k in (0, 40, 80, 100, 196)]
    ['starts', 'long', 'short', 'long', 'short']
    >>> by_number(1000)(50) == by_number(60)(50)
    True
    """

    def moment(k: int) -> Moment:
        if k >= tries:
            return Moment("end", 1.0)
        first, factor, phase = 0, 1, "starts"
        while k >= first + factor * FIRST[phase]:
            first += factor * FIRST[phase]
            factor *= 2 if phase == "short" else 1
            phase = "short" if phase == "long" else "long"
        return Moment(phase, (k - first) / (factor * FIRST[phase]))

    return moment
