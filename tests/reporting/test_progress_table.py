"""Progress of a run on a terminal: what stands in its rows, in 80 columns, and in a pipe."""

from __future__ import annotations

import io
import re
import sys
from contextlib import suppress
from dataclasses import replace
from types import SimpleNamespace

import pytest
from rich.console import Console

from nestlib.model import Progress
from nestlib.reporting import ProgressTable, progress_table
from tests.layouts import mixed_layout, whole_plan

TITLES = ["Eight repair stands, frame parts \x1b[2J", "Signs"]


@pytest.fixture
def console():
    """A terminal of 80 columns that keeps what is written."""
    return Console(
        file=io.StringIO(), force_terminal=True, width=80, height=24, record=True, _environ={}
    )


def frames(console: Console) -> list[list[str]]:
    """The table as it stood one time after the other: what begins again goes up line by line."""
    plain = re.sub(r"\x1b\[[0-9;?]*[mlhK]", "", console.file.getvalue())
    return [frame.splitlines() for frame in re.split(r"(?:\x1b\[1A)+", plain)]


def found(seconds: float, used: float, cost: float, gap: float | None) -> Progress:
    """What a search tells."""
    return Progress(seconds, "improving", used, 3, 24, 24, cost=cost, gap=gap, left=60 - seconds)


def test_a_job_has_a_row_that_changes_in_place(console, monkeypatch):
    """Time left, pieces, sheets, use, cost, gap and how the use has grown, all as told last."""
    monkeypatch.setattr(progress_table, "_EVERY", 0.0)
    with ProgressTable(TITLES, console=console) as table:
        assert table.live
        with table.job() as told:
            for number, used in enumerate((0.5, 0.6, 0.6, 0.75, 0.85)):
                told(found(float(number), used, 100.0 - number, None if number < 4 else 0.125))
            first, row = frames(console)[0][2], frames(console)[-1][2]
            told.phase("writing")
            after = frames(console)[-1]
        with table.job() as told:
            told(Progress(0.0, "first filling", placed=4, wanted=9))
            told.result(replace(whole_plan(mixed_layout()), unplaced=()))
    head = "Job Time Left Placed Sheets Used Cost Gap Trend"
    assert " ".join(frames(console)[0][0].split()) == head
    assert first.split()[-7:] == ["1:00", "24/24", "3", "50.0", "%", "100.00", "▁"]
    assert row.split()[-9:] == ["0:56", "24/24", "3", "85.0", "%", "96.00", "12.5", "%", "▁▃▆█"]
    assert row.startswith("Eight repair")
    # What is known stays; what may still be searched is over.
    assert after[2].split()[-8:] == row.split()[-8:]
    assert "0:56" not in after[2]
    assert after[-1].strip() == "writing · 1 to come"
    last = frames(console)[-1]
    # By hand: 7 pieces on each of 2 sheets at 40.00, of which the bound says 1.
    assert [word for word in ("14/16", "2 ", "80.00", "50.0 %") if word not in last[3]] == []
    assert not any("to come" in line or "writing" in line for line in last)
    every = [line for frame in frames(console) for line in frame]
    assert max(len(line) for line in every) <= 80
    assert "\x1b[2J" not in console.file.getvalue()


def test_no_gap_is_shown_of_a_plan_that_misses_pieces(console):
    """By hand: 80.00 is twice the bound, but what is missing would cost more."""
    with ProgressTable(["frame"], console=console) as table, table.job() as told:
        told.result(whole_plan(mixed_layout()))
    row = frames(console)[-1][2]
    assert "80.00" in row
    assert "50.0 %" not in row


def test_a_search_for_other_pieces_begins_anew(console, monkeypatch):
    """Of 24 pieces nothing stays where 5 others are looked for, as for the next metal."""
    monkeypatch.setattr(progress_table, "_EVERY", 0.0)
    with ProgressTable(["buy"], console=console) as table, table.job() as told:
        told(found(1.0, 0.5, 100.0, 0.125))
        told(Progress(2.0, "first filling", placed=3, wanted=5))
        row = frames(console)[-1][2]
        told(Progress(3.0, "improving", 0.8, 2, 5, 5))
        last = frames(console)[-1][2]
    assert row.split() == ["buy", "0:00", "3/5"]
    assert last.split()[2:] == ["5/5", "2", "80.0", "%", "▁"]


