"""Which pieces may fill one container, as far as the rules of the bound can tell.

The most that a container holds of any weight, under these rules, is an integer program.
They allow more than geometry does, so no true filling is lost.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

import numpy as np
from numpy.typing import NDArray
from ortools.sat.python import cp_model

from nestlib.packing.bounds.case import Case
from nestlib.packing.bounds.fitting import Fitting
from nestlib.packing.bounds.together import grown
from nestlib.packing.bounds.weighting import WHOLE, shares
from nestlib.packing.sheets import solver

IntArray = NDArray[np.int64]

#: Arguments that a filling may break before it is given up to repair it, and how often
#: it may turn out not to fit.
_REPAIRS, _MISFITS = 8, 12


class PatternRules:
    """The rules for one kind of container.

    Parameters
    ----------
    case : Case
        What has to lie where.
    space : int
        Which kind of container.
    conflicts : ndarray of bool, shape (kinds, kinds)
        Kinds that cannot lie together.
    weights : ndarray of int, shape (arguments, kinds)
        Weights of which it holds no more than `WHOLE`.
    """

    def __init__(
        self, case: Case, space: int, conflicts: NDArray[np.bool_], weights: IntArray
    ) -> None:
        self.conflicts, self.weights = conflicts, weights
        area = max(case.spaces[space].area, 1e-300)
        self.rows = [np.array(shares([k.area for k in case.kinds], area), dtype=np.int64)]
        largest = np.maximum(self.rows[0], weights.max(axis=0, initial=0) if len(weights) else 0)
        self.most = [
            _most(k.most, int(largest[i]), bool(conflicts[i, i])) if lyings else 0
            for i, (k, lyings) in enumerate(zip(case.kinds, case.lyings[space], strict=True))
        ]
        #: What looking has taken so far, in the solver's own unit and in calls.
        self.effort, self.solved = 0.0, 0
        #: Whether the last look for the most that it holds was given up.
        self.gave_up = False
        self.fitting = Fitting(case, space, self.most)
        #: Whether fillings are also tried by an exact search.
        self.exact = False
        self.cliques = _cliques(conflicts, [i for i, n in enumerate(self.most) if n])

    def guess(self, values: IntArray) -> IntArray:
        """Return a valuable filling, found piece by piece."""
        density = values / np.maximum(self.rows[0], 1)
        filling = np.zeros(len(values), dtype=np.int64)
        left = [WHOLE] * len(self.rows)
        for i in np.argsort(-density, kind="stable"):
            if values[i] <= 0 or not self.most[i] or self.conflicts[i, filling > 0].any():
                continue
            need = [int(row[i]) for row in self.rows]
            number = min(
                self.most[i], *(room // n for room, n in zip(left, need, strict=True) if n)
            )
            filling[i] = number
            left = [room - n * number for room, n in zip(left, need, strict=True)]
        return filling

    def best(
        self, values: IntArray, effort: float, over: Callable[[], bool] = lambda: False
    ) -> tuple[int, IntArray]:
        """Return the most that a container holds, and a filling.

        Parameters
        ----------
        values : ndarray of int
            Of one piece of each kind, 0 or more.
        effort : float
            When to give up looking, in the solver's own unit.
        over : callable
            Asked before each look whether to stop with what is known.

        Returns
        -------
        int
            No filling is worth more, however early the solver gave up.
        ndarray of int
            How many of each kind.
        """
        bound = int(values @ np.array(self.most))
        filling = np.zeros(len(values), dtype=np.int64)
        for _ in range(_REPAIRS + self.exact * _MISFITS):
            if over():
                break
            limit, filling = self._solve(values, effort)
            bound = min(bound, limit)
            if not self._repair(filling) and not (self.exact and self.refit(filling)):
                break
        return bound, filling

    def allows(self, filling: IntArray) -> bool:
        """Return whether a filling keeps the rules taken up so far."""
        return all(int(row @ filling) <= WHOLE for row in self.rows)

    def refit(self, filling: IntArray) -> bool:
        """Take up that a filling does not fit, if that can be told; return whether it was."""
        row = self.fitting.forbids(filling)
        if row is not None:
            self.rows.append(row)
        return row is not None

    def _repair(self, filling: IntArray) -> bool:
        """Take up the argument that a filling breaks most, if there is one."""
        if not len(self.weights):
            return False
        held = self.weights @ filling
        worst = int(np.argmax(held))
        if held[worst] <= WHOLE:
            return False
        self.rows.append(self.weights[worst])
        return True

    def _solve(self, values: IntArray, effort: float) -> tuple[int, IntArray]:
        model = cp_model.CpModel()
        used = [i for i, n in enumerate(self.most) if n and values[i] > 0]
        number = {i: model.new_int_var(0, self.most[i], "") for i in used}
        for row in self.rows:
            model.add(sum(int(row[i]) * number[i] for i in used) <= WHOLE)
        present: dict[int, cp_model.IntVar] = {}
        for clique in self.cliques:
            members = [i for i in clique if i in number]
            for i in members:
                if i not in present:
                    present[i] = self._present(model, number[i], self.most[i])
            model.add_at_most_one([present[i] for i in members])
        model.maximize(sum(int(values[i]) * number[i] for i in used))
        run = solver(0, effort)
        status = run.solve(model)
        self.effort += run.response_proto.deterministic_time
        self.solved += 1
        self.gave_up = status != cp_model.OPTIMAL
        filling = np.zeros(len(values), dtype=np.int64)
        if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
            return int(values @ np.array(self.most)), filling
        for i in used:
            filling[i] = run.value(number[i])
        return math.floor(run.best_objective_bound + 1e-6), filling

    @staticmethod
    def _present(model: cp_model.CpModel, number: cp_model.IntVar, most: int) -> cp_model.IntVar:
        present = model.new_bool_var("")
        model.add(number <= most * present)
        return present


def _most(pieces: int, share: int, alone: bool) -> int:
    return min(pieces, 1 if alone else pieces, WHOLE // max(share, 1))


def _cliques(conflicts: NDArray[np.bool_], kinds: Sequence[int]) -> list[list[int]]:
    """Cover all pairs of kinds that cannot lie together by cliques."""
    open_pairs = np.zeros_like(conflicts)
    open_pairs[np.ix_(kinds, kinds)] = conflicts[np.ix_(kinds, kinds)]
    np.fill_diagonal(open_pairs, False)
    cliques = []
    for i in kinds:
        while open_pairs[i].any():
            j = int(np.argmax(open_pairs[i]))
            order = [j, *(int(k) for k in np.nonzero(open_pairs[i])[0] if k != j)]
            rest = [k for k in kinds if k not in order and k != i]
            clique = grown(i, order + rest, conflicts)
            open_pairs[np.ix_(clique, clique)] = False
            cliques.append(clique)
    return cliques
