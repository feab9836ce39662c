"""Either the whole folder or nothing."""

import errno
import os
from pathlib import Path

import pytest

from nestlib.errors import OutputError
from nestlib.writing import demand_free, plan_folder, write_plan_record, write_text
from tests.layouts import mixed_layout, whole_plan

FILES = ["sheet-001.dxf"]


def write_all(target: Path, **options) -> None:
    """A small plan folder."""
    with plan_folder(target, **options) as folder:
        write_plan_record(whole_plan(mixed_layout()), FILES, folder)
        write_text(folder / "parts.csv", "x")


def names(folder: Path) -> list[str]:
    """What lies in a folder, hidden things too."""
    return sorted(os.listdir(folder))


def test_the_folder_appears_whole(tmp_path):
    """Everything is there at the end and nothing else beside it."""
    with plan_folder(tmp_path / "out") as folder:
        write_text(folder / "a.txt", "a")
        assert not (tmp_path / "out").exists()
    assert names(tmp_path) == ["out"]
    assert names(tmp_path / "out") == ["a.txt"]


def test_an_empty_folder_is_taken(tmp_path):
    """There is nothing in it to lose."""
    (tmp_path / "out").mkdir()
    write_all(tmp_path / "out")
    assert names(tmp_path) == ["out"]


@pytest.mark.parametrize("error", [RuntimeError, KeyboardInterrupt])
def test_an_error_leaves_nothing(tmp_path, error):
    """Whatever is raised inside is passed on, and the draft is gone."""

    def interrupted() -> None:
        with plan_folder(tmp_path / "out") as folder:
            write_text(folder / "a.txt", "a")
            raise error

    with pytest.raises(error):
        interrupted()
    assert names(tmp_path) == []


def test_a_full_disk_leaves_the_old_plan(tmp_path, monkeypatch):
    """One clear message; the old folder as it was; no draft beside it."""
    target = tmp_path / "out"
    write_all(target)
    before = {p.name: p.read_bytes() for p in target.iterdir()}

    def full(*_args, **_options):
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr(Path, "write_text", full)
    with pytest.raises(OutputError, match=r"the disk is full\. Free some space"):
        write_all(target, overwrite=True)
    assert names(tmp_path) == ["out"]
    assert {p.name: p.read_bytes() for p in target.iterdir()} == before


def test_a_plain_os_error_inside_is_reported_too(tmp_path):
    """Other code may write into the folder as well."""
    with (
        pytest.raises(OutputError, match="out: cannot be written: the disk is full"),
        plan_folder(tmp_path / "out"),
    ):
        raise OSError(errno.ENOSPC, "full")
    assert names(tmp_path) == []


def test_an_old_plan_is_replaced_only_when_asked(tmp_path):
    """Refused without `overwrite`; with it nothing of the old one is left."""
    target = tmp_path / "out"
    write_all(target)
    write_text(target / "sheet-009.dxf", "old")
    with pytest.raises(OutputError, match="already holds a plan"):
        write_all(target)
    assert "sheet-009.dxf" in names(target)
    write_all(target, overwrite=True)
    assert names(target) == ["parts.csv", "plan.json"]
    assert names(tmp_path) == ["out"]


@pytest.mark.parametrize("text", ["{}", '{"format": "other"}', "no json", "[1]"])
def test_what_is_no_plan_is_never_replaced(tmp_path, text):
    """Not even when asked to."""
    target = tmp_path / "out"
    target.mkdir()
    (target / "plan.json").write_text(text, encoding="utf-8")
    with pytest.raises(OutputError, match="not a plan"):
        write_all(target, overwrite=True)
    assert (target / "plan.json").read_text(encoding="utf-8") == text


def test_a_file_in_the_way(tmp_path):
    """It stays as it is."""
    (tmp_path / "out").write_text("mine", encoding="utf-8")
    with pytest.raises(OutputError, match="a file of that name is in the way"):
        write_all(tmp_path / "out", overwrite=True)
    assert (tmp_path / "out").read_text(encoding="utf-8") == "mine"


def test_missing_parents_are_made(tmp_path):
    """Both folders above the target."""
    write_all(tmp_path / "jobs" / "one" / "out")
    assert names(tmp_path / "jobs" / "one") == ["out"]


def test_parents_that_were_made_go_again_after_an_error(tmp_path):
    """Those that were there before stay."""
    (tmp_path / "jobs").mkdir()

    def interrupted() -> None:
        with plan_folder(tmp_path / "jobs" / "one" / "two" / "out"):
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        interrupted()
    assert names(tmp_path) == ["jobs"]
    assert names(tmp_path / "jobs") == []


def test_a_parent_that_is_a_file(tmp_path):
    """The message says so."""
    (tmp_path / "none").write_text("", encoding="utf-8")
    with pytest.raises(OutputError, match="is a file, not a folder"):
        write_all(tmp_path / "none" / "out")


def test_a_parent_that_is_a_file_is_told_beforehand(tmp_path):
    """Not after hours of work."""
    (tmp_path / "list.csv").write_text("x", encoding="utf-8")
    with pytest.raises(OutputError, match="is a file, not a folder"):
        demand_free(tmp_path / "list.csv" / "deep" / "plan")


def test_a_place_where_writing_is_not_allowed(tmp_path, monkeypatch):
    """Permission denied when the draft is made."""

    def refused(*_args, **_options):
        raise PermissionError(errno.EACCES, os.strerror(errno.EACCES))

    monkeypatch.setattr(Path, "mkdir", refused)
    with pytest.raises(OutputError, match="writing there is not allowed"):
        write_all(tmp_path / "out")
    monkeypatch.undo()
    assert names(tmp_path) == []


def test_a_failed_rename_puts_the_old_plan_back(tmp_path, monkeypatch):
    """The second of the two renames fails."""
    target = tmp_path / "out"
    write_all(target)
    write_text(target / "sheet-009.dxf", "old")
    rename = Path.rename

    def failing(self, goal):
        if self.name.endswith(".part"):
            raise OSError(errno.EIO, "broken")
        return rename(self, goal)

    monkeypatch.setattr(Path, "rename", failing)
    with pytest.raises(OutputError, match="broken"):
        write_all(target, overwrite=True)
    assert names(tmp_path) == ["out"]
    assert "sheet-009.dxf" in names(target)


def test_a_link_to_a_plan_stays_a_link(tmp_path):
    """The plan behind it is replaced."""
    write_all(tmp_path / "real")
    (tmp_path / "link").symlink_to(tmp_path / "real", target_is_directory=True)
    write_all(tmp_path / "link", overwrite=True)
    assert (tmp_path / "link").is_symlink()
    assert names(tmp_path) == ["link", "real"]


def test_the_folder_may_be_named_from_where_one_is(tmp_path, monkeypatch):
    """Relative, with a slash at the end."""
    monkeypatch.chdir(tmp_path)
    write_all(Path("out/"))
    assert names(tmp_path) == ["out"]