def test_a_row_ends_with_its_failure(console, monkeypatch):
    """Its time stands still, and nothing is said to be under way, while other jobs go on."""
    monkeypatch.setattr(progress_table, "_EVERY", 0.0)
    now = [0.0]
    monkeypatch.setattr(progress_table, "time", SimpleNamespace(monotonic=lambda: now[0]))
    with ProgressTable(TITLES, console=console) as table:
        with suppress(RuntimeError), table.job() as told:
            told(found(0.0, 0.5, 100.0, None))
            now[0] = 5.0
            raise RuntimeError
        failed = frames(console)[-1]
        now[0] = 65.0
        with table.job() as told:
            told(found(0.0, 0.5, 100.0, None))
    assert "improving" not in failed[-1]
    assert "1:00" not in failed[2]
    assert "0:05" in failed[2]
    assert "0:05" in frames(console)[-1][2]


def test_only_the_last_rows_are_shown(console):
    """Of 30 jobs: the rest is counted, so that the table stays on the screen."""
    with ProgressTable([f"job {i}" for i in range(30)], console=console) as table:
        for _ in range(20):
            with table.job() as told:
                told(found(0.0, 0.5, 1.0, 0.0))
    last = [line for line in frames(console)[-1] if line.strip()]
    assert [line.split()[1] for line in last[2:-1]] == [str(i) for i in range(12, 20)]
    assert "12 done before · 10 to come" in last[-1]


def test_a_pipe_gets_lines(monkeypatch):
    """No table and nothing that steers a terminal, even where colours are asked for."""
    monkeypatch.setenv("FORCE_COLOR", "1")
    stream = io.StringIO()
    with ProgressTable(TITLES, stream=stream) as table:
        assert not table.live
        with table.job() as told:
            told(found(0.5, 0.5, 100.0, 0.125))
            told.result(whole_plan(mixed_layout()))
    assert "\x1b" not in stream.getvalue()
    assert stream.getvalue().endswith(
        "0.5 s · improving · 24 of 24 placed · 3 sheets, 50.0% used · cost 100.00"
        " · 12.5% above the bound\n"
    )


def test_quiet_is_quiet(console):
    """On a terminal and elsewhere."""
    stream = io.StringIO()
    for table in (
        ProgressTable(TITLES, quiet=True, console=console),
        ProgressTable(TITLES, quiet=True, stream=stream),
    ):
        with table, table.job() as told:
            told(found(0.0, 0.5, 1.0, None))
    assert console.file.getvalue() == stream.getvalue() == ""


@pytest.mark.skipif(sys.platform == "win32", reason="Windows has no such terminals")
def test_on_a_pseudo_terminal_the_table_ends_whole():
    """The cursor is shown again and the last line is closed, also after a failure."""
    import os
    import pty
    import select

    here, there = pty.openpty()
    with os.fdopen(there, "w", encoding="utf-8") as stream:
        terminal = Console(file=stream, width=80, _environ={"TERM": "xterm"})
        with suppress(RuntimeError), ProgressTable(TITLES, console=terminal) as table:
            assert table.live
            with table.job() as told:
                told(found(0.0, 0.5, 1.0, None))
                raise RuntimeError
        stream.flush()
        # The terminal hands over what was written in as many pieces as it likes.
        pieces = []
        while select.select([here], [], [], 0.5)[0]:
            pieces.append(os.read(here, 1 << 16))
    os.close(here)
    written = b"".join(pieces).decode()
    assert written.index("\x1b[?25l") < written.rindex("\x1b[?25h")
    assert written.rstrip("\x1b[?25h").endswith("\n")
