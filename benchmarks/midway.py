"""A layout as a search meets it: parts that overlap a little in a strip just too short.

The one place of the benchmarks that looks into the engine.
"""

from __future__ import annotations

import time
from typing import NamedTuple

import numpy as np

from benchmarks.instances import Instance
from nestlib.engine.attempts import Worker
from nestlib.engine.layouts import Snapshot
from nestlib.engine.parameters import StripParams
from nestlib.engine.problem import StripProblem

#: How much denser than the best that is known a strip is that is just too short.
_TOO_DENSE = 1.05

#: Density of a strip of which nothing is published.
_UNKNOWN = 0.75


class Sweeps(NamedTuple):
    """What some sweeps took.

    Parameters
    ----------
    done : int
        How many.
    seconds : float
        Processor time of all of them.
    moved : float
        Parts that a new place was looked for, in one sweep.
    places : float
        Candidate places looked at, in one sweep.
    """

    done: int
    seconds: float
    moved: float
    places: float


def too_short(instance: Instance, seed: int = 1) -> Worker:
    """Return a worker whose parts lie at random in a strip that is just too short."""
    problem = StripProblem.of(instance.items, instance.data["width"])
    known = instance.published
    density = _TOO_DENSE * (_UNKNOWN if known is None else known[0] / 100)
    longest = float((problem.cat.box[:, 2] - problem.cat.box[:, 0]).max())
    length = max(problem.movable / density / problem.width, longest)
    params = StripParams()
    worker, random, kind = Worker(problem, params.effort), np.random.default_rng(seed), problem.kind
    turn = random.integers(problem.cat.first[kind], problem.cat.first[kind + 1])
    x, y = (random.uniform(0.0, most, len(kind)) for most in (length, problem.width))
    worker.board.restore(Snapshot(length, turn, x, y))
    return worker


def sweeps(worker: Worker, seconds: float, seed: int = 1) -> Sweeps:
    """Sweep for some processor seconds, and tell what it took."""
    counts = worker.scratch.counts
    counts[:] = 0
    began = time.process_time()
    end = began + seconds
    many = 10**9
    worker.separated((seed, 0), StripParams().soft, many, many, lambda: time.process_time() >= end)
    took = time.process_time() - began
    count = int(counts[2])
    return Sweeps(count, took, counts[1] / count, counts[0] / count)
