"""Part lists as people send them: some can be read, others say what is wrong where."""

from __future__ import annotations

import csv
import json
from pathlib import Path

import openpyxl
import pytest

from tests.command import LIST, SQUARE, has_all, nestlib, refused

SPOILT = {
    "negative quantity": ("drawing,quantity\nsquare.dxf,-2\n", ["row 2", "quantity", "-2"]),
    "fractional quantity": ("drawing,quantity\nsquare.dxf,2.5\n", ["row 2", "quantity", "2.5"]),
    "quantity in words": ("drawing,quantity\nsquare.dxf,two\n", ["row 2", "quantity", "two"]),
    "formula": ("drawing,quantity\nsquare.dxf,=1+1\n", ["row 2", "quantity", "=1+1"]),
    "no column of drawings": ("thing,quantity\nsquare.dxf,2\n", ["drawing"]),
    "empty": ("", ["list.csv"]),
    "head only": ("drawing,quantity\n", ["list.csv"]),
    "drawing that is not there": ("drawing,quantity\ncircle.dxf,2\n", ["row 2", "circle.dxf"]),
    "no drawing in a row": ("drawing,quantity\n,2\n", ["row 2", "drawing"]),
    "name twice": (
        "drawing,name,quantity\nsquare.dxf,lid,1\nsquare.dxf,lid,1\n",
        ["row 3", "listed already"],
    ),
    "column twice": ("drawing,quantity,quantity\nsquare.dxf,2,3\n", ["quantity"]),
    "rotations in words": ("drawing,quantity,rotations\nsquare.dxf,1,twice\n", ["row 2", "twice"]),
}


@pytest.mark.parametrize("case", SPOILT)
def test_a_spoilt_list_is_refused(case: str, tmp_path: Path) -> None:
    """The message names row, column and value."""
    content, words = SPOILT[case]
    (tmp_path / "square.dxf").write_text(SQUARE)
    (tmp_path / "list.csv").write_text(content)
    message = refused(tmp_path, *LIST)
    assert has_all(message, *words), message


@pytest.mark.parametrize("content", [b"", b"drawing,quantity\n", b"PK\x03\x04 cut short"])
def test_what_is_no_workbook_is_refused(content: bytes, tmp_path: Path) -> None:
    """Whatever its name ends in."""
    (tmp_path / "list.xlsx").write_bytes(content)
    arguments = ["list.xlsx" if word == "list.csv" else word for word in LIST]
    assert "list.xlsx" in refused(tmp_path, *arguments)


def test_a_formula_in_a_workbook_is_refused(tmp_path: Path) -> None:
    """What it would come to is not stored in the file, so nothing is guessed."""
    (tmp_path / "square.dxf").write_text(SQUARE)
    book = openpyxl.Workbook()
    book.active.append(["drawing", "quantity"])
    book.active.append(["square.dxf", "=1+1"])
    book.save(tmp_path / "list.xlsx")
    arguments = ["list.xlsx" if word == "list.csv" else word for word in LIST]
    assert has_all(refused(tmp_path, *arguments), "row 2", "quantity", "formula")


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "cp1252", "utf-16"])
def test_lists_in_other_encodings_are_read(encoding: str, tmp_path: Path) -> None:
    """An umlaut survives."""
    (tmp_path / "square.dxf").write_text(SQUARE)
    content = "drawing,name,quantity\nsquare.dxf,Rückwand groß,2\n"
    (tmp_path / "list.csv").write_bytes(content.encode(encoding))
    assert parts_of_plan(tmp_path) == {"Rückwand groß": 2}


def test_semicolons_and_decimal_commas_are_read(tmp_path: Path) -> None:
    """As half of Europe writes them."""
    (tmp_path / "square.dxf").write_text(SQUARE)
    content = "drawing;name;quantity;step\nsquare.dxf;lid;2,0;22,5\n"
    (tmp_path / "list.csv").write_text(content)
    assert parts_of_plan(tmp_path) == {"lid": 2}


def test_a_formula_as_a_name_is_not_handed_on_as_a_formula(tmp_path: Path) -> None:
    """It is a text to us, and stays one in the spreadsheet that opens our lists."""
    (tmp_path / "square.dxf").write_text(SQUARE)
    (tmp_path / "list.csv").write_text("drawing,name,quantity\nsquare.dxf,=1+1,2\n")
    assert parts_of_plan(tmp_path) == {"=1+1": 2}
    written = (tmp_path / "plan" / "parts.csv").read_text(encoding="utf-8-sig")
    cells = [cell for row in csv.reader(written.splitlines()) for cell in row]
    assert any("=1+1" in cell for cell in cells)
    assert not any(cell.startswith("=") for cell in cells)


def parts_of_plan(folder: Path) -> dict[str, int]:
    """Nest the list; return names and quantities."""
    result = nestlib(folder, *LIST)
    assert result.exit_code == 0, result.output
    record = json.loads((folder / "plan" / "plan.json").read_text(encoding="utf-8"))
    return {part["name"]: part["quantity"] for part in record["parts"]}


@pytest.mark.parametrize("missing", ["--metal", "--thickness", "--sheet"])
def test_a_list_alone_is_not_enough(missing: str, tmp_path: Path) -> None:
    """The message names the option that is missing."""
    (tmp_path / "square.dxf").write_text(SQUARE)
    (tmp_path / "list.csv").write_text("drawing,quantity\nsquare.dxf,2\n")
    at = LIST.index(missing)
    assert missing in refused(tmp_path, *LIST[:at], *LIST[at + 2 :])


@pytest.mark.parametrize(
    ("option", "value"),
    [
        ("--metal", "unobtainium"),
        ("--thickness", "0"),
        ("--thickness", "20"),
        ("--sheet", "500"),
        ("--machine", "co2-9000"),
        ("--kerf", "nan"),
        ("--spacing", "-1"),
        ("--margin", "inf"),
        ("--units", "furlong"),
    ],
)
def test_wrong_options_of_a_list_are_refused(option: str, value: str, tmp_path: Path) -> None:
    """The message has the value."""
    (tmp_path / "square.dxf").write_text(SQUARE)
    (tmp_path / "list.csv").write_text("drawing,quantity\nsquare.dxf,2\n")
    words = dict(zip(LIST[9::2], LIST[10::2], strict=True)) | {option: value}
    arguments = [word for pair in words.items() for word in pair]
    assert value in refused(tmp_path, *LIST[:9], *arguments)
