"""Layouts of a strip that are kept, and changes of the layout in hand."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from nestlib.engine.catalogue import Floats, Ints
from nestlib.engine.grid import grid
from nestlib.engine.overlap import Layout, put_all
from nestlib.engine.problem import StripProblem


@dataclass(frozen=True)
class Snapshot:
    """A layout that is kept.

    Parameters
    ----------
    length : float
        Length of the strip in units.
    turn, x, y : ndarray, shape (n,)
        Orientation and reference point of each part.
    loss : float
        How much its parts overlap.
    """

    length: float
    turn: Ints
    x: Floats
    y: Floats
    loss: float = 0.0


#: Of a strip with many parts one slice is taken out for so many of them, but none thinner
#: than this, in sides of the mean part.
_SLICED = 100
_THIN = 0.05

#: No layout at all.
NOTHING = Snapshot(np.inf, np.zeros(0, np.int64), np.zeros(0), np.zeros(0), np.inf)


def scattered(problem: StripProblem, density: float, random: np.random.Generator) -> Snapshot:
    """Throw the parts at random into a strip of which they cover about this share."""
    cat, kind = problem.cat, problem.kind
    longest = float((cat.box[:, 2] - cat.box[:, 0]).max())
    length = max(problem.movable / density / problem.width, longest)
    turn = random.integers(cat.first[kind], cat.first[kind + 1])
    x, y = (random.uniform(0.0, most, len(kind)) for most in (length, problem.width))
    return Snapshot(length, turn, x, y, np.inf)


class Board:
    """A strip with parts on it that can be changed.

    Parameters
    ----------
    problem : StripProblem
        The parts.
    """

    def __init__(self, problem: StripProblem) -> None:
        n = len(problem.kind)
        self.problem, self.length = problem, 0.0
        self.layout = Layout(
            problem.kind,
            np.zeros(n, np.int64),
            np.zeros(n),
            np.zeros(n),
            np.zeros((4, n)),
            grid(problem.cat, n, 2 * n / problem.width, problem.width),
            problem.movable,
        )

    def slices(self, length: float) -> int:
        """Return at how many places `resize` would cut the strip."""
        thick = int(abs(length - self.length) / _THIN)
        return max(1, min(thick, 1 + self.problem.movable // _SLICED))

    @property
    def room(self) -> Floats:
        """Return the box in which the parts must lie."""
        return np.array([0.0, 0.0, self.length, self.problem.width])

    def place(self, turn: Ints, x: Floats, y: Floats) -> None:
        """Place all parts, as near as possible within the strip."""
        x, y, m = x.copy(), y.copy(), self.problem.movable
        x[m:], y[m:] = self.problem.walls.T
        put_all(self.problem.cat, self.layout, self.room, turn, x, y)

    def restore(self, snap: Snapshot) -> None:
        """Lay the parts as they were."""
        self.length = snap.length
        self.place(snap.turn, snap.x, snap.y)

    def resize(self, length: float, random: np.random.Generator) -> None:
        """Take slices out of the strip, or put some in, at random places."""
        slices = self.slices(length)
        more = (length - self.length) / slices
        at = np.sort((np.arange(slices) + random.random(slices)) * self.length / slices)
        passed = np.searchsorted(at, (self.layout.box[0] + self.layout.box[2]) / 2)
        self.length = length
        self.place(self.layout.turn, self.layout.x + more * passed, self.layout.y)

    def stretch(self, by: float, at: float) -> None:
        """Put a slice in at a place."""
        beyond = (self.layout.box[0] + self.layout.box[2]) / 2 > at
        self.length += by
        self.place(self.layout.turn, self.layout.x + by * beyond, self.layout.y)

    def throw(self, chosen: Ints, random: np.random.Generator) -> None:
        """Throw some parts in at random.

        One that would be too high for the room keeps its turn.
        """
        first, kind, n = self.problem.cat.first, self.layout.kind[chosen], len(chosen)
        turn, x, y = self.layout.turn.copy(), self.layout.x.copy(), self.layout.y.copy()
        new = random.integers(first[kind], first[kind + 1])
        turn[chosen] = np.where(self._is_low(new), new, turn[chosen])
        x[chosen], y[chosen] = (
            random.uniform(0.0, self.length, n),
            random.uniform(0.0, self.problem.width, n),
        )
        self.place(turn, x, y)

    def _is_low(self, turn: Ints) -> NDArray[np.bool_]:
        """Tell which orientations are no higher than the room, but for rounding."""
        box = self.problem.cat.box
        return np.asarray(box[turn, 3] - box[turn, 1] <= self.problem.width * (1.0 + 2e-9))

    def give_each_other(self, chosen: Ints) -> None:
        """Let some parts take each other's places, one round."""
        x, y = self.layout.x.copy(), self.layout.y.copy()
        x[chosen], y[chosen] = np.roll(x[chosen], 1), np.roll(y[chosen], 1)
        self.place(self.layout.turn, x, y)

    def exchange(self, random: np.random.Generator) -> None:
        """Swap two large unlike parts: those with the larger hulls that hold 3/4 of all.

        Parts that are all alike are thrown in anew, two to four of them: to swap them would
        change nothing.
        """
        m = self.problem.movable
        size, kind = self.problem.size[:m], self.layout.kind[:m]
        order = np.argsort(-size, kind="stable")
        total = np.cumsum(size[order])
        large = order[: max(2, int(np.searchsorted(total, 0.75 * total[-1])) + 1)]
        i = int(random.choice(large))
        others = [j for j in large if kind[j] != kind[i]]
        if not others:
            others = [j for j in range(len(kind)) if kind[j] != kind[i]]
        if others:
            self.give_each_other(np.array([i, int(random.choice(others))]))
        else:
            self.throw(random.permutation(m)[: random.integers(2, 5)], random)
