"""Many tasks over workers: none that goes wrong stops the others, not even by dying."""

from __future__ import annotations

import multiprocessing
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import (
    FIRST_COMPLETED,
    BrokenExecutor,
    Executor,
    Future,
    ProcessPoolExecutor,
    wait,
)
from contextlib import contextmanager
from dataclasses import dataclass, field

from nestlib.batch.one_job import Outcome, Task, nest_one
from nestlib.interrupts import leave_at_interrupt

#: Makes an executor of so many workers.
Workers = Callable[[int], Executor]


@dataclass
class Batch:
    """How far a batch is.

    Parameters
    ----------
    tasks : sequence of Task
        All of them.
    outcomes : dict
        From the number of a task to what became of it.
    running : dict
        Those that workers have.
    stopped : bool
        Whether the user pressed Ctrl-C.
    """

    tasks: Sequence[Task]
    outcomes: dict[int, Outcome] = field(default_factory=dict)
    running: dict[Future[Outcome], int] = field(default_factory=dict)
    stopped: bool = False

    def in_order(self) -> list[Outcome]:
        """Return an outcome for every task; of those that nobody has begun, that."""
        return [
            self.outcomes.get(i, Outcome(task.job, task.folder, "not begun"))
            for i, task in enumerate(self.tasks)
        ]


def processes(number: int) -> Executor:
    """Return processes on this machine."""
    return ProcessPoolExecutor(number, initializer=leave_at_interrupt)


def run_batch(
    tasks: Sequence[Task],
    *,
    workers: int = 1,
    executors: Workers = processes,
    on_progress: Callable[[Batch], None] = lambda batch: None,
    call: Callable[[Task], Outcome] = nest_one,
) -> Batch:
    """Run all tasks.

    If a worker dies, what was running is tried again, each task alone; one that kills its
    worker once more has failed. Ctrl-C ends the batch at once; finished plans stay.

    Parameters
    ----------
    tasks : sequence of Task
        One for each job, with folders of their own.
    workers : int
        Tasks that run at a time.
    executors : callable
        Makes the workers; processes of this machine by default.
    on_progress : callable
        Told whenever a task begins or ends.
    call : callable
        What runs a task; it can be sent to another process.

    Returns
    -------
    Batch
        With `Batch.stopped` set if Ctrl-C was pressed.
    """
    batch = Batch(tasks)
    waiting = list(range(len(tasks)))
    try:
        while waiting:
            suspects = _run(batch, waiting, workers, executors, on_progress, call)
            # Those that were never begun are only tried alone if no worker comes to life.
            for number in suspects or waiting[:1]:
                if number not in batch.outcomes:
                    _alone(batch, number, executors, on_progress, call)
            waiting = [i for i in waiting if i not in batch.outcomes]
    except KeyboardInterrupt:
        batch.stopped = True
        for child in multiprocessing.active_children():
            child.terminate()  # its draft is removed when the batch goes on
    batch.running.clear()
    on_progress(batch)
    return batch


def _alone(
    batch: Batch,
    number: int,
    executors: Workers,
    on_progress: Callable[[Batch], None],
    call: Callable[[Task], Outcome],
) -> None:
    """Run one task in a worker of its own; if that dies too, the task has failed."""
    _run(batch, [number], 1, executors, on_progress, call)
    if number not in batch.outcomes:
        task = batch.tasks[number]
        words = "its worker process died (out of memory, or killed)"
        batch.outcomes[number] = Outcome(task.job, task.folder, "failed", words)


def _run(
    batch: Batch,
    numbers: Sequence[int],
    workers: int,
    executors: Workers,
    on_progress: Callable[[Batch], None],
    call: Callable[[Task], Outcome],
) -> list[int]:
    """Run tasks until all are done or a worker dies; return what was running then."""
    left = iter(numbers)
    with _made(executors, workers) as executor:
        batch.running.clear()
        try:
            _fill(batch, left, workers, executor, call)
            while batch.running:
                on_progress(batch)
                done, _ = wait(batch.running, return_when=FIRST_COMPLETED)
                for future in done:
                    batch.outcomes[batch.running[future]] = _result(batch, future)
                    del batch.running[future]
                _fill(batch, left, workers, executor, call)
        except BrokenExecutor:
            return sorted(batch.running.values())
    return []


def _fill(
    batch: Batch,
    left: Iterator[int],
    workers: int,
    executor: Executor,
    call: Callable[[Task], Outcome],
) -> None:
    """Give every free worker a task."""
    while len(batch.running) < workers:
        number = next(left, None)
        if number is None:
            return
        batch.running[executor.submit(call, batch.tasks[number])] = number


def _result(batch: Batch, future: Future[Outcome]) -> Outcome:
    """Result of a task; a cluster may say in its own way that its worker died."""
    task = batch.tasks[batch.running[future]]
    try:
        return future.result()
    except BrokenExecutor:
        raise
    except Exception as error:
        words = f"the worker failed ({type(error).__name__}: {error})"
        return Outcome(task.job, task.folder, "failed", words)


@contextmanager
def _made(executors: Workers, workers: int) -> Iterator[Executor]:
    executor = executors(workers)
    try:
        yield executor
    finally:
        executor.shutdown(wait=False)  # no more is submitted than runs
