"""Part lists as CSV and XLSX: what is understood, and how each mistake is answered."""

from __future__ import annotations

import io
import zipfile

import openpyxl
import pytest

from nestlib.errors import JobError
from nestlib.jobs import read_part_list

LIST = "drawing;quantity;rotations\nbase.dxf;10;any\nGröße.dxf;5;0 90\n"


@pytest.fixture
def folder(tmp_path):
    """A folder with three drawings."""
    (tmp_path / "sub").mkdir()
    for name in ("base.dxf", "Größe.dxf", "sub/arm.dxf"):
        (tmp_path / name).write_text("0\nEOF\n")
    return tmp_path


@pytest.fixture
def csv_file(folder):
    """Write a CSV file and return its path."""

    def write(text, encoding="utf-8"):
        path = folder / "parts.csv"
        path.write_bytes(text if isinstance(text, bytes) else text.encode(encoding))
        return path

    return write


@pytest.fixture
def workbook(folder):
    """Write a workbook and return its path."""

    def write(*rows):
        book = openpyxl.Workbook()
        for row in rows:
            book.active.append(row)
        path = folder / "parts.xlsx"
        book.save(path)
        return path

    return write


def refusal(path):
    """Return what a list is refused with."""
    with pytest.raises(JobError) as caught:
        read_part_list(path)
    assert all(problem.file and problem.remedy for problem in caught.value.problems)
    return caught.value


def entries(path):
    """Return the entries of a list."""
    return [line.entry for line in read_part_list(path)]


@pytest.mark.parametrize(
    "encoding", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "cp1252"]
)
def test_any_usual_encoding_is_read(csv_file, encoding):
    """With or without a byte order mark; umlauts included."""
    assert [e.drawing for e in entries(csv_file(LIST, encoding))] == ["base.dxf", "Größe.dxf"]


@pytest.mark.parametrize("delimiter", [";", "\t", ","])
@pytest.mark.parametrize("line_end", ["\n", "\r\n"])
def test_any_usual_delimiter_is_read(csv_file, delimiter, line_end):
    """Semicolons, tabs or commas, and line ends of any system."""
    text = LIST.replace(";", delimiter).replace("\n", line_end)
    found = entries(csv_file(text))
    assert [(e.quantity, e.rotations) for e in found] == [(10, "any"), (5, (0.0, 90.0))]


def test_all_columns_are_understood(csv_file):
    """Decimal commas, yes and no, whole numbers with a zero behind the comma, blank rows."""
    text = (
        "Part;File;Qty;Index;Grain;Flip;Priority;Filler;Units\n"
        ";;;;;;;;\n"
        'arm;sub\\arm.dxf;"3,0";1;22,5;yes;-2;x;in\n'
        ";base.dxf;4;;;no;;;\n"
    )
    arm, base = entries(csv_file(text))
    assert (arm.name, arm.quantity, arm.index, arm.grain) == ("arm", 3, 1, 22.5)
    assert (arm.flip, arm.priority, arm.filler, arm.units) == (True, -2, True, "in")
    assert (base.name, base.index, base.grain, base.flip) == ("", None, None, False)


def test_each_line_knows_its_drawing_and_its_place(csv_file):
    """Relative to the list, with slashes of either kind."""
    line = read_part_list(csv_file("part,quantity\nsub\\arm.dxf,1\n"))[0]
    assert line.drawing.is_file()
    assert line.place("quantity") == "row 2, column quantity"


def test_a_step_may_have_a_decimal_comma(csv_file):
    """22,5 degrees: 16 ways to turn."""
    (entry,) = entries(csv_file("drawing;quantity;step\nbase.dxf;1;22,5\n"))
    assert entry.turns is not None
    assert len(entry.turns) == 16


