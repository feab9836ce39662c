"""Progress of a long search: one line that changes, or a line every few seconds."""

from __future__ import annotations

import sys
import time
from types import TracebackType
from typing import TextIO

from nestlib.model import Plan, Progress
from nestlib.reporting.texts import plain

#: A terminal is written to this often, and anything else that often, in seconds.
_LIVE, _LOGGED = 0.1, 5.0

#: From the beginning of the line, with everything after it cleared.
_AGAIN = "\r\x1b[2K"


class ProgressLine:
    """Shows `Progress` on the standard error stream; give it to a search as a callable.

    Parameters
    ----------
    title : str
        Stands before each line.
    quiet : bool
        Whether to show nothing.
    stream : text file, optional
        Where to write; standard error by default.

    Examples
    --------
    >>> import io
    >>> stream = io.StringIO()
    >>> with ProgressLine("frame", stream=stream) as line:
    ...     line(Progress(0.0, "placing", 0.5, 2, 3, 10))
    >>> stream.getvalue()
    'frame:    0.0 s · placing · 3 of 10 placed · 2 sheets, 50.0% used\\n'
    """

    def __init__(self, title: str, *, quiet: bool = False, stream: TextIO | None = None) -> None:
        self._title = plain(title)
        self._quiet = quiet
        self._stream = stream or sys.stderr
        self._live = self._stream.isatty()
        self._started = time.monotonic()
        self._next = 0.0
        self._phase = ""
        self._last = ""

    def __enter__(self) -> ProgressLine:
        self._started = time.monotonic()
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        if self._live and not self._quiet and self._last:
            self._write(f"{_AGAIN}{self._last}\n" if kind is None else "\n")

    def __call__(self, progress: Progress) -> None:
        """Show a glance, unless the last one is too recent."""
        now = time.monotonic()
        if now < self._next and progress.phase == self._phase:
            return
        self._next = now + (_LIVE if self._live else _LOGGED)
        self._phase = progress.phase
        self._show(str(progress))

    @property
    def live(self) -> bool:
        """Whether it is a line that changes, and not a log."""
        return self._live

    def phase(self, words: str) -> None:
        """Say what is being done after the search."""
        self._show(f"{time.monotonic() - self._started:6.1f} s · {words}")

    def result(self, plan: Plan) -> None:
        """Say nothing: what has come out is printed elsewhere."""

    def _show(self, text: str) -> None:
        if self._quiet:
            return
        self._last = f"{self._title}: {plain(text)}"
        self._write(f"{_AGAIN}{_cut(self._last)}" if self._live else f"{self._last}\n")

    def _write(self, text: str) -> None:
        self._stream.write(text)
        self._stream.flush()


def _cut(line: str) -> str:
    """Keep a line that changes within the width of the terminal, or it leaves traces."""
    import shutil

    width = shutil.get_terminal_size().columns - 1
    return line if len(line) <= width else line[: width - 1] + "…"
