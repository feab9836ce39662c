"""Drawings that cannot be cut: one clear message, exit code 2, nothing written."""

from __future__ import annotations

from pathlib import Path

import pytest

from fixtures import plain_dxf as dxf
from tests.command import NEST, SQUARE, has_all, nestlib, refused, write_job

BOMB = """<?xml version="1.0"?>
<!DOCTYPE svg [<!ENTITY a "aaaaaaaaaa">
{entities}]>
<svg xmlns="http://www.w3.org/2000/svg" width="100mm" height="100mm" viewBox="0 0 100 100">
<text>&a9;</text><rect width="90" height="90"/></svg>
""".format(
    entities="\n".join(
        f'<!ENTITY a{i} "{10 * f"&a{i - 1};" if i > 1 else 10 * "&a;"}">' for i in range(1, 10)
    )
)

SPY = """<?xml version="1.0"?>
<!DOCTYPE svg [<!ENTITY spy SYSTEM "file:///etc/hostname">]>
<svg xmlns="http://www.w3.org/2000/svg" width="100mm" height="100mm"><text>&spy;</text></svg>
"""

DRAWINGS: dict[str, str | bytes] = {
    "empty": "",
    "prose": "Dear workshop, please cut forty of these.\n" * 20,
    "picture": b"\x89PNG\r\n\x1a\n" + bytes(range(256)) * 8,
    "cut short": SQUARE[: len(SQUARE) // 2],
    "nothing to cut": dxf.dxf(dxf.text("SEE NEXT SHEET", 0, 0)),
    "only an open line": dxf.dxf(dxf.line((0, 0), (100, 0)), dxf.line((100, 0), (100, 100))),
    "not a number": dxf.dxf(dxf.rectangle(0, 0, float("nan"), 100)),
    "numbers without end": dxf.dxf(dxf.rectangle(0, 0, 1e308, 1e308)),
    "infinite radius": dxf.dxf(dxf.circle(0, 0, float("inf"))),
    "crossing itself": dxf.dxf(dxf.polyline([(0, 0), (100, 100), (100, 0), (0, 100)])),
    "block in itself": dxf.dxf(
        dxf.insert("LOOP"), blocks=[dxf.block("LOOP", dxf.insert("LOOP", 10, 0))]
    ),
    "array without end": dxf.dxf(
        dxf.insert("ONE", 0, 0, (70, 30000), (71, 30000), (44, 20), (45, 20)),
        blocks=[dxf.block("ONE", dxf.circle(0, 0, 5))],
    ),
    "block that is not there": dxf.dxf(dxf.insert("LOST")),
}


@pytest.mark.parametrize("case", DRAWINGS)
def test_a_drawing_that_cannot_be_cut_is_refused(case: str, tmp_path: Path) -> None:
    """The message names the drawing."""
    write_job(tmp_path, drawing=DRAWINGS[case])
    message = refused(tmp_path, *NEST)
    assert "square.dxf" in message


@pytest.mark.parametrize(
    "content",
    [
        BOMB,
        SPY,
        "",
        "<svg",
        "<html><body>Not found</body></html>",
        "<svg xmlns='http://www.w3.org/2000/svg' width='nanmm' height='1mm'><path d='M0 0'/></svg>",
    ],
    ids=["entity bomb", "outside entity", "empty", "cut short", "web page", "no number"],
)
def test_an_svg_that_cannot_be_cut_is_refused(content: str, tmp_path: Path) -> None:
    """Entities are not expanded, other files not read."""
    write_job(tmp_path, ("square.dxf", "square.svg"))
    (tmp_path / "square.svg").write_text(content)
    message = refused(tmp_path, *NEST)
    assert "square.svg" in message


def test_a_drawing_without_units_in_a_job_without_units_is_refused(tmp_path: Path) -> None:
    """Units are never guessed."""
    bare = dxf.dxf(dxf.rectangle(0, 0, 100, 100), units=None)
    write_job(tmp_path, ('units = "mm"\n', ""), drawing=bare)
    assert has_all(refused(tmp_path, *NEST), "square.dxf", "units")


def test_one_bad_file_does_not_keep_check_from_the_others(tmp_path: Path) -> None:
    """The good drawing is reported, the bad ones are named, and the exit code tells."""
    (tmp_path / "good.dxf").write_text(SQUARE)
    (tmp_path / "bad.dxf").write_text("not a drawing")
    result = nestlib(tmp_path, "check", "bad.dxf", "missing.dxf", "good.dxf")
    assert result.exit_code in (1, 2)
    assert has_all(result.output, "good.dxf", "bad.dxf", "missing.dxf"), result.output
    assert "Traceback" not in result.output


@pytest.mark.parametrize("option", [["--units", "furlong"], ["--kerf", "-1"], ["--nonsense"]])
def test_check_refuses_wrong_options(option: list[str], tmp_path: Path) -> None:
    """Exit code 2."""
    (tmp_path / "good.dxf").write_text(SQUARE)
    refused(tmp_path, "check", "good.dxf", *option)