@pytest.mark.parametrize(
    ("text", "fragments"),
    [
        ("", ["the file is empty"]),
        (";;\n;;\n", ["the list is empty"]),
        ("drawing;quantity\n", ["the list has no parts"]),
        ("a\nb\n", ['unknown column "a"', 'no column "drawing"', 'no column "quantity"']),
        ("drawing;quantty\nbase.dxf;1\n", ['unknown column "quantty"', 'mean "quantity"']),
        ("drawing;quantity;qty\nbase.dxf;1;1\n", ['2 columns for "quantity"']),
        ("drawing;quantity\nbase.dxf;-2\n", ["row 2, column quantity: -2 is not 1 or more"]),
        ("drawing;quantity\nbase.dxf;0\n", ["row 2, column quantity: 0 is not 1 or more"]),
        ("drawing;quantity\nbase.dxf;2.5\n", ['column quantity: "2.5" is not a whole number']),
        ("drawing;quantity\nbase.dxf;2,5\n", ['column quantity: "2,5" is not a whole number']),
        ("drawing;quantity\nbase.dxf;1.000\n", ['"1.000" is not a whole number']),
        ("drawing;quantity\nbase.dxf;1e3\n", ['"1e3" is not a whole number']),
        ("drawing;quantity\nbase.dxf;nan\n", ['"nan" is not a whole number']),
        ("drawing;quantity\nbase.dxf;9999999\n", ["9999999 is not 100000 or less"]),
        ("drawing;quantity\nbase.dxf;many\n", ['"many" is not a whole number']),
        ("drawing;quantity\nbase.dxf;\n", ['row 2, column quantity: "quantity" is missing']),
        ("drawing;quantity\n;3\n", ['row 2, column drawing: "drawing" is missing']),
        ("drawing;quantity\nbas.dxf;3\n", ["column drawing: there is no drawing", "base.dxf"]),
        ("drawing;quantity\nsub;3\n", ['"sub" is a folder']),
        ("drawing;quantity;flip\nbase.dxf;3;maybe\n", ['column flip: "maybe" is not true or']),
        ("drawing;quantity;rotations\nbase.dxf;3;0 north\n", ['"0 north"', "not a way"]),
        ("drawing;quantity;grain\nbase.dxf;3;1e9\n", ['"1e9" is not a number']),
        ("drawing;quantity\nbase.dxf;3;7\n", ["row 2: cell 3 of the row stands under no title"]),
        ("drawing;quantity\nbase.dxf;3\nbase.dxf;4\n", ["row 3", "already in row 2"]),
        ('drawing;quantity\n"base.dxf;3\n', ["row 2: the row cannot be split"]),
        (b"drawing\0\1\2quantity\n\0\0\xff\xfe", ["neither a text nor a workbook"]),
        (b"\xd0\xcf\x11\xe0" + bytes(600), ["workbook in an old form"]),
        (b"PK\x03\x04" + bytes(600), ["the workbook cannot be read"]),
        (b"drawing;quantity\nbase\x81.dxf;1\n", ["neither a text nor a workbook"]),
    ],
)
def test_a_mistake_in_a_csv_file_is_answered(csv_file, text, fragments):
    """With the row, the column, the value and a remedy."""
    told = str(refusal(csv_file(text)))
    for fragment in fragments:
        assert fragment in told


def test_all_mistakes_of_a_list_are_told_at_once(csv_file):
    """One problem for each bad cell, row after row."""
    text = "drawing;quantity;flip\nbase.dxf;-1;maybe\nnone.dxf;;\nbase.dxf;2;\nbase.dxf;2;\n"
    places = sorted(p.place for p in refusal(csv_file(text)).problems)
    assert places == [
        "row 2, column flip",
        "row 2, column quantity",
        "row 3, column drawing",
        "row 3, column quantity",
        "row 5, column drawing",
    ]


def test_the_same_drawing_may_stand_in_two_rows_under_two_names(csv_file):
    """Because the rows may differ in how the part may turn."""
    text = "drawing;name;quantity\nbase.dxf;a;1\nbase.dxf;b;2\n"
    assert [e.name for e in entries(csv_file(text))] == ["a", "b"]


def test_a_part_of_a_drawing_that_is_listed_whole_is_a_repetition(csv_file):
    """It would be cut twice."""
    text = "drawing;index;quantity\nbase.dxf;;1\nbase.dxf;2;2\n"
    assert "already in row 2" in str(refusal(csv_file(text)))
    text = "drawing;index;quantity\nbase.dxf;2;1\nbase.dxf;;2\n"
    assert "already in row 2" in str(refusal(csv_file(text)))


