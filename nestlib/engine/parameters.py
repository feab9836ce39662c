"""How a strip is searched."""

from __future__ import annotations

from dataclasses import dataclass, field

from nestlib.engine.relocation import Effort


@dataclass(frozen=True)
class StripParams:
    """How a strip is searched.

    Parameters
    ----------
    effort : Effort
        How hard to look for the place of one part.
    lag : int
        A try knows of no failure less than this many tries back; so many tries can run
        beside each other.
    starts : int
        Searches that begin together.
    first_tries : int
        Tries of each before as many others begin.
    start_share, opening : float
        Share of the time until one search is left, and share of that until no others begin
        and their number is halved again and again.
    soft : float
        Overlaps no deeper than this do not count before the linear program.
    mend : float
        Failed layouts that overlap less than this, for each 50 parts, are handed to the
        linear program.
    few : int
        Fewer parts than this are never laid on a lattice.
    many : int
        With more parts than this there is one start, and a try goes on from the best layout.
    long_share : float
        Share of the time until the short steps.
    long_step, least_step : float
        Longest and shortest of the long steps.
    less, more : float
        Factor of the step after `tries` failures, and after a success; with many parts it
        is taken `tries` times after every failure.
    stall, lattice_stall, strikes : int
        When a try with a long step is given up, with parts anywhere and on a lattice.
    short_first, short_last : float
        Short steps at the beginning and at the end of their time.
    short_stall : int
        When a try with a short step is given up.
    short_soft : float
        Share of `soft` during short steps.
    """

    effort: Effort = field(default_factory=lambda: Effort(50, 100, 5))
    lag: int = 16
    starts: int = 8
    first_tries: int = 24
    start_share: float = 0.6
    opening: float = 1 / 3
    soft: float = 0.003
    mend: float = 0.3
    few: int = 10
    many: int = 150
    long_share: float = 0.8
    long_step: float = 0.01
    least_step: float = 0.001
    less: float = 0.8
    more: float = 1.2
    tries: int = 3
    stall: int = 40
    lattice_stall: int = 100
    strikes: int = 2
    short_first: float = 0.005
    short_last: float = 0.0002
    short_stall: int = 40
    short_soft: float = 0.1

    def has_lattices(self, movable: int) -> bool:
        """Return whether so many parts are also laid on lattices.

        Not a few, since the rest between two places weighs too much, nor many, whose maps
        would be large.
        """
        return self.few <= movable <= self.many
