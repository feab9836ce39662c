"""One try to make a shorter layout; what it finds depends on nothing but its task."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from nestlib.engine.compaction import Bounds, compact
from nestlib.engine.lattice import to_lattice
from nestlib.engine.lattice_places import map_size
from nestlib.engine.layouts import Board, Snapshot
from nestlib.engine.overlap import Shapes
from nestlib.engine.problem import CONTACT, StripProblem
from nestlib.engine.relocation import Effort, workspace
from nestlib.engine.rng import stream
from nestlib.engine.separation import Way, by_samples, collisions, progress, separate

#: Parts swept between two looks at the clock.
_GLANCE = 800


@dataclass(frozen=True)
class Task:
    """What a try starts from.

    Parameters
    ----------
    start : Snapshot
        A layout.
    length : float
        Length to which the strip is cut or stretched first.
    exchange : bool
        Whether two large parts are swapped first.
    seed : tuple of int
        Seed of its random numbers.
    stall, strikes : int
        When to give up, see `separate`.
    mend : float
        Layouts that overlap less than this are handed to the linear program as well.
    soft : float
        Overlaps no deeper than this do not count.
    lattice : int
        Number of the lattice, among those of the problem, on which the parts lie; then
        overlaps that this forgives do not count. Negative: they lie anywhere.
    """

    start: Snapshot
    length: float
    exchange: bool
    seed: tuple[int, ...]
    stall: int
    strikes: int
    mend: float
    soft: float
    lattice: int = -1


@dataclass(frozen=True)
class Found:
    """What a try found.

    Parameters
    ----------
    snap : Snapshot
        The layout with the least overlap.
    exact : Snapshot or None
        A layout without any overlap made from it.
    counts : ndarray of int64, shape (4,)
        Evaluations, searches for a place, sweeps, linear programs.
    """

    snap: Snapshot
    exact: Snapshot | None
    counts: np.ndarray


class Worker:
    """Scratch memory of one try at a time.

    Parameters
    ----------
    problem : StripProblem
        The parts.
    effort : Effort
        How hard to look for places.
    """

    def __init__(self, problem: StripProblem, effort: Effort) -> None:
        self.problem, self.sampling = problem, by_samples(effort)
        self.board = Board(problem)
        self.soft, self.total = np.zeros(1), np.zeros(0, np.float32)
        self.shapes = Shapes(problem.cat, problem.shapes.fld._replace(soft=self.soft))
        self.scratch = workspace(problem.cat, len(problem.kind), stream(0))

    def separated(
        self,
        seed: tuple[int, ...],
        soft: float,
        stall: int,
        strikes: int,
        over: Callable[[], bool],
        lattice: int = -1,
    ) -> Snapshot:
        """Move the parts apart; return the layout with the least overlap."""
        board, ws = self.board, self.scratch
        ws.rng[:] = stream(*seed)
        self.soft[0] = soft + CONTACT
        pro, room = progress(len(self.problem.kind)), board.room
        way = self.sampling if lattice < 0 else self._on_lattice(lattice)
        sweeps = _GLANCE // len(self.problem.kind) + 1
        while not separate(self.shapes, board.layout, pro, ws, room, way, stall, strikes, sweeps):
            if over():
                break
        return Snapshot(board.length, pro.turn, pro.x, pro.y, float(pro.loss[0]))

    def _on_lattice(self, number: int) -> Way:
        """Move the parts onto a lattice; return the way to look for places on it."""
        lattice, board = self.problem.lattices[number], self.board
        to_lattice(self.shapes, lattice, board.layout, board.room)
        self.soft[0] = lattice.soft
        size = map_size(lattice, board.length, self.problem.width)
        if len(self.total) < size:
            self.total = np.empty(size, np.float32)
        return Way(self.sampling.effort, lattice, self.total)

    def try_out(self, task: Task, over: Callable[[], bool]) -> Found:
        """Carry a task out."""
        random = np.random.default_rng(task.seed)
        self.scratch.counts[:] = 0
        self.board.restore(task.start)
        slices = self.board.slices(task.length)
        if task.length != task.start.length:
            self.board.resize(task.length, random)
        if task.exchange:
            self.board.exchange(random)
        snap = self.separated(task.seed, task.soft, task.stall, task.strikes, over, task.lattice)
        snap = self._relieved(task, snap, slices, over)
        exact = None
        if snap.loss == 0.0 or (snap.loss < task.mend and not over()):
            exact = self.exact(snap, over)
        return Found(snap, exact, self.scratch.counts.copy())

    def _relieved(
        self, task: Task, snap: Snapshot, slices: int, over: Callable[[], bool]
    ) -> Snapshot:
        """Give slices back where parts still overlap, all but one, until none do."""
        back = (task.start.length - task.length) / slices
        for k in range(1, slices if back > 0.0 else 1):
            if snap.loss == 0.0 or over():
                break
            self.board.restore(snap)
            self.board.stretch(back, self._worst_place())
            snap = self.separated(
                (*task.seed, k), task.soft, task.stall // 2, 1, over, task.lattice
            )
        return snap

    def _worst_place(self) -> float:
        """Return where along the strip two parts are deepest in each other."""
        lay = self.board.layout
        pairs, depths = np.zeros((20 * len(lay.x), 2), np.int64), np.zeros(20 * len(lay.x))
        found = collisions(self.shapes, lay, self.scratch, pairs, depths)
        i, j = pairs[int(np.argmax(depths[:found]))]
        return float(lay.x[i] + lay.x[j]) / 2

    def exact(self, snap: Snapshot, over: Callable[[], bool] = lambda: False) -> Snapshot | None:
        """Make a layout exact and as short as small moves can make it."""
        self.scratch.counts[3] += 1
        p = self.problem
        bounds = Bounds(p.width, snap.length if len(p.walls) else np.inf, p.movable)
        found = compact(p.cat, p.pieces, snap.turn, snap.x, snap.y, bounds, over=over)
        return None if found is None else Snapshot(found[0], snap.turn, found[1], found[2])
