"""Ctrl-C while there is something to lose."""

from __future__ import annotations

import os
import signal
from collections.abc import Iterator
from contextlib import contextmanager
from types import FrameType


class Patience:
    """Whether a first Ctrl-C is waiting.

    Attributes
    ----------
    interrupted : bool
        Whether the user asked to stop.
    """

    def __init__(self) -> None:
        self.interrupted = False

    def note(self, signum: int, frame: FrameType | None) -> None:
        """Remember the first Ctrl-C; let a second one through."""
        if self.interrupted:
            raise KeyboardInterrupt
        self.interrupted = True


@contextmanager
def finishing() -> Iterator[Patience]:
    """Finish what is in the block although the user pressed Ctrl-C.

    A second Ctrl-C counts at once. Where Python does not handle Ctrl-C itself (another
    thread, a program with its own handler) nothing changes.

    Yields
    ------
    Patience
        To ask at the end of the block.
    """
    patience = Patience()
    usual = signal.default_int_handler
    try:
        ours = signal.getsignal(signal.SIGINT) is usual
        if ours:
            signal.signal(signal.SIGINT, patience.note)
    except ValueError:  # not the main thread
        ours = False
    try:
        yield patience
    finally:
        if ours:
            signal.signal(signal.SIGINT, usual)


def leave_at_interrupt() -> None:
    """Make Ctrl-C end this process at once and without a word.

    For processes that only work for another one: a terminal sends Ctrl-C to all of them, and
    one that waits for work would print a traceback.
    """
    signal.signal(signal.SIGINT, lambda signum, frame: os._exit(128 + signum))


@contextmanager
def plain_interrupts() -> Iterator[None]:
    """Let Ctrl-C be a KeyboardInterrupt also where it came within a compiled function.

    Such a function may finish with the exception set, which Python reports as a SystemError.

    Raises
    ------
    KeyboardInterrupt
        Instead of a SystemError that it caused.
    """
    try:
        yield
    except SystemError as error:
        if isinstance(error.__cause__, KeyboardInterrupt):
            raise error.__cause__ from None
        raise
