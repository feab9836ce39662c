"""Nest many jobs side by side: what ``nestlib nest --each`` does."""

from __future__ import annotations

import tempfile
import time
from collections import Counter
from collections.abc import Mapping, Sequence
from contextlib import nullcontext
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from .failures import STOPPED
from .options import print_json

if TYPE_CHECKING:
    from nestlib.batch import Batch, Outcome, Task
    from nestlib.reporting import ProgressLine

#: A log gets a line of progress that often, in seconds.
_EVERY = 5.0


def nest_each(
    folders: Mapping[Path, Path],
    how: dict[str, Any],
    for_lists: dict[str, Any],
    workers: int,
    cluster: str | None,
    overwrite: bool,
    as_json: bool,
    quiet: bool,
) -> None:
    """Nest each job into its folder, tell what became of all, and leave with an exit code."""
    from nestlib.batch import Task, is_list
    from nestlib.locking import only_one
    from nestlib.reporting import ProgressLine

    tasks = [
        Task(str(job), str(folder), how, for_lists if is_list(job) else {}, overwrite)
        for job, folder in folders.items()
    ]
    with only_one(next(iter(folders.values())).parent), ProgressLine("batch", quiet=quiet) as line:
        batch = _run(tasks, workers, cluster, line)
    outcomes = batch.in_order()
    if as_json:
        print_json({"jobs": [outcome.record() for outcome in outcomes], "stopped": batch.stopped})
    elif not quiet:
        _tell(outcomes)
    _tell_failures(outcomes)
    if batch.stopped:
        raise SystemExit(STOPPED)
    raise SystemExit(0 if all(o.state in ("done", "done before") for o in outcomes) else 1)


def _run(tasks: Sequence[Task], workers: int, address: str | None, line: ProgressLine) -> Batch:
    """Run the tasks here, or on a cluster."""
    from nestlib.batch import cluster, processes, run_batch, seen_from_anywhere

    show = _Shown(line)
    with nullcontext((processes, workers)) if address is None else cluster(address) as made:
        executors, number = made
        if address is not None:
            tasks = [seen_from_anywhere(task) for task in tasks]
        return run_batch(tasks, workers=number, executors=executors, on_progress=show)


class _Shown:
    """One line for all jobs, not more often than it can be read."""

    def __init__(self, line: ProgressLine) -> None:
        self._line, self._next = line, 0.0

    def __call__(self, batch: Batch) -> None:
        now, last = time.monotonic(), not batch.running
        if now < self._next and not last and not self._line.live:
            return
        self._next = now + _EVERY
        failed = sum(o.state == "failed" for o in batch.outcomes.values())
        names = ", ".join(Path(batch.tasks[i].job).stem for i in batch.running.values())
        words = f"{len(batch.outcomes)} of {len(batch.tasks)} done"
        words += f", {failed} failed" if failed else ""
        self._line.phase(f"{words} · {names}" if names else words)


def _tell(outcomes: Sequence[Outcome]) -> None:
    from nestlib.reporting import print_table

    columns = ("Job", "State", ">Sheets", ">Used %", ">Cost", ">Missing", ">Seconds")
    rows = [
        (
            Path(o.job).stem,
            o.state,
            o.sheets or "",
            "" if o.utilisation is None else f"{100 * o.utilisation:.1f}",
            "" if o.cost is None else f"{o.cost:.2f}",
            o.missing or "",
            f"{o.seconds:.1f}",
        )
        for o in outcomes
    ]
    print_table("", columns, rows)
    counts = Counter(o.state for o in outcomes)
    told = ", ".join(f"{n} {state}" for state, n in counts.items())
    click.echo(f"{len(outcomes)} jobs: {told}.")


def _tell_failures(outcomes: Sequence[Outcome]) -> None:
    """Say, however quiet it shall be, what went wrong."""
    for o in outcomes:
        if o.message:
            named = o.message.startswith(o.job)  # what is wrong with the job file itself
            click.echo(o.message if named else f"{o.job}: {o.message}", err=True)
    traces = [f"{o.job}\n{o.trace}" for o in outcomes if o.trace]
    if traces:
        with tempfile.NamedTemporaryFile(
            "w", prefix="nestlib-error-", suffix=".txt", delete=False, encoding="utf-8"
        ) as file:
            file.write("\n".join(traces))
        click.echo(f"Please send us {file.name}, with the input if you can.", err=True)
