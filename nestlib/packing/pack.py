"""The packer: fill, then improve until told to stop."""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from concurrent.futures import Executor
from functools import cache
from typing import Any

from shapely import MultiPolygon, box

from nestlib import kernel_cache
from nestlib.engine.pack_sheet import warm_up
from nestlib.interrupts import plain_interrupts
from nestlib.model import Bound, Progress
from nestlib.packing.board import Board, Room
from nestlib.packing.bound import Proof, lower_bound
from nestlib.packing.filling import Filling, fill
from nestlib.packing.ideas.shared import Shared
from nestlib.packing.interface import Aims, Container, PackedSheet, Packing, Shape
from nestlib.packing.order import first_recipes
from nestlib.packing.orientations import orientations
from nestlib.packing.problem import Problem, prepare, why_unplaced
from nestlib.packing.score import missing
from nestlib.packing.search import improve
from nestlib.packing.sheets import Patterns
from nestlib.packing.stopping import StoppingRule, seconds_left
from nestlib.packing.streams import step_of

#: How often the caller is told, in seconds.
_EVERY = 0.3

#: Why pieces are missing when the user stops early.
STOPPED = "stopped before it was placed"


def pack(
    shapes: Sequence[Shape],
    containers: Sequence[Container],
    *,
    stop: StoppingRule,
    seed: int = 0,
    executor: Executor | None = None,
    on_progress: Callable[[Progress], None] | None = None,
    aims: Aims | None = None,
) -> Packing:
    """Place shapes in containers.

    Parameters
    ----------
    shapes : sequence of Shape
        What to place.
    containers : sequence of Container
        Where to place it.
    stop : StoppingRule
        When to stop improving; the first filling is always finished. Sent to the workers
        of `executor`, so it must be picklable if they are processes.
    seed : int
        Of all chance; not negative. The same seed and a rule that counts give the same
        result, whatever the number of workers.
    executor : concurrent.futures.Executor, optional
        Where to search; in this process by default.
    on_progress : callable, optional
        Told a few times in a second how far the search is.
    aims : Aims, optional
        What counts besides the price of the containers.

    Returns
    -------
    Packing
        After a KeyboardInterrupt the best so far, marked as stopped.

    Examples
    --------
    >>> from shapely import MultiPolygon, box
    >>> from nestlib.packing import Container, Iterations, Shape, pack
    >>> tile = Shape("tile", box(0, 0, 1, 1), area=1.0, quantity=4)
    >>> tray = Container("tray", MultiPolygon([box(0, 0, 2, 2)]), area=4.0)
    >>> packing = pack([tile], [tray], stop=Iterations(0))
    >>> len(packing.sheets), packing.pieces
    (1, 4)
    """
    run = _Run(shapes, on_progress)
    try:
        with plain_interrupts():
            run.run(containers, stop, seed, executor, aims)
    except KeyboardInterrupt:
        return run.result(stopped=True)
    return run.result(stopped=False)


