"""Who carries tries out: this thread, threads, or any executor."""

from __future__ import annotations

import atexit
import contextlib
import hashlib
import pickle
import tempfile
import threading
import uuid
from collections.abc import Callable
from concurrent.futures import CancelledError, Executor, Future, ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Protocol

from nestlib.engine.attempts import Found, Task, Worker
from nestlib.engine.problem import StripProblem
from nestlib.engine.relocation import Effort

#: Problems that a process remembers.
_REMEMBERED = 4

#: Holds the permits of all orders of this process as long as it lives: whoever sees this folder
#: but not a permit knows that the order is withdrawn, not that it comes from another machine.
_PERMITS = Path(tempfile.gettempdir(), f"nestlib-{uuid.uuid4().hex}")

_problems: dict[str, StripProblem] = {}
_building = threading.Lock()
_own = threading.local()


class Job(Protocol):
    """A try that was handed out."""

    def done(self) -> bool:
        """Tell whether it has ended."""

    def wait(self, seconds: float) -> None:
        """Wait for its end, but no longer than this."""

    def result(self) -> Found | None:
        """Return what it found; None if it was withdrawn."""

    def withdraw(self) -> None:
        """Say that nobody waits for it any more."""


class Crew(Protocol):
    """Carries out tries, some of them at the same time."""

    @property
    def most(self) -> int:
        """Return how many tries should be under way."""

    def submit(self, task: Task) -> Job:
        """Hand out a try."""

    def close(self) -> None:
        """Give back what is held."""


class Alone:
    """Carries tries out in this thread, each when it is asked for.

    Parameters
    ----------
    problem : StripProblem
        What is placed.
    effort : Effort
        How hard to look for places.
    over : callable
        Whether to stop at once.
    """

    most = 1

    def __init__(self, problem: StripProblem, effort: Effort, over: Callable[[], bool]) -> None:
        self.worker, self.over = Worker(problem, effort), over

    def submit(self, task: Task) -> Job:
        """Note a try."""
        return _Later(self, task)

    def close(self) -> None:
        """Nothing is held."""


@dataclass(frozen=True)
class _Later:
    crew: Alone
    task: Task

    def done(self) -> bool:
        return True

    def wait(self, seconds: float) -> None:
        pass

    def result(self) -> Found | None:
        return self.crew.worker.try_out(self.task, self.crew.over)

    def withdraw(self) -> None:
        pass


class _Running:
    """A try under way elsewhere."""

    def __init__(self, future: Future[Found | None], withdraw: Callable[[], None]) -> None:
        self.future, self._withdraw = future, withdraw

    def done(self) -> bool:
        return self.future.done()

    def wait(self, seconds: float) -> None:
        with contextlib.suppress(TimeoutError, CancelledError):
            self.future.exception(seconds)

    def result(self) -> Found | None:
        return None if self.future.cancelled() else self.future.result()

    def withdraw(self) -> None:
        self.future.cancel()
        self._withdraw()


class Threads:
    """Carries tries out by threads of its own.

    Parameters
    ----------
    problem, effort, over
        As for `Alone`.
    threads : int
        How many.
    """

    def __init__(
        self, problem: StripProblem, effort: Effort, over: Callable[[], bool], threads: int
    ) -> None:
        self.over, self.most = over, 2 * threads
        self.workers = threading.local()
        self.problem, self.effort = problem, effort
        self.pool = ThreadPoolExecutor(threads)

    def submit(self, task: Task) -> Job:
        """Queue a try."""
        unwanted = threading.Event()

        def carry_out() -> Found | None:
            if not hasattr(self.workers, "own"):
                self.workers.own = Worker(self.problem, self.effort)
            worker: Worker = self.workers.own
            return worker.try_out(task, lambda: unwanted.is_set() or self.over())

        return _Running(self.pool.submit(carry_out), unwanted.set)

    def close(self) -> None:
        """End the threads."""
        self.pool.shutdown(cancel_futures=True)


@dataclass(frozen=True)
class Order:
    """A try for another process.

    Parameters
    ----------
    token : str
        Name of the problem and the effort: the same for the same two.
    recipe : bytes
        Pickled callable that makes it.
    effort : Effort
        How hard to look for places.
    task : Task
        The try.
    permit : str
        File whose removal withdraws the try; of no account where the folder that holds its
        folder cannot be seen, as on another machine.
    """

    token: str
    recipe: bytes
    effort: Effort
    task: Task
    permit: str


def carry_out(order: Order) -> Found | None:
    """Carry out a try in whatever process and thread this is."""
    permit = Path(order.permit)
    seen = permit.exists()
    if not seen and permit.parents[1].exists():
        return None
    return _worker(order).try_out(order.task, lambda: seen and not permit.exists())


def _worker(order: Order) -> Worker:
    """Return this thread's scratch memory for a problem."""
    known: dict[str, Worker] = _own.__dict__.setdefault("workers", {})
    if order.token not in known:
        known[order.token] = Worker(_problem(order), order.effort)
        _forget(known)
    return known[order.token]


def _problem(order: Order) -> StripProblem:
    with _building:
        if order.token not in _problems:
            _problems[order.token] = pickle.loads(order.recipe)()
            _forget(_problems)
        return _problems[order.token]


def _forget(known: dict[str, Any]) -> None:
    while len(known) > _REMEMBERED:
        del known[next(iter(known))]


@atexit.register
def _leave() -> None:
    """Remove the folder of permits, unless somebody still uses it."""
    with contextlib.suppress(OSError):
        _PERMITS.rmdir()


class Hired:
    """Carries tries out by an executor of the caller, which is not shut down.

    Parameters
    ----------
    recipe : callable
        Makes the problem; can be pickled.
    effort : Effort
        How hard to look for places.
    executor : Executor
        Of threads, processes or a cluster.
    most : int
        How many tries to hand out ahead.
    """

    def __init__(
        self, recipe: Callable[[], StripProblem], effort: Effort, executor: Executor, most: int
    ) -> None:
        self.most, self.executor, self.effort = most, executor, effort
        self.recipe = pickle.dumps(recipe)
        self.token = hashlib.sha256(self.recipe + pickle.dumps(effort)).hexdigest()
        _PERMITS.mkdir(mode=0o700, exist_ok=True)
        self.folder = tempfile.TemporaryDirectory(dir=_PERMITS)
        self.handed_out = 0

    def submit(self, task: Task) -> Job:
        """Hand a try to the executor."""
        permit = Path(self.folder.name, str(self.handed_out))
        permit.touch()
        self.handed_out += 1
        order = Order(self.token, self.recipe, self.effort, task, str(permit))
        return _Running(
            self.executor.submit(carry_out, order), lambda: permit.unlink(missing_ok=True)
        )

    def close(self) -> None:
        """Withdraw whatever is still under way."""
        self.folder.cleanup()
