"""Runs side by side, each in its own process and on cores of its own."""

from __future__ import annotations

import multiprocessing
import os
import traceback
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from multiprocessing.connection import Connection, wait
from multiprocessing.process import BaseProcess
from typing import Any

from benchmarks import machine


@dataclass(frozen=True)
class Job:
    """Something to be run.

    Parameters
    ----------
    call : callable
        A function of a module; it and its arguments travel to the process.
    arguments : tuple
        What it is given.
    cores : int
        How many cores it gets.
    """

    call: Callable[..., Any]
    arguments: tuple[Any, ...]
    cores: int = 1


@dataclass
class _Running:
    job: Job
    process: BaseProcess
    pipe: Connection
    cores: list[int] = field(default_factory=list)


def run_all(jobs: Sequence[Job], most: int, done: Callable[[Job, Any], None]) -> int:
    """Run jobs, as many at a time as there are cores for; a small one may overtake.

    Parameters
    ----------
    jobs : sequence of Job
        In the order in which they are begun where the cores allow.
    most : int
        Most jobs at a time.
    done : callable
        Told what a job returned, as soon as it did.

    Returns
    -------
    int
        How many failed; why is printed.

    Raises
    ------
    ValueError
        If a job wants more cores than there are.
    """
    free = machine.cores()
    if any(job.cores > len(free) for job in jobs):
        raise ValueError(f"a run wants more cores than the {len(free)} that are there")
    waiting, running, failed = list(jobs), list[_Running](), 0
    try:
        while waiting or running:
            for job in [j for j in waiting if len(running) < most]:
                if len(running) < most and job.cores <= len(free):
                    waiting.remove(job)
                    running.append(_start(job, free[: job.cores]))
                    free = free[job.cores :]
            ready = wait([r.pipe for r in running])
            for one in [r for r in running if r.pipe in ready]:
                running.remove(one)
                free = sorted([*free, *one.cores])
                failed += not _finish(one, done)
    finally:
        for one in running:
            one.process.terminate()
    return failed


def _start(job: Job, cores: list[int]) -> _Running:
    """Start a process; it inherits the cores that this one has for a moment."""
    context = multiprocessing.get_context("spawn")
    here, there = context.Pipe(duplex=False)
    process = context.Process(target=_carry_out, args=(there, job.call, job.arguments))
    before = machine.cores()
    _pin(cores)
    try:
        process.start()
    finally:
        _pin(before)
    there.close()
    return _Running(job, process, here, cores)


def _pin(cores: list[int]) -> None:
    if hasattr(os, "sched_setaffinity"):
        os.sched_setaffinity(0, cores)


def _carry_out(pipe: Connection, call: Callable[..., Any], arguments: tuple[Any, ...]) -> None:
    try:
        pipe.send((True, call(*arguments)))
    except BaseException:
        pipe.send((False, traceback.format_exc()))
    finally:
        pipe.close()


def _finish(one: _Running, done: Callable[[Job, Any], None]) -> bool:
    try:
        well, result = one.pipe.recv()
    except EOFError:
        well, result = False, "the process ended without an answer"
    one.process.join()
    if well:
        done(one.job, result)
    else:
        print(f"{one.job.arguments} failed:\n{result}", flush=True)
    return bool(well)
