"""Every drawing in fixtures/broken gets exactly the answer that it must get."""

import contextlib
import tomllib

import pytest

from fixtures.broken_drawings import BROKEN, broken_files
from nestlib.drawings import check_drawing, read_drawing
from nestlib.errors import DrawingError
from nestlib.model import Contour, Sheet

EXPECTED = tomllib.loads((BROKEN / "expected.toml").read_text(encoding="utf-8"))["drawing"]


def findings(case):
    """Read and check a broken drawing with the options of its case."""
    sheets = [Sheet("sheet", Contour.rectangle(*case["sheet"]))] if "sheet" in case else []
    drawing = read_drawing(BROKEN / case["file"])
    return check_drawing(
        drawing, thickness=case.get("thickness"), kerf=case.get("kerf"), sheets=sheets
    )


def says_so(case, text):
    """Whether all the words that the case demands stand in a text."""
    return all(words.lower() in text.lower() for words in case["says"])


@pytest.mark.parametrize("case", [c for c in EXPECTED if c["codes"]], ids=lambda case: case["file"])
def test_a_readable_drawing_gets_exactly_its_findings(case):
    """No code is missing, none is added, and the message says what it must."""
    found = findings(case)
    assert sorted({f.code for f in found}) == sorted(case["codes"])
    assert says_so(case, " ".join(f.message for f in found))


@pytest.mark.parametrize(
    "case", [c for c in EXPECTED if not c["codes"]], ids=lambda case: case["file"]
)
def test_an_unreadable_drawing_is_refused_in_words(case):
    """One problem or more, each with file, words and remedy; never another exception."""
    path = BROKEN / case["file"]
    with pytest.raises(DrawingError) as caught:
        read_drawing(path)
    problems = caught.value.problems
    assert problems
    assert all(p.file == str(path) and p.problem and p.remedy for p in problems)
    # The name of the file proves nothing about the message.
    assert says_so(case, str(caught.value).replace(str(path), ""))


@pytest.mark.parametrize("case", EXPECTED, ids=lambda case: case["file"])
def test_words_are_for_people(case):
    """No message shows the inside of a program."""
    try:
        text = " ".join(f.message + f.remedy for f in findings(case))
    except DrawingError as error:
        text = str(error)
    assert not any(w in text for w in ("Traceback", "Exception", "object at 0x", "ezdxf", "None"))


def test_the_folder_is_what_the_script_writes():
    """Byte for byte, and nothing else lies there."""
    files = broken_files()
    assert {path.name for path in BROKEN.iterdir()} == set(files)
    for name, content in files.items():
        assert (BROKEN / name).read_bytes() == content, name


def test_a_missing_file_and_a_folder_are_refused(tmp_path):
    """There is nothing to read in either."""
    (tmp_path / "folder.dxf").mkdir()
    for name in ("missing.dxf", "folder.dxf", "folder.dxf/inside.dxf"):
        with pytest.raises(DrawingError, match=name.split("/")[-1].removesuffix(".dxf")):
            read_drawing(tmp_path / name)


@pytest.mark.parametrize("name", ["no-units.dxf", "no-header.dxf", "no-units.svg"])
def test_units_from_the_job_are_taken_with_a_warning_and_the_users_without(name):
    """A drawing that gives none is never guessed in silence."""
    from_job = read_drawing(BROKEN / name, fallback_units="mm")
    assert [f.code for f in from_job.findings if f.level == "warning"] == ["units-assumed"]
    assert from_job.units_from == "job"
    from_user = read_drawing(BROKEN / name, units="mm")
    assert [f.code for f in from_user.findings] == []
    assert from_user.units_from == "user"


@pytest.mark.parametrize("name", ["recursive-blocks.dxf", "only-text.svg"])
def test_a_file_cut_off_anywhere_raises_nothing_else(name, tmp_path):
    """Law: wherever it ends, it is read or refused in words."""
    whole = (BROKEN / name).read_bytes()
    path = tmp_path / name
    for end in range(0, len(whole), 37):
        path.write_bytes(whole[:end])
        with contextlib.suppress(DrawingError):
            check_drawing(read_drawing(path), thickness=3, kerf=0.2)
