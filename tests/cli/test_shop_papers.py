"""What is printed of a plan, from the command line: only when asked for."""

from __future__ import annotations

import json
from pathlib import Path

import pypdfium2
import pytest
import reportlab
from fontTools.ttLib import TTFont

from nestlib import InputError, write_part_labels, write_shop_sheets
from nestlib.writing import demand_free
from tests.command import NEST, nestlib, refused, write_job


def test_shop_sheets_labels_and_pictures(tmp_path: Path) -> None:
    """`nest` writes them if asked to, `report` later; such a folder can be overwritten."""
    write_job(tmp_path)
    done = nestlib(tmp_path, *NEST, "--shop-sheets", "letter")
    assert done.exit_code == 0, done.output
    file = tmp_path / "plan" / "shop-sheets.pdf"
    (page,) = pypdfium2.PdfDocument(file.read_bytes())
    assert page.get_size() == (612, 792)
    text = page.get_textpage().get_text_range()
    assert "Verified" in text
    (told,) = json.loads(nestlib(tmp_path, "feedback", "plan", "--json").stdout)["plans"]
    assert f"Plan {told['plan']}/1" in text
    done = nestlib(tmp_path, "report", "plan", "--pdf", "--labels", "62x29", "--json")
    assert set(json.loads(done.stdout)) == {"report", "shop_sheets", "part_labels"}
    (label,) = pypdfium2.PdfDocument((tmp_path / "plan" / "part-labels.pdf").read_bytes())
    assert "2 pieces" in label.get_textpage().get_text_range()
    assert nestlib(tmp_path, "verify", "plan").exit_code == 0
    for name, begin in (("one.svg", b"<svg"), ("one.png", b"\x89PNG\r\n")):
        done = nestlib(tmp_path, "picture", "plan", "--out", name, "--width", "64")
        assert done.exit_code == 0, done.output
        assert (tmp_path / name).read_bytes().startswith(begin)
    assert "no layout 9" in refused(tmp_path, "picture", "plan", "--layout", "9")
    assert ".svg or .png" in refused(tmp_path, "picture", "plan", "--out", "one.jpg")
    demand_free(tmp_path / "plan", overwrite=True)  # or it raises


def test_what_cannot_be_printed_is_refused(tmp_path: Path) -> None:
    """Exit code 2 and one message."""
    assert "report --pdf" in refused(tmp_path, "nest", "--each", "a.toml", "--shop-sheets", "a4")
    assert "Name a plan folder" in refused(tmp_path, "report", "nowhere", "--pdf")
    with pytest.raises(InputError, match="a4, letter"):
        write_shop_sheets(tmp_path, "a3")
    with pytest.raises(InputError, match="100x50"):
        write_part_labels(tmp_path, "stamps")


@pytest.mark.parametrize("name", ["支架-1", "Träger ø8 – ½", "كتيفة", "Ω-plate \U0001f527"])
def test_names_that_the_font_cannot_write_are_told(tmp_path: Path, name: str) -> None:
    """Those letters of which the font has no glyph, as fontTools reads its table."""
    file = Path(reportlab.__file__).parent / "fonts" / "Vera.ttf"
    glyphs = TTFont(file).getBestCmap()
    lacking = [letter for letter in dict.fromkeys(name) if ord(letter) not in glyphs]
    write_job(tmp_path, ('drawing = "square.dxf"', f'drawing = "square.dxf"\nname = "{name}"'))
    told = nestlib(tmp_path, *NEST, "--shop-sheets", "a4")
    again = nestlib(tmp_path, "report", "plan", "--pdf", "--labels", "62x29")
    assert told.exit_code == again.exit_code == 0
    for output, places in ((told.stderr, 1), (again.stderr, 2)):
        words = f"no letters for {' '.join(lacking)}: boxes stand for them in '{name}'"
        assert output.count(words) == output.count("no letters") == (places if lacking else 0)
