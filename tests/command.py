"""The command line as the tests call it, and a small job to spoil."""

from __future__ import annotations

import os
from pathlib import Path

from click.testing import CliRunner, Result
from nestlib_cli import main

from fixtures import plain_dxf as dxf

JOB = """\
title = "Two squares"
units = "mm"
metal = "mild-steel"
thickness = "2 mm"
machine = "co2-400"

[spacing]
kerf = 0.2
spacing = 3
margin = 5

[[sheet]]
name = "plate"
size = "500x400"
quantity = 1

[[part]]
drawing = "square.dxf"
quantity = 2
"""

SQUARE = dxf.dxf(dxf.rectangle(0, 0, 100, 100), dxf.circle(50, 50, 10))

NEST = ("nest", "job.toml", "--out", "plan", "--iterations", "1", "--workers", "1", "--quiet")
LIST = (
    *("nest", "list.csv", "--out", "plan", "--iterations", "1", "--workers", "1", "--quiet"),
    *("--metal", "mild-steel", "--thickness", "2", "--sheet", "500x400"),
)


def write_job(folder: Path, *spoilt: tuple[str, str], drawing: str | bytes = SQUARE) -> None:
    """Write job.toml, with texts replaced, and its drawing."""
    text = JOB
    for old, new in spoilt:
        assert old in text
        text = text.replace(old, new)
    (folder / "job.toml").write_text(text, encoding="utf-8")
    raw = drawing if isinstance(drawing, bytes) else drawing.encode()
    (folder / "square.dxf").write_bytes(raw)


def nestlib(folder: Path, *arguments: str) -> Result:
    """Run the command inside a folder."""
    here = Path.cwd()
    os.chdir(folder)
    try:
        return CliRunner().invoke(main, list(arguments))
    finally:
        os.chdir(here)


def refused(folder: Path, *arguments: str, code: int = 2) -> str:
    """Run the command, which has to refuse; return its message.

    It says so once, on stderr, with the right exit code, and leaves no file behind.
    """
    before = contents(folder)
    result = nestlib(folder, *arguments)
    told = f"exit {result.exit_code}\n{result.stderr}\n{result.stdout}"
    assert result.exit_code == code, told
    assert result.exception is None or isinstance(result.exception, SystemExit), told
    assert result.stderr.count("Error: ") == 1, told
    assert "Traceback" not in result.stderr + result.stdout, told
    assert contents(folder) == before, told
    return result.stderr


def contents(folder: Path) -> dict[Path, bytes]:
    """Every file and folder below a folder, hidden ones too."""
    return {p: b"" if p.is_dir() else p.read_bytes() for p in sorted(folder.rglob("*"))}


def has_all(text: str, *words: str) -> bool:
    """Whether a message says all of these, whatever the case and however it is wrapped."""
    flat = " ".join(text.lower().split())
    return all(word.lower() in flat for word in words)
