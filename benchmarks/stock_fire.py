"""Several processes at one rack, killed at random, and what became of the sheets."""

from __future__ import annotations

import multiprocessing
import os
import random
import signal
import time
from collections.abc import Callable
from multiprocessing.process import BaseProcess
from pathlib import Path
from typing import Any

from benchmarks.stock_checking import faults, quantities
from benchmarks.stock_operations import in_doubt, read_log, work
from nestlib.stock import Rack, Wanted

#: Processes are forked: a new one is there at once, as under fire it has to be.
_FORK = multiprocessing.get_context("fork")

#: Killed up to so many seconds after its turn, so that it can be in the midst of anything.
_SPREAD = 0.03


def fire(
    place: str, folder: Path, *, processes: int, operations: int, kills: int, seed: int
) -> dict[str, Any]:
    """Let processes work at a rack that is not there yet, and kill some of them.

    Parameters
    ----------
    place : str
        Of the rack; a file or database that is empty.
    folder : Path
        For the logs.
    processes : int
        At a time.
    operations : int
        Of all of them together.
    kills : int
        How many are ended by SIGKILL, each replaced at once.
    seed : int
        Of all chance but that of the operating system.

    Returns
    -------
    dict
        Figures, with ``faults`` found by `benchmarks.stock_checking`.
    """
    began = time.perf_counter()
    crew = _Crew(place, folder, processes, operations // processes, seed)
    chance = random.Random(seed)
    turns = sorted(chance.sample(range(1, operations * 95 // 100), kills))
    killed = 0
    while crew.working:
        if turns and crew.done >= turns[0] and crew.kill(chance):
            turns.pop(0)
            killed += 1
        time.sleep(0.002)
    lines = [line for log in crew.logs for line in read_log(log)]
    return {
        "wanted": len({line["key"] for line in lines}),
        "done": sum(line.get("outcome") == "done" for line in lines),
        "refused": sum(line.get("outcome") == "refused" for line in lines),
        "repeated": sum(line.get("fresh") is False for line in lines),
        "doubt": len(in_doubt(lines)),
        "killed": killed,
        "failed": crew.failed,
        "seconds": round(time.perf_counter() - began, 1),
        "pieces": sum(there for there, _ in quantities(place).values()),
        "faults": [*faults(place, lines), *_listed(place)],
    }


def _listed(place: str) -> list[str]:
    """Where the list of the rack says something else than the entries."""
    found = {item.id: (item.there, item.held) for item in Rack(place).items(Wanted(gone=True))}
    return [] if found == quantities(place) else ["the list differs from the entries"]


class _Crew:
    """Processes that are replaced when they are killed."""

    def __init__(self, place: str, folder: Path, count: int, each: int, seed: int) -> None:
        self._place, self._each, self._seed = place, each, seed
        self.logs = [folder / f"process{i}.log" for i in range(count)]
        self.failed = 0
        self._done = _FORK.RawArray("l", count)  # without a lock, which the killed would keep
        self._running: list[BaseProcess | None] = [self._start(i) for i in range(count)]

    def _start(self, number: int) -> BaseProcess:
        self._seed += 1
        note = _Note(self._done, number)
        task = (self._place, self.logs[number], self._seed, self._each, note)
        process = _FORK.Process(target=_run, args=task)
        process.start()
        return process

    @property
    def done(self) -> int:
        return sum(self._done)

    @property
    def working(self) -> bool:
        """Whether some still work; those that ended are looked after."""
        for number, process in enumerate(self._running):
            if process is not None and not process.is_alive():
                process.join()
                self.failed += process.exitcode != 0
                self._running[number] = None
        return any(self._running)

    def kill(self, chance: random.Random) -> bool:
        """End one of them as a power cut would; another takes its place.

        False if it had just ended by itself.
        """
        alive = [i for i, process in enumerate(self._running) if process is not None]
        if not alive:
            return False
        number = chance.choice(alive)
        process = self._running[number]
        assert process is not None
        assert process.pid is not None
        time.sleep(chance.uniform(0, _SPREAD))
        os.kill(process.pid, signal.SIGKILL)
        process.join()
        self._running[number] = self._start(number)
        return process.exitcode == -signal.SIGKILL


class _Note:
    """Notes how far a process is."""

    def __init__(self, done: Any, number: int) -> None:
        self._done, self._number = done, number

    def __call__(self, done: int) -> None:
        self._done[self._number] = done


def _run(place: str, log: Path, seed: int, operations: int, note: Callable[[int], None]) -> None:
    work(place, log, seed, operations, note)
