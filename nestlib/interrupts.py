"""Ctrl-C while there is something to lose."""

from __future__ import annotations

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
