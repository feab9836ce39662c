"""Exact periodic arrangements, from rough ones, by linear programs.

Steps and places of pieces in a cell are the variables. Two pieces are kept apart by the line
that separates them best, which is linear in the variables; the area of the cell is made
linear around the present one, and is trusted within a small distance only.

References
----------
R. Fletcher, "Practical Methods of Optimization", 2nd ed., Wiley 1987, chapter 12: sequential
linear programming with a trust region and an exact penalty.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.optimize import linprog
from shapely import Polygon

from nestlib.packing.kernels import FloatArray, IntArray
from nestlib.packing.repeats.guesses import Guess
from nestlib.packing.repeats.no_fit import NoFit
from nestlib.packing.repeats.steps import multiples, reduced

#: Linear programs for one arrangement at most.
_MOST = 60

#: Change that is trusted at first, and that ends the search, in parts of the piece's reach.
_TRUSTED, _SETTLED = 0.06, 1e-7

#: Pieces touch up to this depth, in parts of their reach; if they lie deeper in each other by
#: rounding, they are moved so far apart. Both are below what counts as touching on a board.
_TOUCHING, _APART = 2e-11, 2e-9

#: What an overlap counts for, as area: no step of the cell is so many reaches long.
_PENALTY = 20.0

#: Cells further away than this many steps are not looked at.
_MANY = 400


@dataclass(frozen=True, eq=False)
class Meeting:
    """Two pieces of a cell, and how they must not lie.

    Parameters
    ----------
    first, second : int
        Their numbers in the cell.
    no_fit : NoFit
        Displacements of the second, seen from the first, that overlap.
    """

    first: int
    second: int
    no_fit: NoFit


def meetings(outline: Polygon, other: Polygon | None) -> list[Meeting]:
    """Return all pairs of pieces of a cell.

    Parameters
    ----------
    outline : shapely.Polygon
        The first piece.
    other : shapely.Polygon, optional
        The second one: the first turned by 180 degrees, so that two of it meet as two of
        the first do.
    """
    pairs = [Meeting(0, 0, NoFit.of(outline, outline))]
    return pairs if other is None else [*pairs, Meeting(0, 1, NoFit.of(outline, other))]


def polished(guess: Guess, pairs: list[Meeting], seed: int) -> tuple[FloatArray, FloatArray] | None:
    """Return the steps and the places in the cell of the densest arrangement near a guess.

    Parameters
    ----------
    guess : Guess
        Where to begin.
    pairs : list of Meeting
        How pieces must not lie.
    seed : int
        Of the choice among lines that separate equally well.

    Returns
    -------
    steps : ndarray, shape (2, 2)
    beside : ndarray, shape (k, 2)
        None if no arrangement without overlaps was found.
    """
    reach = float(max(m.no_fit.reach.max() for m in pairs))
    polish = _Polish(guess, [_in_reaches(m, reach) for m in pairs], reach, seed)
    return polish.run()


def _in_reaches(meeting: Meeting, reach: float) -> Meeting:
    return Meeting(meeting.first, meeting.second, meeting.no_fit.scaled(reach, reach))


class _Polish:
    """One arrangement while it is made denser; lengths are in parts of the reach."""

    def __init__(self, guess: Guess, pairs: list[Meeting], reach: float, seed: int) -> None:
        self.pairs, self.reach, self.row = pairs, reach, guess.row
        self.random = np.random.default_rng(seed)
        steps = guess.steps if guess.row else reduced(guess.steps)
        self.at = np.concatenate([steps.ravel(), guess.beside.ravel()]) / reach

    def run(self) -> tuple[FloatArray, FloatArray] | None:
        """Improve until nothing changes any more."""
        trust, merit = min(_TRUSTED, 0.3 * abs(_area(self.at))), self._merit(self.at)
        for _ in range(_MOST):
            new = self._step(trust)
            found = np.inf if new is None or self._collapses(new) else self._merit(new)
            if new is not None and found < merit - 1e-13:
                gain, merit, self.at = merit - found, found, new
                trust *= 1.0 if gain > 0.01 * trust else 0.5
                self._reduce()
            else:
                trust *= 0.4
            if trust < _SETTLED:
                break
        if self._overlap(self.at) > _TOUCHING:
            apart = self._step(1e3 * _APART, _APART)
            if apart is None or self._overlap(apart) > _TOUCHING:
                return None
            self.at = apart
        parts = self.at.reshape(-1, 2) * self.reach
        return parts[:2], parts[2:]

    def _collapses(self, new: FloatArray) -> bool:
        """Whether a step went too far for overlaps to tell anything."""
        return abs(_area(new)) < 0.5 * abs(_area(self.at))

    def _reduce(self) -> None:
        """Take shorter steps for the same arrangement, so that few of them meet."""
        if not self.row:
            self.at[:4] = reduced(self.at[:4].reshape(2, 2)).ravel()

    def _merit(self, at: FloatArray) -> float:
        return abs(_area(at)) + _PENALTY * max(0.0, self._overlap(at))

    def _overlap(self, at: FloatArray) -> float:
        """How deep pieces lie in each other at most."""
        depths = (m.no_fit.depths(self._shifts(m, at)[0]) for m in self.pairs)
        return max((float(d.max()) for d in depths if len(d)), default=0.0)

    def _shifts(self, meeting: Meeting, at: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Displacements of two pieces of cells that may meet, and the matrix that makes them."""
        steps = at[:4].reshape(2, 2)
        between = np.zeros((2, len(at)))
        for piece, sign in ((meeting.second, 1.0), (meeting.first, -1.0)):
            if piece:
                between[:, 2 + 2 * piece : 4 + 2 * piece] += sign * np.eye(2)
        times = multiples(steps, between @ at, meeting.no_fit.reach + 3 * _TRUSTED, _MANY)
        if meeting.first == meeting.second:
            times = times[(times[:, 0] > 0) | ((times[:, 0] == 0) & (times[:, 1] > 0))]
        matrix = np.repeat(between[None], len(times), axis=0)
        for k in range(2):
            matrix[:, 0, 2 * k] = matrix[:, 1, 2 * k + 1] = times[:, k]
        return matrix @ at, matrix

    def _step(self, trust: float, apart: float = 0.0) -> FloatArray | None:
        """Solve the linear program around the present arrangement; its overlaps are paid for."""
        n, area = len(self.at), _area(self.at)
        rows, limits = [], []
        for m in self.pairs:
            shifts, matrix = self._shifts(m, self.at)
            row, limit = self._lines(m, shifts, matrix, trust)
            rows.append(row)
            limits.append(limit - apart)
        rows_ = np.vstack(rows)
        a, b, c, d = self.at[:4]
        slope = np.sign(area) * np.array([d, -c, -b, a])
        cost = np.concatenate([slope, np.zeros(n - 4), [_PENALTY]])
        bounds = [(-trust, trust)] * n + [(0.0, None)]
        if self.row:
            bounds[1 if self.row == "x" else 0] = (0.0, 0.0)
        result = linprog(
            cost,
            A_ub=np.hstack([-rows_, -np.ones((len(rows_), 1))]),
            b_ub=np.concatenate(limits),
            bounds=bounds,
            options={"primal_feasibility_tolerance": 1e-10, "dual_feasibility_tolerance": 1e-10},
        )
        return self.at + result.x[:n] if result.status == 0 else None

    def _lines(
        self, m: Meeting, shifts: FloatArray, matrix: FloatArray, trust: float
    ) -> tuple[FloatArray, FloatArray]:
        """For every convex polygon that may be reached, the line that keeps off it best."""
        gaps = m.no_fit.gaps(shifts)
        best = np.maximum.reduceat(gaps, m.no_fit.start, axis=1)
        moved = np.abs(matrix).sum(axis=(1, 2)) * trust
        which, part = np.nonzero(best < moved[:, None])
        line = self._chosen(gaps, best, m.no_fit.start, which, part, trust)
        normals = m.no_fit.normals[line]
        row = np.einsum("ik,ikn->in", normals, matrix[which])
        return row, gaps[which, line]

    def _chosen(
        self,
        gaps: FloatArray,
        best: FloatArray,
        start: IntArray,
        which: IntArray,
        part: IntArray,
        trust: float,
    ) -> IntArray:
        """Choose the line of the largest gap, or by chance one that is hardly worse and apart."""
        ends = np.append(start[1:], gaps.shape[1])
        chosen = np.empty(len(which), dtype=np.int64)
        for k, (w, p) in enumerate(zip(which, part, strict=True)):
            own = gaps[w, start[p] : ends[p]]
            good = np.flatnonzero(own >= best[w, p] - min(0.1 * trust, 1e-6))
            pick = good[self.random.integers(len(good))] if len(good) > 1 else good[0]
            chosen[k] = start[p] + pick
        return chosen


def _area(at: FloatArray) -> float:
    return float(at[0] * at[3] - at[1] * at[2])
