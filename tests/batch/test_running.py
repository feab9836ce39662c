"""Many tasks over workers: whatever one of them does, the others are done."""

import os
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

from nestlib.batch import Outcome, Task, run_batch


def act(task: Task) -> Outcome:
    """What a worker does: as the task's name says."""
    if task.job.startswith("dies"):
        os._exit(1)
    if task.job.startswith("raises"):
        raise MemoryError(task.job)
    return Outcome(task.job, task.folder, "done")


def die_once(task: Task) -> Outcome:
    """A worker that is killed the first time, as by a system short of memory."""
    mark = Path(task.folder)
    if task.job == "dies once" and not mark.exists():
        mark.touch()
        os._exit(1)
    return Outcome(task.job, task.folder, "done")


def states(batch):
    """State by name of the job."""
    return {outcome.job: outcome.state for outcome in batch.in_order()}


def test_a_worker_that_dies_takes_no_other_job_with_it():
    """Its own job failed, in plain words; all others are done, whichever ran beside it."""
    names = ["a", "dies", "b", "raises", "dies too", "c"]
    batch = run_batch([Task(name, name) for name in names], workers=2, call=act)
    failed = {"dies", "raises", "dies too"}
    assert states(batch) == {n: "failed" if n in failed else "done" for n in names}
    assert "worker process died" in batch.outcomes[1].message
    assert "MemoryError" in batch.outcomes[3].message


def test_a_job_whose_worker_was_killed_once_is_tried_again(tmp_path):
    """Alone, so that nothing else can be at fault."""
    tasks = [Task(name, str(tmp_path / name)) for name in ("a", "dies once", "b")]
    batch = run_batch(tasks, workers=2, call=die_once)
    assert set(states(batch).values()) == {"done"}


def test_progress_counts_every_job():
    """From none to all, with no more running than there are workers."""
    seen = []
    tasks = [Task(str(i), str(i)) for i in range(5)]
    run_batch(
        tasks,
        workers=2,
        executors=ThreadPoolExecutor,
        call=act,
        on_progress=lambda batch: seen.append((len(batch.outcomes), len(batch.running))),
    )
    assert seen[0] == (0, 2)
    assert seen[-1] == (5, 0)
    assert max(running for _, running in seen) <= 2


def test_ctrl_c_keeps_what_is_done():
    """The others are told as not begun."""

    presses = iter([True])

    def press(batch):
        if len(batch.outcomes) == 2 and next(presses, False):
            raise KeyboardInterrupt

    tasks = [Task(str(i), str(i)) for i in range(4)]
    batch = run_batch(tasks, executors=ThreadPoolExecutor, call=act, on_progress=press)
    assert batch.stopped
    assert list(states(batch).values()) == ["done", "done", "not begun", "not begun"]