@pytest.mark.parametrize("suffix", [".csv", ".txt", ".tsv", ".list"])
def test_the_content_tells_what_the_file_is(folder, suffix):
    """The name does not matter to a text."""
    path = folder / f"parts{suffix}"
    path.write_text(LIST, encoding="utf-8")
    assert len(read_part_list(path)) == 2


def test_a_workbook_is_understood(workbook):
    """Numbers, truth values and blanks keep their meaning."""
    path = workbook(
        ["drawing", "quantity", "flip", "priority", "rotations", None],
        [None] * 6,
        ["base.dxf", 10.0, True, None, 90, None],
        ["sub/arm.dxf", "4", "no", 2, "0 180", None],
    )
    base, arm = entries(path)
    assert (base.quantity, base.flip, base.priority, base.rotations) == (10, True, 0, (90.0,))
    assert (arm.quantity, arm.flip, arm.priority, arm.rotations) == (4, False, 2, (0.0, 180.0))


@pytest.mark.parametrize(
    ("rows", "fragments"),
    [
        (
            [["drawing", "quantity"], ["base.dxf", "=2+3"]],
            ["row 2, column quantity (cell B2): the formula =2+3 was saved without its result"],
        ),
        ([["drawing", "quantity"], ["base.dxf", "#REF!"]], ["cell B2", "the error #REF!"]),
        ([["drawing", "quantity"], ["base.dxf", 2.5]], ["(cell B2): 2.5 is not a whole number"]),
        ([["drawing", "quantity"], ["base.dxf", True]], ["true is not a whole number"]),
        ([["drawing", "quantity"], ["base.dxf", None]], ['"quantity" is missing']),
        ([[]], ["the list is empty"]),
        ([["=1+1", "quantity"], ["base.dxf", 1]], ["unknown column"]),
    ],
)
def test_a_mistake_in_a_workbook_is_answered(workbook, rows, fragments):
    """With the name of the cell as well."""
    told = str(refusal(workbook(*rows)))
    for fragment in fragments:
        assert fragment in told


def test_a_formula_with_a_saved_result_counts_as_its_result(workbook):
    """As a spreadsheet program saves it: formula and value side by side."""
    path = workbook(["drawing", "quantity"], ["base.dxf", "=2+3"])
    with zipfile.ZipFile(path) as book:
        files = {name: book.read(name) for name in book.namelist()}
    sheet = "xl/worksheets/sheet1.xml"
    files[sheet] = files[sheet].replace(b"<v />", b"<v>5</v>").replace(b"<v/>", b"<v>5</v>")
    assert b"<v>5</v>" in files[sheet]
    with zipfile.ZipFile(path, "w") as book:
        for name, data in files.items():
            book.writestr(name, data)
    assert entries(path)[0].quantity == 5


def test_a_damaged_workbook_is_refused(workbook, folder):
    """Cut off, a zip of something else, or a text under that name."""
    whole = workbook(["drawing", "quantity"], ["base.dxf", 1]).read_bytes()
    other = io.BytesIO()
    with zipfile.ZipFile(other, "w") as book:
        book.writestr("readme.txt", "no workbook")
    path = folder / "bad.xlsx"
    for data in (whole[: len(whole) // 2], whole[:40], other.getvalue(), b"drawing;quantity\n"):
        path.write_bytes(data)
        assert "workbook" in str(refusal(path))


def test_a_list_that_is_no_file_is_refused(folder):
    """Missing, or a folder."""
    assert "no such file" in str(refusal(folder / "none.csv"))
    assert "this is a folder" in str(refusal(folder))


def test_a_workbook_that_unpacks_to_a_flood_is_refused(folder):
    """A few hundred kB of zeros in a zip: 250 MB unpacked."""
    path = folder / "flood.xlsx"
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as book:
        book.writestr("xl/workbook.xml", bytes(250_000_000))
    assert "unpacks to 250 MB" in str(refusal(path))
