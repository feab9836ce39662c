"""Job files that cannot be nested: one clear message, exit code 2, nothing written."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.command import JOB, NEST, has_all, nestlib, refused, write_job

#: What is replaced in the good job file, by what, and words that the message must have.
SPOILT = {
    "unclosed text": ('"plate"', '"plate', ["job.toml", "line 13"]),
    "key twice": ("quantity = 2", "quantity = 2\nquantity = 3", ["job.toml", "line 20"]),
    "misspelt key": ("quantity = 2", "quantty = 2", ["line 19", "quantty", "quantity"]),
    "unknown table": ("[[part]]", "[[parts]]", ["parts"]),
    "no metal": ('metal = "mild-steel"\n', "", ["metal"]),
    "unknown metal": ('"mild-steel"', '"unobtainium"', ["line 3", "unobtainium"]),
    "unknown machine": ('"co2-400"', '"co2-9000"', ["line 5", "co2-9000"]),
    "no thickness": ('thickness = "2 mm"\n', "", ["thickness"]),
    "thickness of zero": ('"2 mm"', '"0 mm"', ["line 4", "thickness"]),
    "negative thickness": ('"2 mm"', '"-2 mm"', ["line 4", "thickness"]),
    "thickness in words": ('"2 mm"', '"thick"', ["line 4", "thick"]),
    "beyond the machine": ('"2 mm"', '"8 mm"', ["8 mm", "co2-400", "--force"]),
    "sheet beyond the bed": ('"500x400"', '"9000x4000"', ["plate", "co2-400"]),
    "sheet without a size": ('"500x400"', '"500 by"', ["line 14", "500 by"]),
    "negative sheet": ('"500x400"', '"-500x400"', ["line 14", "-500x400"]),
    "sheet of no height": ('"500x400"', '"500x0"', ["line 14", "500x0"]),
    "no sheet": ('[[sheet]]\nname = "plate"\nsize = "500x400"\nquantity = 1\n', "", ["sheet"]),
    "no part": ('[[part]]\ndrawing = "square.dxf"\nquantity = 2\n', "", ["part"]),
    "negative quantity": ("quantity = 2", "quantity = -2", ["line 19", "quantity", "-2"]),
    "quantity of zero": ("quantity = 2", "quantity = 0", ["line 19", "quantity", "0"]),
    "fractional quantity": ("quantity = 2", "quantity = 2.5", ["line 19", "quantity", "2.5"]),
    "quantity as text": ("quantity = 2", 'quantity = "two"', ["line 19", "quantity", "two"]),
    "quantity of billions": ("quantity = 2", "quantity = 4000000000", ["line 19", "quantity"]),
    "kerf that is no number": ("kerf = 0.2", "kerf = nan", ["line 8", "kerf", "nan"]),
    "negative spacing": ("spacing = 3", "spacing = -3", ["line 9", "spacing", "-3"]),
    "infinite margin": ("margin = 5", "margin = inf", ["line 10", "margin", "inf"]),
    "rotations in words": ("quantity = 2", 'rotations = "twice"', ["line 19", "twice"]),
    "unknown unit": ('"mm"', '"furlong"', ["line 2", "furlong"]),
    "drawing listed twice": (
        "quantity = 2\n",
        'quantity = 2\n\n[[part]]\ndrawing = "square.dxf"\nquantity = 1\n',
        ["square.dxf", "listed already", "line 18"],
    ),
    "drawing that is not there": ("square.dxf", "circle.dxf", ["line 18", "circle.dxf"]),
    "drawing that is a folder": ('"square.dxf"', '"."', ["line 18"]),
    "drawing of another kind": ("square.dxf", "square.step", ["square.step"]),
}


@pytest.mark.parametrize("case", SPOILT)
def test_a_spoilt_job_is_refused(case: str, tmp_path: Path) -> None:
    """The message names the place and the value."""
    old, new, words = SPOILT[case]
    write_job(tmp_path, (old, new))
    message = refused(tmp_path, *NEST)
    assert has_all(message, *words), message


def test_the_unspoilt_job_is_nested(tmp_path: Path) -> None:
    """Otherwise the other cases would prove nothing."""
    write_job(tmp_path)
    result = nestlib(tmp_path, *NEST)
    assert result.exit_code == 0, result.output
    assert (tmp_path / "plan" / "plan.json").exists()


def test_all_problems_are_reported_at_once(tmp_path: Path) -> None:
    """Four mistakes, four lines of one message."""
    write_job(
        tmp_path,
        ("quantity = 2", "quantity = -2"),
        ('"500x400"', '"500 by"'),
        ("kerf = 0.2", "kerf = -1"),
        ('"co2-400"', '"co2-9000"'),
    )
    message = refused(tmp_path, *NEST)
    assert has_all(message, "line 5", "line 8", "line 14", "line 19"), message


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (None, ["job.toml"]),
        (b"", ["job.toml"]),
        (b"   \n\n", ["job.toml"]),
        (b"\x00\x01\x02\xff\xfe", ["job.toml"]),
        (JOB.replace("Two squares", "Zwölf").encode("latin-1"), ["job.toml", "UTF-8"]),
        (b"\xff\xfe" + JOB.encode("utf-16-le"), ["job.toml", "UTF-8"]),
        (b"{}", ["job.toml"]),
        (b"a = " + b"[" * 20_000, ["job.toml"]),
    ],
    ids=["missing", "empty", "blank", "binary", "latin-1", "utf-16", "json", "deep"],
)
def test_what_is_no_job_file_is_refused(
    content: bytes | None, words: list[str], tmp_path: Path
) -> None:
    """The message names the file."""
    if content is not None:
        (tmp_path / "job.toml").write_bytes(content)
    message = refused(tmp_path, *NEST)
    assert has_all(message, *words), message


def test_a_folder_is_no_job_file(tmp_path: Path) -> None:
    """Nor does it end in a traceback."""
    (tmp_path / "job.toml").mkdir()
    assert "job.toml" in refused(tmp_path, *NEST)


def test_force_goes_beyond_the_machine_with_a_warning(tmp_path: Path) -> None:
    """The limit is still told."""
    write_job(tmp_path, ('"2 mm"', '"8 mm"'))
    result = nestlib(tmp_path, *NEST, "--force")
    assert result.exit_code == 0, result.output


def test_a_part_larger_than_every_sheet_is_named_with_the_reason(tmp_path: Path) -> None:
    """Exit code 1: done, but something could not be placed."""
    write_job(tmp_path, ('"500x400"', '"90x90"'))
    quiet = [word for word in NEST if word != "--quiet"]
    result = nestlib(tmp_path, *quiet)
    assert result.exit_code == 1, result.output
    assert "square" in result.output
    assert "Traceback" not in result.output
