"""Places that cannot be written to, and wrong usage: nothing is left half done."""

from __future__ import annotations

import errno
import os
from pathlib import Path
from typing import Any

import pytest

from tests.command import NEST, has_all, nestlib, refused, write_job


def nest_into(place: str) -> list[str]:
    """The command with another output folder."""
    return [place if word == "plan" else word for word in NEST]


def test_a_file_in_the_way_is_kept(tmp_path: Path) -> None:
    """The output names a file."""
    write_job(tmp_path)
    (tmp_path / "plan").write_text("precious")
    assert has_all(refused(tmp_path, *NEST), "plan", "file")


def test_a_folder_with_something_else_is_kept(tmp_path: Path) -> None:
    """Even if older plans may be replaced."""
    write_job(tmp_path)
    (tmp_path / "plan").mkdir()
    (tmp_path / "plan" / "thesis.txt").write_text("precious")
    assert has_all(refused(tmp_path, *NEST, "--overwrite"), "plan", "empty folder")


def test_an_older_plan_is_kept_unless_it_may_be_replaced(tmp_path: Path) -> None:
    """With --overwrite it is replaced."""
    write_job(tmp_path)
    assert nestlib(tmp_path, *NEST).exit_code == 0
    assert has_all(refused(tmp_path, *NEST), "plan", "--overwrite")
    assert nestlib(tmp_path, *NEST, "--overwrite").exit_code == 0


def test_a_folder_below_a_file_is_refused(tmp_path: Path) -> None:
    """Something above it is a file."""
    write_job(tmp_path)
    assert "job.toml" in refused(tmp_path, *nest_into("job.toml/plan"))


def test_a_name_that_is_too_long_is_refused(tmp_path: Path) -> None:
    """Longer than any file system takes."""
    write_job(tmp_path)
    assert has_all(refused(tmp_path, *nest_into("x" * 300)), "too long")


@pytest.mark.parametrize(
    ("number", "words"),
    [
        (errno.EACCES, "not allowed"),
        (errno.EROFS, "read-only"),
        (errno.ENOSPC, "disk is full"),
    ],
)
def test_a_folder_that_may_not_be_made_is_refused(
    number: int, words: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The operating system refuses the folder itself."""
    write_job(tmp_path)

    def refuse(path: Path, *args: Any, **kwargs: Any) -> None:
        raise OSError(number, os.strerror(number), str(path))

    monkeypatch.setattr(Path, "mkdir", refuse)
    assert has_all(refused(tmp_path, *NEST), "plan", words)


@pytest.mark.skipif(not Path("/proc/self").is_dir(), reason="a folder that takes nothing")
@pytest.mark.parametrize("place", ["/proc/plan", "/proc/plans/plan"])
def test_a_folder_that_takes_nothing_is_refused_before_the_search(
    place: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Whatever its rights say: the kernel makes all that lies in /proc itself."""
    write_job(tmp_path)

    def search(*args: Any, **kwargs: Any) -> None:
        raise AssertionError("the search was begun")

    monkeypatch.setattr("nestlib.nest", search, raising=False)
    assert has_all(refused(tmp_path, *nest_into(place)), place, "nothing may be written in /proc")


@pytest.mark.parametrize("name", ["plan.json", "parts.csv", "path-001.csv", "report.html"])
def test_a_disk_that_fills_up_leaves_nothing_behind(
    name: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Whichever file is the first that does not fit."""
    write_job(tmp_path)
    usual = Path.open

    def fill(path: Path, mode: str = "r", *args: Any, **kwargs: Any) -> Any:
        if name in path.name and mode[0] in "wax":  # or its draft
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC), str(path))
        return usual(path, mode, *args, **kwargs)

    monkeypatch.setattr(Path, "open", fill)
    assert has_all(refused(tmp_path, *NEST), "plan", "disk is full")


@pytest.mark.parametrize(
    "arguments",
    [
        ["nest"],
        ["nets", "job.toml"],
        ["nest", "job.toml", "--seconds", "0"],
        ["nest", "job.toml", "--seconds", "-5"],
        ["nest", "job.toml", "--seconds", "soon"],
        ["nest", "job.toml", "--seconds", "nan"],
        ["nest", "job.toml", "--workers", "0"],
        ["nest", "job.toml", "--iterations", "0"],
        ["nest", "job.toml", "--dxf", "R99"],
        ["nest", "job.toml", "--nonsense"],
        ["nest", "job.toml", "--metal", "mild-steel"],
        ["nest", "job.toml", "job.toml"],
        ["check"],
        ["verify"],
        ["metals", "--machine", "co2-9000"],
        ["metals", "--machine", "job.toml"],
    ],
    ids=" ".join,
)
def test_wrong_usage_is_refused(arguments: list[str], tmp_path: Path) -> None:
    """Exit code 2 and one message."""
    write_job(tmp_path)
    refused(tmp_path, *arguments)


def test_the_demo_replaces_nothing(tmp_path: Path) -> None:
    """Neither a folder nor a file."""
    (tmp_path / "stands").mkdir()
    (tmp_path / "note.txt").write_text("precious")
    assert "stands" in refused(tmp_path, "demo", "stands")
    assert "note.txt" in refused(tmp_path, "demo", "note.txt")
    assert "note.txt" in refused(tmp_path, "demo", "note.txt/stands")


def test_an_interrupt_before_there_is_a_result_writes_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Exit code 3, no plan, no traceback."""
    write_job(tmp_path)

    def interrupt(*args: Any, **kwargs: Any) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr("nestlib.read_job", interrupt, raising=False)
    result = nestlib(tmp_path, *NEST)
    assert result.exit_code == 3
    assert not (tmp_path / "plan").exists()
    assert "Traceback" not in result.output


def test_a_mistake_of_ours_is_one_message_with_a_file_to_send(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Exit code 4; the traceback goes into the file, not to the user."""
    write_job(tmp_path)
    monkeypatch.setattr("tempfile.tempdir", str(tmp_path / "reports"))
    (tmp_path / "reports").mkdir()

    def fail(*args: Any, **kwargs: Any) -> None:
        raise ZeroDivisionError("by accident")

    monkeypatch.setattr("nestlib.nest", fail, raising=False)
    result = nestlib(tmp_path, *NEST)
    assert result.exit_code == 4, result.output
    (report,) = (tmp_path / "reports").iterdir()
    assert str(report) in result.stderr.replace("\n", "")
    assert "Traceback" not in result.output
    assert "ZeroDivisionError" in report.read_text()


def test_a_file_of_ones_own_in_a_plan_folder_is_never_replaced(tmp_path: Path) -> None:
    """Not even with --overwrite."""
    write_job(tmp_path)
    assert nestlib(tmp_path, *NEST).exit_code == 0
    notes = tmp_path / "plan" / "notes.txt"
    notes.write_text("cut on Friday")
    result = nestlib(tmp_path, *NEST, "--overwrite")
    assert result.exit_code == 2
    assert "notes.txt" in result.stderr
    assert notes.read_text() == "cut on Friday"
