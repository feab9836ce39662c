"""What is printed after the reader of a pipe is gone."""

from __future__ import annotations

import os
import sys
from pathlib import Path

import pytest
from nestlib_cli.pipes import outliving


@pytest.mark.skipif(sys.platform == "win32", reason="the error is another there")
def test_printing_goes_on_after_the_reader_of_a_pipe_is_gone() -> None:
    """A command that prints into ``head`` does its work to the end."""
    read, write = os.pipe()
    with os.fdopen(write, "w", encoding="utf-8") as pipe:
        stream = outliving(pipe)
        print("read", file=stream, flush=True)
        assert os.read(read, 100) == b"read\n"
        os.close(read)
        print("not read", file=stream, flush=True)
        print("nor this", file=stream, flush=True)


def test_a_file_stays_the_stream_it_is(tmp_path: Path) -> None:
    """An error of a file, such as a full disk, is still told."""
    with open(tmp_path / "text", "w", encoding="utf-8") as file:
        assert outliving(file) is file
