"""A reader that goes away, as ``head`` does, stops no work: what is printed then goes nowhere."""

from __future__ import annotations

import io
import os
import stat
import sys
from typing import Any


def outlive_readers() -> None:
    """Let a plan be finished and written though nobody reads what is printed any more."""
    sys.stdout = outliving(sys.stdout)
    sys.stderr = outliving(sys.stderr)


def outliving(stream: Any) -> Any:
    """Return a stream that can be printed to after its reader is gone; others as they are.

    Parameters
    ----------
    stream : text stream
        Nothing may have been printed to it that is not yet flushed.
    """
    if not isinstance(stream, io.TextIOWrapper) or not _is_pipe(stream):
        return stream
    raw = io.BufferedWriter(_Pipe(stream.fileno(), "wb", closefd=False))
    return io.TextIOWrapper(
        raw,
        stream.encoding,
        stream.errors,
        line_buffering=stream.line_buffering,
        write_through=stream.write_through,
    )


class _Pipe(io.FileIO):
    """The end of a pipe that is written to."""

    def write(self, data: Any) -> int:
        try:
            return super().write(data)
        except (BrokenPipeError, ConnectionResetError):
            nowhere = os.open(os.devnull, os.O_WRONLY)
            os.dup2(nowhere, self.fileno())
            os.close(nowhere)
            return len(data)


def _is_pipe(stream: io.TextIOWrapper) -> bool:
    try:
        mode = os.fstat(stream.fileno()).st_mode
    except (OSError, ValueError):  # no file, or closed
        return False
    return stat.S_ISFIFO(mode) or stat.S_ISSOCK(mode)
