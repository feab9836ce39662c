"""Files as a whole: what kind they are, their units, and what is wrong with them."""

from __future__ import annotations

from pathlib import Path

import ezdxf
import pytest
from ezdxf.document import Drawing as Document

import nestlib.drawings.read as reading
from nestlib.drawings import read_drawing
from nestlib.drawings.expansion import unfolded
from nestlib.errors import DrawingError
from tests.drawn import drawn, saved


def circle(document: Document) -> None:
    """Draw one circle."""
    document.modelspace().add_circle((0, 0), 5)


def refused(path: Path, **options: str) -> str:
    """Return the one problem that a file is refused for."""
    with pytest.raises(DrawingError) as caught:
        read_drawing(path, **options)
    (problem,) = caught.value.problems
    assert problem.file == str(path)
    assert problem.remedy
    return problem.problem


def test_files_that_are_not_there(tmp_path: Path) -> None:
    """Missing, a folder, a name that no file can have."""
    assert "no such file" in refused(tmp_path / "plate.dxf")
    assert "folder" in refused(tmp_path)
    assert "no such file" in refused(Path("a\0b.dxf"))


def test_large_files_are_refused_unread(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """With the limit."""
    monkeypatch.setattr(reading, "LARGEST", 1000)
    assert "limit" in refused(saved(tmp_path, circle))


def test_contents_decide_not_the_name(tmp_path: Path) -> None:
    """A DXF that is called .svg is read as what it is."""
    path = saved(tmp_path, circle).rename(tmp_path / "odd.svg")
    assert read_drawing(path).version == "R2010"


@pytest.mark.parametrize("binary", [False, True])
@pytest.mark.parametrize("share", [0.1, 0.5, 0.9, 0.99])
def test_truncated_files_are_refused(tmp_path: Path, binary: bool, share: float) -> None:
    """Wherever they end."""
    path = saved(tmp_path, circle, binary=binary)
    data = path.read_bytes()
    path.write_bytes(data[: int(len(data) * share)])
    assert refused(path)


def test_damaged_lines_are_repaired_with_a_word(tmp_path: Path) -> None:
    """A second ENDSEC and a group code that is none: read, and told."""
    path = saved(tmp_path, circle)
    text = path.read_text().replace(
        "  0\nSECTION\n  2\nOBJECTS", "  0\nENDSEC\n  0\nSECTION\n  2\nOBJECTS"
    )
    path.write_text(text.replace(" 40\n5.0\n", " 40\n5.0 mm\n"))
    drawing = read_drawing(path)
    assert drawing.parts[0].size == (10, 10)
    assert [f.code for f in drawing.findings] == ["file-repaired"]


def test_without_a_header_there_are_no_units(tmp_path: Path) -> None:
    """Nothing is made up; the job's unit is taken with a warning."""
    path = tmp_path / "old.dxf"
    path.write_text(
        "0\nSECTION\n2\nENTITIES\n0\nCIRCLE\n8\n0\n10\n0\n20\n0\n40\n1\n0\nENDSEC\n0\nEOF\n"
    )
    assert "which unit" in refused(path)
    drawing = read_drawing(path, fallback_units="in")
    assert (drawing.units, drawing.units_from, drawing.version) == ("in", "job", "R12")
    assert drawing.parts[0].size == pytest.approx((50.8, 50.8))
    assert [f.code for f in drawing.findings] == ["units-assumed"]


def test_the_user_overrides_the_file_and_the_file_the_job(tmp_path: Path) -> None:
    """In this order."""
    options = {"insunits": 5, "fallback_units": "in"}
    drawing = drawn(tmp_path, circle, **options)
    assert (drawing.units, drawing.units_from, drawing.parts[0].size) == ("cm", "file", (100, 100))
    drawing = drawn(tmp_path, circle, **options, units="mm")
    assert (drawing.units, drawing.units_from, drawing.parts[0].size) == ("mm", "user", (10, 10))


def test_units_that_do_not_exist_are_refused(tmp_path: Path) -> None:
    """Before anything is read from the drawing."""
    assert "'cubit'" in refused(saved(tmp_path, circle), units="cubit")


def test_the_joining_distance_can_be_set(tmp_path: Path) -> None:
    """A gap of 0.3 mm is closed if that is asked for."""

    def draw(document: Document) -> None:
        document.modelspace().add_lwpolyline([(0, 0), (50, 0), (50, 50), (0, 0.3)])

    assert drawn(tmp_path, draw).parts == ()
    assert len(drawn(tmp_path, draw, join=0.5).parts) == 1


def test_names_in_other_alphabets_and_odd_bytes(tmp_path: Path) -> None:
    """Findings and lists can be printed whatever the layers are called."""

    def draw(document: Document) -> None:
        circle(document)
        for layer in ("Gravur_ß", "Размеры_dim", "折り線_bend"):
            document.modelspace().add_line((-1, 0), (1, 0), dxfattribs={"layer": layer})

    drawing = drawn(tmp_path, draw)
    assert {x.layer for x in drawing.left_out} == {"Размеры_dim", "折り線_bend"}
    path = tmp_path / "latin.dxf"
    saved(tmp_path, draw, version="R2000").rename(path)
    path.write_bytes(path.read_bytes().replace(b"ANSI_1252", b"ANSI_9999"))
    for item in read_drawing(path).left_out:
        item.layer.encode()


def test_blocks_that_contain_themselves_are_counted_out() -> None:
    """Directly or over others; what only meets again is fine."""
    assert (
        unfolded("a", {"a": 1, "b": 2, "c": 5}, {"a": [("b", 2), ("c", 1)], "b": [("c", 3)]}) == 40
    )
    for cycle in ({"a": [("a", 1)]}, {"a": [("b", 1)], "b": [("c", 1)], "c": [("b", 1)]}):
        with pytest.raises(RecursionError):
            unfolded("a", {}, cycle)
    deep = {f"{i}": [(f"{i + 1}", 2)] for i in range(5000)}
    assert unfolded("0", {"5000": 1}, deep) == 2**5000


def test_everything_is_read_only_from_the_file(tmp_path: Path) -> None:
    """The file is left as it was."""
    path = saved(tmp_path, circle)
    before = path.read_bytes()
    read_drawing(path)
    assert path.read_bytes() == before
    assert list(tmp_path.iterdir()) == [path]
    assert ezdxf.readfile(path).modelspace()[0].dxf.radius == 5
