"""When to stop looking for something better.

A stopping rule is called between two steps of a search and says whether to stop.
Rules that only count give the same result on every machine; `After` does not.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Protocol


@dataclass(frozen=True)
class SearchState:
    """How far a search is.

    Parameters
    ----------
    seconds : float
        Since it began.
    iterations : int
        Rounds of improvement that were completed.
    stalled : int
        Rounds completed since the last one that found something better.
    noted : float
        When that was, in seconds since the epoch; 0 if it does not matter.
    """

    seconds: float = 0.0
    iterations: int = 0
    stalled: int = 0
    noted: float = 0.0


class StoppingRule(Protocol):
    """Anything that can be asked whether to stop."""

    def __call__(self, state: SearchState) -> bool:
        """Return whether the search should stop now."""
        ...


@dataclass(frozen=True)
class After:
    """Stop after a time; a round that has begun is dropped.

    Parameters
    ----------
    seconds : float
        Counted from the start of the search.
    """

    seconds: float

    def __call__(self, state: SearchState) -> bool:
        """Return whether the time is over."""
        return state.seconds >= self.seconds

    def left(self, seconds: float) -> float:
        """Return how many seconds are left, so many after the start."""
        return max(0.0, self.seconds - seconds)


@dataclass(frozen=True)
class Iterations:
    """Stop after a number of rounds; 0 keeps the first result.

    Parameters
    ----------
    rounds : int
        Rounds of improvement.

    Examples
    --------
    >>> Iterations(3)(SearchState(iterations=3))
    True
    """

    rounds: int

    def __call__(self, state: SearchState) -> bool:
        """Return whether that many rounds are done."""
        return state.iterations >= self.rounds


@dataclass(frozen=True)
class Stalled:
    """Stop when a number of rounds in a row found nothing better.

    Parameters
    ----------
    rounds : int
        Rounds without improvement.
    """

    rounds: int

    def __call__(self, state: SearchState) -> bool:
        """Return whether nothing better was found for that many rounds."""
        return state.stalled >= self.rounds


class First:
    """Stop as soon as one of several rules says so.

    Parameters
    ----------
    *rules : StoppingRule
        The rules to ask.

    Examples
    --------
    >>> First(After(60), Stalled(5))(SearchState(seconds=2, stalled=5))
    True
    """

    def __init__(self, *rules: StoppingRule) -> None:
        self.rules = rules

    def __call__(self, state: SearchState) -> bool:
        """Return whether any rule says stop."""
        return any(rule(state) for rule in self.rules)

    def left(self, seconds: float) -> float | None:
        """Return how many seconds are left at most; None if no rule is about time."""
        known = (seconds_left(rule, seconds) for rule in self.rules)
        return min((n for n in known if n is not None), default=None)


def stop_after(seconds: float | None, iterations: int | None) -> StoppingRule | None:
    """Return the rule for a time, a number of rounds, or both: then what comes first.

    Parameters
    ----------
    seconds : float, optional
        Of the search.
    iterations : int, optional
        Rounds of improvement.

    Returns
    -------
    StoppingRule or None
        None if neither is given.

    Examples
    --------
    >>> both = stop_after(60, 5)
    >>> both(SearchState(seconds=61)), both(SearchState(iterations=5)), both(SearchState(59, 4))
    (True, True, False)
    """
    rules: list[StoppingRule] = []
    if seconds:
        rules.append(After(seconds))
    if iterations:
        rules.append(Iterations(iterations))
    return First(*rules) if len(rules) > 1 else next(iter(rules), None)


def seconds_left(stop: StoppingRule, seconds: float) -> float | None:
    """Return how many seconds a rule leaves at most; None if it is not about time.

    Parameters
    ----------
    stop : StoppingRule
        With a method ``left`` if it is.
    seconds : float
        Since the search began.

    Examples
    --------
    >>> seconds_left(First(After(60), Stalled(5)), 20.0), seconds_left(Stalled(5), 20.0)
    (40.0, None)
    """
    left: Callable[[float], float | None] | None = getattr(stop, "left", None)
    return None if left is None else left(seconds)


def within_round(stop: StoppingRule, state: SearchState) -> Callable[[], bool]:
    """Return what says whether to stop in the middle of a round.

    Parameters
    ----------
    stop : StoppingRule
        The rule.
    state : SearchState
        When the round began. A task may have waited for its worker since then.
    """
    waited = max(0.0, time.time() - state.noted) if state.noted else 0.0
    began = time.monotonic() - state.seconds - waited
    return lambda: stop(replace(state, seconds=time.monotonic() - began))