class _Run:
    """One call of `pack`: its clock, what it tells, and what it has so far."""

    def __init__(
        self, shapes: Sequence[Shape], on_progress: Callable[[Progress], None] | None
    ) -> None:
        self.shapes, self.on_progress = shapes, on_progress
        self.began = time.monotonic()
        self.told = -1.0
        self.most = 0
        self.stop: StoppingRule | None = None
        self.first_bound: Callable[[], Bound]
        self.problem: Problem | None = None
        self.filling = Filling([], [])
        self.shared: Shared | None = None

    def run(
        self,
        containers: Sequence[Container],
        stop: StoppingRule,
        seed: int,
        executor: Executor | None,
        aims: Aims | None,
    ) -> None:
        """Fill, then improve."""
        # Told until the search has proved one with more effort; only if somebody looks on.
        self.first_bound = cache(lambda: lower_bound(self.shapes, containers, effort=0.0))
        self.compile()
        self.stop = stop  # its time begins only now
        self.problem = problem = prepare(self.shapes, containers, aims)
        if any(problem.required):
            recipes = first_recipes(problem)
            fill(problem, recipes[0], self.filling, self.tick)
            first = step_of(problem, recipes[0], self.filling.sheets)
            self.shared = shared = Shared(
                problem, stop, seed, executor, self.clock, self.report, first
            )
            shared.patterns.add(self.filling.tried)

            proof = cache(lambda: Proof(self.shapes, containers, aims=aims))
            improve(shared, recipes, lambda effort, over: proof().bound(effort, over))

    def clock(self) -> float:
        return time.monotonic() - self.began

    def compile(self) -> None:
        """Load the kernels; if they have to be compiled, say so and begin to count afterwards."""
        if not all(map(kernel_cache.ready, ("kernels", "sheet_search"))):
            self._tell(kernel_cache.COMPILING)
            # Those of the search too: workers load them then, and the user waits once.
            warm_up()
        self._load()
        self.began = time.monotonic()
        self._tell("preparing")

    def _load(self) -> None:
        square = box(0, 0, 1, 1)
        piece = orientations(Shape("warm-up", square, 1.0))[0]
        board = Board(Room.of(MultiPolygon([square])))
        board.add(piece, *board.find(piece)[:2])

    def tick(self, placed: int) -> None:
        self.most = max(self.most, placed)
        if self._due():
            self._tell("first filling", placed=self.most)

    def report(self, sheets: Sequence[PackedSheet]) -> None:
        if self.on_progress is None or not self._due() or self.problem is None:
            return
        placed = [(p.shape, s.runs) for s in sheets for p in s.placements]
        area = sum(self.shapes[i].area * runs for i, runs in placed)
        room = sum(self.problem.containers[s.container].area * s.runs for s in sheets)
        cost, used = self._cost(sheets), sum(s.runs for s in sheets)
        self._tell(
            "improving",
            utilisation=area / room if room else None,
            sheets=used,
            placed=sum(runs for _, runs in placed),
            cost=cost,
            gap=self._bound().gap(used, cost, self._missing(sheets)),
        )

    def _cost(self, sheets: Sequence[PackedSheet]) -> float | None:
        """Price of the containers; None if one of them has none."""
        total = 0.0
        for sheet in sheets:
            cost = self.problem.containers[sheet.container].cost if self.problem else None
            if cost is None:
                return None
            total += cost * sheet.runs
        return total

    def _bound(self) -> Bound:
        """What is proved by now."""
        return (self.shared and self.shared.bound) or self.first_bound()

    def _missing(self, sheets: Sequence[PackedSheet]) -> int:
        """Pieces that are not on the sheets, those among them that fit on none."""
        required = [s.quantity * (not s.filler) for s in self.shapes]
        placed = (s.runs * (required[p.shape] > 0) for s in sheets for p in s.placements)
        return sum(required) - sum(placed)

    def _due(self) -> bool:
        return self.clock() - self.told > _EVERY

    def _tell(self, phase: str, *, placed: int = 0, **figures: Any) -> None:
        self.told = self.clock()
        if self.on_progress is not None:
            wanted = sum(s.quantity for s in self.shapes)
            left = None if self.stop is None else seconds_left(self.stop, self.told)
            told = Progress(self.told, phase, placed=placed, wanted=wanted, left=left, **figures)
            self.on_progress(told)

    def result(self, stopped: bool) -> Packing:
        """Return the best sheets, and why pieces are missing."""
        problem = self.problem
        if problem is None:
            every = ((i, s.quantity, STOPPED) for i, s in enumerate(self.shapes) if not s.filler)
            return Packing((), tuple(u for u in every if u[1]), stopped)
        shared = self.shared
        if shared is None:
            self.filling.close()
        sheets = self.filling.sheets if shared is None else shared.best.sheets
        left = missing(problem, sheets)
        early = stopped and shared is None
        unplaced = [
            (i, n, STOPPED if early and problem.fits[i] else why_unplaced(problem, i))
            for i, s in enumerate(problem.shapes)
            if (n := left[i] if problem.fits[i] else s.quantity) and not s.filler
        ]
        bound = None if shared is None or unplaced else shared.bound
        found = Patterns(problem) if shared is None else shared.patterns
        found.add(sheets)
        return Packing(tuple(sheets), tuple(unplaced), stopped, bound, tuple(found.found.values()))
