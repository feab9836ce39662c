"""Workers of a Dask cluster, in place of processes on this machine."""

from __future__ import annotations

from collections.abc import Iterator
from concurrent.futures import Executor
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path

from nestlib.batch.one_job import Task
from nestlib.batch.running import Workers
from nestlib.errors import InputError, Problem


@contextmanager
def cluster(address: str) -> Iterator[tuple[Workers, int]]:
    """Connect to a scheduler.

    The workers have to see the same files under the same paths, as on a shared disk.

    Parameters
    ----------
    address : str
        For example ``"tcp://10.0.0.5:8786"``.

    Yields
    ------
    executors : callable
        For `run_batch`.
    threads : int
        How many tasks the cluster runs at a time.

    Raises
    ------
    InputError
        If Dask is not installed, nobody answers, or there are no workers.
    """
    try:
        from distributed import Client
    except ImportError:
        remedy = 'Install it with: pip install "nestlib[cluster]"'
        raise _problem(address, "needs the library distributed", remedy) from None
    try:
        client = Client(address, timeout=10)
    except (OSError, ValueError) as error:
        remedy = "Check the address and that the scheduler runs"
        raise _problem(address, f"nobody answers ({error})", remedy) from None
    with client:
        threads = sum(client.nthreads().values())
        if not threads:
            remedy = f"Start some with: dask worker {address} --nthreads 1"
            raise _problem(address, "the cluster has no workers", remedy)

        def executors(number: int) -> Executor:
            executor: Executor = client.get_executor()
            return executor

        yield executors, threads


def seen_from_anywhere(task: Task) -> Task:
    """Return a task with whole paths, as workers elsewhere need them."""
    template = task.how.get("template")
    how = {**task.how}
    if template and Path(template).is_file():
        how["template"] = str(Path(template).resolve())
    for_list = {**task.for_list}
    if str(for_list.get("machine", "")).lower().endswith(".toml"):
        for_list["machine"] = str(Path(for_list["machine"]).resolve())
    job, folder = str(Path(task.job).resolve()), str(Path(task.folder).resolve())
    return replace(task, job=job, folder=folder, how=how, for_list=for_list)


def _problem(address: str, problem: str, remedy: str) -> InputError:
    return InputError(Problem(f"--cluster {address}", "", problem, remedy))
