"""Do these pieces fit into one container at all? An exact search with the cores of pieces.

Rectangles that do not go into the box around a room by any layout show that what covers
them does not either. That forbids all fillings that hold such pieces or larger ones.

References
----------
F. Clautiaux, J. Carlier, A. Moukrim, "A new exact method for the two-dimensional
orthogonal packing problem", European Journal of Operational Research 183 (2007)
1196-1211.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray
from ortools.sat.python import cp_model

from nestlib.packing.bounds.case import Case
from nestlib.packing.bounds.dual_feasible import cores_in_units
from nestlib.packing.bounds.weighting import WHOLE
from nestlib.packing.sheets import solver

IntArray = NDArray[np.int64]

#: Most pieces, and most ways to lie of one, that are searched for.
_PIECES, _WAYS = 10, 4

#: Effort of one search, in the solver's own unit.
_EFFORT = 0.01


class Fitting:
    """What does not fit into one kind of container.

    Parameters
    ----------
    case : Case
        What has to lie where.
    space : int
        Which kind of container.
    most : sequence of int
        Of each kind, how many pieces it may hold.
    """

    def __init__(self, case: Case, space: int, most: Sequence[int]) -> None:
        self.most = most
        self.cores, self.room = cores_in_units(case, space)
        #: A piece in the hole of another lies within its core.
        self.plain = [not any(inside) for inside in case.nested]
        self.effort, self.solved = 0.0, 0
        self.known: dict[tuple[int, ...], bool] = {}

    def forbids(self, filling: IntArray) -> IntArray | None:
        """Return weights that a filling breaks and no possible one does.

        Parameters
        ----------
        filling : ndarray of int
            How many pieces of each kind.

        Returns
        -------
        ndarray of int, or None
            Of each kind; a container holds no more than `WHOLE` of them. None if the
            pieces fit, or if that could not be told.
        """
        pieces = [int(i) for i in np.nonzero(filling)[0] for _ in range(filling[i])]
        if not self._can_be_told(pieces) or not self._never_fit(pieces):
            return None
        for piece in sorted(pieces, key=lambda i: self._size(i)):
            fewer = pieces.copy()
            fewer.remove(piece)
            if len(fewer) > 1 and self._never_fit(fewer):
                pieces = fewer
        return self._weights(pieces)

    def _can_be_told(self, pieces: Sequence[int]) -> bool:
        return 1 < len(pieces) <= _PIECES and all(
            self.plain[i] and 0 < len(self.cores[i]) <= _WAYS for i in pieces
        )

    def _size(self, kind: int) -> int:
        return min(w * h for w, h in self.cores[kind])

    def _weights(self, pieces: Sequence[int]) -> IntArray | None:
        """Let no filling hold as many of the pieces, or of larger ones in their place."""
        larger = [self._is_larger(k, pieces) for k in range(len(self.cores))]
        if any(pieces.count(i) < self.most[i] and not larger[i] for i in pieces):
            return None  # more of the same might fit without the others
        counted = np.array(larger)
        counted[list(pieces)] = True
        return np.where(counted, WHOLE // (len(pieces) - 1), 0).astype(np.int64)

    def _is_larger(self, kind: int, pieces: Sequence[int]) -> bool:
        """Whether a piece, however it lies, covers each of some others in some way to lie."""
        return bool(self.plain[kind] and self.cores[kind]) and all(
            any(a <= w and b <= h for a, b in self.cores[i])
            for i in set(pieces)
            for w, h in self.cores[kind]
        )

    def _never_fit(self, pieces: Sequence[int]) -> bool:
        key = tuple(pieces)
        if key not in self.known:
            self.known[key] = self._solve(pieces)
        return self.known[key]

    def _solve(self, pieces: Sequence[int]) -> bool:
        model = cp_model.CpModel()
        spans: tuple[list[cp_model.IntervalVar], ...] = ([], [])
        for i in pieces:
            ways = [model.new_bool_var("") for _ in self.cores[i]]
            model.add_exactly_one(ways)
            for way, core in zip(ways, self.cores[i], strict=True):
                for axis, (side, size) in enumerate(zip(core, self.room, strict=True)):
                    at = model.new_int_var(0, size - side, "")
                    spans[axis].append(
                        model.new_optional_fixed_size_interval_var(at, side, way, "")
                    )
        model.add_no_overlap_2d(*spans)
        run = solver(0, _EFFORT)
        status = run.solve(model)
        self.effort += run.response_proto.deterministic_time
        self.solved += 1
        return bool(status == cp_model.INFEASIBLE)
