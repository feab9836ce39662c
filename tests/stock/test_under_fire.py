"""Several processes, some of them killed, and not one sheet is lost or booked twice.

`python -m benchmarks stock` does the same with far more of everything.
"""

from __future__ import annotations

import sqlite3
from pathlib import Path

import pytest

from benchmarks.stock_checking import faults
from benchmarks.stock_fire import fire
from benchmarks.stock_operations import read_log, work


@pytest.mark.slow
@pytest.mark.parametrize("kind", ["SQLite", "PostgreSQL"])
def test_no_sheet_is_lost_or_booked_twice(kind, tmp_path: Path, request):
    """The ledger, worked out by plain SQL, is what the processes wrote down themselves."""
    place = str(tmp_path / "r.sqlite") if kind == "SQLite" else request.getfixturevalue("server")
    found = fire(place, tmp_path, processes=4, operations=240, kills=12, seed=5)
    assert found["faults"] == []
    assert (found["wanted"], found["killed"], found["failed"]) == (240, 12, 0)
    assert found["done"] > 80
    assert found["refused"] > 10
    assert found["pieces"] > 10


@pytest.fixture(scope="module")
def quiet_rack(tmp_path_factory) -> Path:
    """A rack that one process has worked at."""
    folder = tmp_path_factory.mktemp("quiet")
    work(str(folder / "r.sqlite"), folder / "a.log", 3, 60, lambda done: None)
    return folder


@pytest.mark.parametrize(
    ("spoil", "fault"),
    [
        ("DELETE FROM entries WHERE id = 1", "was booked as"),
        (
            "DELETE FROM entries WHERE booking = 'a-0'; DELETE FROM bookings WHERE key = 'a-0'",
            "lost",
        ),
        ("UPDATE entries SET there = there + 1 WHERE id = 2", "was booked as"),
        ("UPDATE entries SET held = held + 1 WHERE kind = 'held'", "was booked as"),
        ("INSERT INTO bookings VALUES ('b', '', '')", "nobody wanted"),
        (
            "INSERT INTO entries (booking, item, kind, there, held, hold) "
            "SELECT booking, item, kind, there, held, hold FROM entries WHERE kind = 'used'",
            "was booked as",
        ),
        (
            "UPDATE entries SET there = there - 1 WHERE kind = 'counted'",
            "counted",
        ),
    ],
)
def test_the_check_finds_what_is_wrong(spoil, fault, quiet_rack: Path, tmp_path: Path):
    """Each of these losses or doublings is found; without one nothing is."""
    lines = read_log(quiet_rack / "a.log")
    copy = tmp_path / "r.sqlite"
    copy.write_bytes((quiet_rack / "r.sqlite").read_bytes())
    assert faults(str(copy), lines) == []
    connection = sqlite3.connect(copy)
    connection.executescript(spoil)
    connection.close()
    assert any(fault in found for found in faults(str(copy), lines))
