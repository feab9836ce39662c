"""Weights from the best mix of patterns: what a piece is worth at the least.

Which patterns to cut, any share of a container allowed, is a linear program. Its dual
prices are weights, and the most that a container holds of them is found under rules that
allow more than geometry does; fillings that turn out not to fit are ruled out. Patterns are
added as long as one holds more than its container costs; given up early, what containers
can hold at most still proves a bound.

References
----------
P. C. Gilmore, R. E. Gomory, "A linear programming approach to the cutting-stock
problem", Operations Research 9 (1961) 849-859.
A. A. Farley, "A note on bounding a class of linear programming problems, including
cutting stock problems", Operations Research 38 (1990) 922-923.
P. Wentges, "Weighted Dantzig-Wolfe decomposition for linear mixed-integer programming",
International Transactions in Operational Research 4 (1997) 151-162.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import linprog

from nestlib.packing.bounds.case import Case
from nestlib.packing.bounds.pattern_rules import PatternRules
from nestlib.packing.bounds.weighting import Weighting

IntArray = NDArray[np.int64]
FloatArray = NDArray[np.float64]

#: Dual prices count in parts of this of the largest price of a container.
_DIGITS = 10**6

#: Effort and calls of all rounds, in the solver's unit.
_EFFORT, _CALLS = 0.75, 450

#: Effort of one search at first, and at most: doubled whenever nothing more is found and a
#: search was given up, which proves little.
_SEARCH, _LONGEST = 0.02, 0.64

#: Most rounds, and most rounds times the square of the number of kinds.
_ROUNDS, _WORK = 250, 1_000_000

#: Where this many pieces fill the largest sheet, mixes hardly say more than their area.
_CROWDED = 25

#: Kinds beyond this number take too long.
_KINDS = 400

#: A pattern has to be worth more than its container costs by this part.
_GAIN = 1e-5

#: How far weights stay near the best ones so far.
_NEAR = 0.5


class Mixes:
    """Looks for the best weights at some prices, and goes on where it stopped.

    Parameters
    ----------
    case : Case
        What has to lie where.
    rules : sequence of PatternRules
        For each kind of container.
    prices : sequence of int
        Of each kind of container; 1 each to count them.
    first : Weighting
        Weights to begin with.
    """

    def __init__(
        self, case: Case, rules: Sequence[PatternRules], prices: Sequence[int], first: Weighting
    ) -> None:
        self.case, self.rules, self.prices = case, rules, prices
        crowded = first.total(case) * _CROWDED < case.pieces * max(first.capacities)
        crowded &= not case.conditioned
        #: Whether nothing more can be found; from the first where weights would say too little.
        self.ended = max(prices) == 0 or crowded or len(case.kinds) > _KINDS
        #: The best weights that were found, and the best before.
        self.kept: list[Weighting] = []
        if self.ended:
            return
        self.worth = np.array(prices, dtype=float) / max(prices)
        self.centre, self.best = _scaled(first, self.worth), -np.inf
        self.look = _SEARCH
        self.master = _Master(case, self.worth)
        for space, rule in enumerate(rules):
            for i, n in enumerate(rule.most):
                if n:
                    self.master.add(space, np.eye(1, len(case.kinds), i, dtype=np.int64)[0] * n)

    def search(self, known: int, effort: float, over: Callable[[], bool]) -> None:
        """Look for better weights than those that are kept.

        Parameters
        ----------
        known : int
            A bound that is proved already; the search ends where it cannot be surpassed.
        effort : float
            Part of the usual effort that may be spent on top of what was spent before.
        over : callable
            Asked before and within each look whether to stop with what was found.
        """
        kinds, before = len(self.case.kinds), _spent(self.rules)
        rounds = min(_ROUNDS, _WORK // kinds**2)
        for done in range(rounds):
            if self.ended or over():
                break
            self._look(known, guess=2 * done < rounds, over=over)
            if _spent(self.rules) - before > effort:
                break

    def _look(self, known: int, guess: bool, over: Callable[[], bool]) -> None:
        """Leave out a pattern that does not fit, add one that pays, or prove a bound."""
        priced = self.master.prices()
        if priced is None:
            self.ended = True
            return
        values, total = priced
        if _next_price(total * max(self.prices), self.prices) <= known:
            self.ended = not _refitted(self.rules, self.master, over) and not over()
        elif not (_added_guesses(self.master, self.rules, values, self.worth) and guess):
            self._improve(values, total, over)

    def _improve(self, values: FloatArray, total: float, over: Callable[[], bool]) -> None:
        """Prove a bound near the best weights so far."""
        rules, target = self.rules, _NEAR * self.centre + (1 - _NEAR) * values
        held, gained = _searched(self.master, rules, target, values, self.worth, self.look, over)
        bound = _proved(self.case, target, held, self.worth)
        if bound > self.best:
            self.best, self.centre = bound, target
            self.kept = [_weighting(target, held), *self.kept[:1]]
        if over():
            return  # what was cut short tells nothing of where to look next
        settled = bound >= total * (1 - _GAIN)
        if not settled and not gained:
            again, self.centre = np.array_equal(self.centre, values), values
            if any(rule.gave_up for rule in rules) and self.look < _LONGEST:
                self.look = min(2 * self.look, _LONGEST)
            else:
                settled = again  # the same would be found once more
        if settled:
            fits = not _refitted(rules, self.master, over) and not over()
            self.ended = fits and all(r.exact for r in rules)
            for rule in rules:
                rule.exact = True


def _refitted(rules: Sequence[PatternRules], master: _Master, over: Callable[[], bool]) -> bool:
    """Leave out patterns that do not fit; False if all that were tried of the best mix may."""
    before = len(master.patterns)
    # Patterns that came after the best mix have no share in it.
    for rule, pattern, share in zip(*master.with_rules(rules), master.mix, strict=False):
        if share > _GAIN and not over():
            rule.refit(pattern)
    master.keep([r.allows(p) for r, p in zip(*master.with_rules(rules), strict=True)])
    return len(master.patterns) < before


class _Master:
    """The linear program of patterns."""

    def __init__(self, case: Case, worth: FloatArray) -> None:
        self.numbers = np.array(case.numbers, dtype=float)
        self.worth = worth
        self.stock = np.array([s.stock for s in case.spaces], dtype=float)
        self.spaces: list[int] = []
        self.patterns: list[IntArray] = []
        #: How much of each pattern is in the best mix.
        self.mix: list[float] = []

    def add(self, space: int, pattern: IntArray) -> None:
        self.spaces.append(space)
        self.patterns.append(pattern)

    def with_rules(
        self, rules: Sequence[PatternRules]
    ) -> tuple[list[PatternRules], list[IntArray]]:
        """The rules of the container of every pattern, and the pattern."""
        return [rules[k] for k in self.spaces], self.patterns

    def keep(self, wanted: Sequence[bool]) -> None:
        """Leave out all other patterns."""
        self.spaces = [k for k, keep in zip(self.spaces, wanted, strict=True) if keep]
        self.patterns = [p for p, keep in zip(self.patterns, wanted, strict=True) if keep]

    def prices(self) -> tuple[FloatArray, float] | None:
        """Dual prices of the pieces, and the value of the best mix; None if that fails."""
        if not self.patterns:
            return None
        kinds = len(self.numbers)
        made = np.hstack([np.array(self.patterns).T, np.eye(kinds)])
        used = np.zeros((len(self.stock), made.shape[1]))
        used[self.spaces, range(len(self.spaces))] = 1.0
        # A piece that is left out costs more than any container.
        cost = [*self.worth[self.spaces], *[10.0] * kinds]
        result = linprog(
            cost,
            A_ub=np.vstack([-made, used]),
            b_ub=np.concatenate([-self.numbers, self.stock]),
        )
        if result.status != 0:
            return None
        self.mix = result.x[: len(self.patterns)].tolist()
        self.scarce = np.maximum(0.0, -result.ineqlin.marginals[kinds:])
        return np.maximum(0.0, -result.ineqlin.marginals[:kinds]), float(result.fun)


def _spent(rules: Sequence[PatternRules]) -> float:
    """Part of the allowed effort."""
    return sum(
        (r.effort + r.fitting.effort) / _EFFORT + (r.solved + r.fitting.solved) / _CALLS
        for r in rules
    )


def _next_price(total: float, prices: Sequence[int]) -> int:
    """The least common multiple of a unit of all prices that reaches a total."""
    unit = math.gcd(*prices)
    return math.ceil(total / unit * (1 - _GAIN)) * unit


def _added_guesses(
    master: _Master, rules: Sequence[PatternRules], values: FloatArray, worth: FloatArray
) -> bool:
    """Add patterns that are easily found to be worth more than they cost."""
    added = False
    for space, rule in enumerate(rules):
        pattern = rule.guess(_whole(values))
        if values @ pattern > (worth + master.scarce)[space] + _GAIN:
            master.add(space, pattern)
            added = True
    return added


def _searched(
    master: _Master,
    rules: Sequence[PatternRules],
    target: FloatArray,
    values: FloatArray,
    worth: FloatArray,
    effort: float,
    over: Callable[[], bool],
) -> tuple[list[int], bool]:
    """Find the most that each container holds, and add the patterns that pay."""
    held, gained = [], False
    for space, rule in enumerate(rules):
        most, pattern = rule.best(_whole(target), effort, over)
        held.append(most)
        if values @ pattern > (worth + master.scarce)[space] + _GAIN:
            master.add(space, pattern)
            gained = True
    return held, gained


def _proved(case: Case, values: FloatArray, held: Sequence[int], worth: FloatArray) -> float:
    """The least cost of shares of containers that hold everything."""
    total, cost = float(_whole(values) @ np.array(case.numbers)), 0.0
    real = [k for k, h in enumerate(held) if h]
    for k in sorted(real, key=lambda k: worth[k] / held[k]):
        share = min(case.spaces[k].stock, max(total, 0.0) / held[k])
        cost += share * float(worth[k])
        total -= share * held[k]
    return cost


def _scaled(first: Weighting, worth: FloatArray) -> FloatArray:
    """Weights in the unit of prices."""
    held = np.array(first.capacities, dtype=float)
    rate = min((w / h for w, h in zip(worth, held, strict=True) if h), default=0.0)
    return np.array(first.weights, dtype=float) * rate


def _whole(values: FloatArray) -> IntArray:
    return np.floor(values * _DIGITS + 0.5).astype(np.int64)


def _weighting(values: FloatArray, held: Sequence[int]) -> Weighting:
    return Weighting(
        tuple(map(int, _whole(values))), tuple(held), "mixes of parts that a sheet can hold at most"
    )
