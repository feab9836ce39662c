"""Plan folders that were damaged or tampered with after they were written."""

from __future__ import annotations

import json
import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from tests.command import NEST, has_all, nestlib, refused, write_job

Record = dict[str, Any]


@pytest.fixture(scope="module")
def good_plan(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A plan of two squares on one sheet."""
    folder = tmp_path_factory.mktemp("good")
    write_job(folder)
    result = nestlib(folder, *NEST)
    assert result.exit_code == 0, result.output
    return folder / "plan"


@pytest.fixture
def plan(good_plan: Path, tmp_path: Path) -> Path:
    """A copy that a test may damage."""
    return Path(shutil.copytree(good_plan, tmp_path / "plan"))


def change(plan: Path, edit: Callable[[Record], object]) -> None:
    """Edit plan.json."""
    record = json.loads((plan / "plan.json").read_text(encoding="utf-8"))
    edit(record)
    (plan / "plan.json").write_text(json.dumps(record), encoding="utf-8")


def test_an_untouched_plan_passes(plan: Path) -> None:
    """Otherwise the other cases would prove nothing."""
    assert nestlib(plan.parent, "verify", "plan").exit_code == 0


def move_a_part(record: Record) -> None:
    """Put the first piece on top of the second."""
    first, second = record["layouts"][0]["placements"]
    first["x"], first["y"] = second["x"], second["y"]


def drop_a_part(record: Record) -> None:
    """Take a piece and its cuts away without counting it."""
    layout = record["layouts"][0]
    layout["placements"].pop()
    layout["path"] = [cut for cut in layout["path"] if cut["placement"] == 0]


def turn_a_part(record: Record) -> None:
    """Turn a piece as it may not be turned."""
    record["layouts"][0]["placements"][0]["rotation"] = 30.0


@pytest.mark.parametrize("edit", [move_a_part, drop_a_part, turn_a_part])
def test_a_plan_that_no_longer_fits_its_drawings_fails(
    edit: Callable[[Record], None], plan: Path
) -> None:
    """Exit code 1 and a verdict, no traceback."""
    change(plan, edit)
    result = nestlib(plan.parent, "verify", "plan")
    assert result.exit_code == 1, result.output
    assert "Traceback" not in result.output
    assert result.output.strip()


def test_a_moved_part_in_the_drawing_fails(plan: Path) -> None:
    """The written DXF is what counts: every x of one contour is shifted by 2 mm."""
    path = plan / "sheet-001.dxf"
    text = path.read_text()
    head, outer, rest = text.partition("CUT_OUTER\n100\nAcDbPolyline\n")
    assert outer
    lines = rest.split("\n")
    end = next(i for i in range(0, len(lines), 2) if lines[i].strip() == "0")
    for i in range(0, end, 2):
        if lines[i].strip() == "10":
            lines[i + 1] = str(float(lines[i + 1]) + 2)
    path.write_text(head + outer + "\n".join(lines))
    assert nestlib(plan.parent, "verify", "plan").exit_code == 1


EDITS: dict[str, Callable[[Record], object]] = {
    "another format": lambda r: r.update(format="shopping-list"),
    "a later version": lambda r: r.update(version=99),
    "no layouts": lambda r: r.pop("layouts"),
    "no parts": lambda r: r.pop("parts"),
    "layouts that are none": lambda r: r.update(layouts="many"),
    "spacing in words": lambda r: r["spacing"].update(kerf="thin"),
    "a part that is not there": lambda r: r["layouts"][0]["placements"][0].update(part="ghost"),
    "a drawing elsewhere": lambda r: r["layouts"][0].update(dxf="../../secret.dxf"),
}


@pytest.mark.parametrize("case", EDITS)
def test_a_damaged_record_is_refused(case: str, plan: Path) -> None:
    """Bad input or a failed check, told in words."""
    change(plan, EDITS[case])
    result = nestlib(plan.parent, "verify", "plan")
    assert result.exit_code in (1, 2), result.output
    assert isinstance(result.exception, SystemExit)
    assert "Traceback" not in result.output
    assert result.output.strip()


@pytest.mark.parametrize("content", [b"", b"{", b"[]", b"\xff\xfe\x00", b"[" * 100_000])
@pytest.mark.parametrize("command", ["verify", "report"])
def test_a_record_that_is_none_is_refused(command: str, content: bytes, plan: Path) -> None:
    """Exit code 2, with the name of the file."""
    (plan / "plan.json").write_bytes(content)
    assert "plan.json" in refused(plan.parent, command, "plan")


@pytest.mark.parametrize("command", ["verify", "report"])
@pytest.mark.parametrize("kind", ["missing", "empty folder", "file"])
def test_what_is_no_plan_folder_is_refused(command: str, kind: str, tmp_path: Path) -> None:
    """The message names the folder."""
    if kind == "empty folder":
        (tmp_path / "folder").mkdir()
    elif kind == "file":
        (tmp_path / "folder").write_text("a file")
    assert "folder" in refused(tmp_path, command, "folder")


def test_a_missing_drawing_is_told(plan: Path) -> None:
    """By its name: the plan fails, while what can be checked without it is."""
    (plan / "sheet-001.dxf").unlink()
    result = nestlib(plan.parent, "verify", "plan")
    assert result.exit_code == 1, result.output
    assert has_all(result.output, "sheet-001.dxf")


@pytest.mark.parametrize("share", [0.0, 0.5])
def test_a_drawing_cut_short_is_told(share: float, plan: Path) -> None:
    """By its name, without a traceback."""
    path = plan / "sheet-001.dxf"
    content = path.read_bytes()
    path.write_bytes(content[: int(share * len(content))])
    output = refused(plan.parent, "verify", "plan")
    assert has_all(output, "sheet-001.dxf")
    assert "Errno" not in output
