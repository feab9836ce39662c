"""What a search can be told: when to stop, which chance, who works."""

from __future__ import annotations

from concurrent.futures import Executor, ThreadPoolExecutor
from numbers import Integral, Real


def check_search(seconds: object, tries: object, seed: object, workers: object) -> None:
    """Refuse what makes no sense as an argument of `pack_strip` or `pack_sheet`.

    Parameters
    ----------
    seconds, tries, seed, workers : object
        As given; the first two may be None, but not both.

    Raises
    ------
    ValueError
        Says what is wrong with the first of them that cannot be used, and what to give.

    Examples
    --------
    >>> check_search(2.5, None, 0, 4)
    >>> check_search(None, 20, -1, 4)
    Traceback (most recent call last):
    ValueError: seed is -1: give a whole number from 0 on
    """
    if seconds is None and tries is None:
        raise ValueError("give seconds or tries, otherwise the search has no end")
    if seconds is not None and not _is_time(seconds):
        raise ValueError(f"seconds is {seconds!r}: give a number from 0 on")
    if tries is not None and not _is_whole(tries, 0):
        raise ValueError(f"tries is {tries!r}: give a whole number from 0 on")
    if not _is_whole(seed, 0):
        raise ValueError(f"seed is {seed!r}: give a whole number from 0 on")
    if not (isinstance(workers, Executor) or _is_whole(workers, 1)):
        raise ValueError(f"workers is {workers!r}: give a whole number from 1 on, or an executor")


def check_threads(workers: object) -> None:
    """Refuse a pool of anything but threads; numbers are left to `check_search`.

    Parameters
    ----------
    workers : object
        As given.

    Raises
    ------
    ValueError
        Says what kind of pool it is and what to give.

    Examples
    --------
    >>> with ThreadPoolExecutor(2) as pool:
    ...     check_threads(pool)
    """
    if isinstance(workers, Executor) and not isinstance(workers, ThreadPoolExecutor):
        kind = type(workers).__name__
        raise ValueError(
            f"workers is a {kind}, but only threads can help here: give a ThreadPoolExecutor, "
            "or a whole number from 1 on"
        )


def _is_time(value: object) -> bool:
    return isinstance(value, Real) and float(value) >= 0  # not a number is not


def _is_whole(value: object, least: int) -> bool:
    return isinstance(value, Integral) and int(value) >= least
