"""Due dates, most on a sheet, parts kept apart, kits and need: in job files and lists."""

from __future__ import annotations

from datetime import date, datetime

import ezdxf
import openpyxl
import pytest

from nestlib.errors import JobError
from nestlib.jobs import read_part_list
from nestlib.loading import read_job

HEAD = """\
metal = "mild-steel"
thickness = "1.5 mm"

[[sheet]]
size = "3000x1500"
"""


@pytest.fixture
def folder(tmp_path):
    """A base and an arm of one part each, and a drawing of two feet."""
    for name, count in (("base", 1), ("arm", 1), ("feet", 2)):
        drawing = ezdxf.new("R2010")
        drawing.units = ezdxf.units.MM
        for k in range(count):
            x, w = 100 * k, 40 + k
            corners = [(x, 0), (x + w, 0), (x + w, 30), (x, 30)]
            drawing.modelspace().add_lwpolyline(corners, close=True)
        drawing.saveas(tmp_path / f"{name}.dxf")
    return tmp_path


def job(folder, *parts):
    """Write a job of one entry for each text and read it."""
    text = HEAD + "".join(f'[[part]]\ndrawing = "{p}\n' for p in parts)
    (folder / "job.toml").write_text(text, encoding="utf-8")
    return read_job(folder / "job.toml")


def refusal(folder, *parts):
    """Return the problems that a job is refused with."""
    with pytest.raises(JobError) as caught:
        job(folder, *parts)
    assert all(p.file and p.place and p.remedy for p in caught.value.problems)
    return caught.value.problems


def test_a_job_file_says_it_all(folder):
    """A date of TOML or a text, one name or a list of names."""
    made = job(
        folder,
        'base.dxf"\ndue = 2030-05-01\nmost_per_sheet = 4\napart = "arm"\nkit = "stand"',
        'arm.dxf"\ndue = "2030-04-30"\napart = ["base", "arm"]',
        'feet.dxf"\nfiller = true\nneed = 2.5',
    )
    base, arm, *feet = made.parts
    assert (base.due, base.most_per_sheet, base.apart) == (date(2030, 5, 1), 4, ("arm",))
    assert (base.kit, base.need, arm.kit) == ("stand", 1.0, "")
    assert (arm.due, arm.apart) == (date(2030, 4, 30), ("base", "arm"))
    assert {foot.need for foot in feet} == {2.5}


def test_a_drawing_means_all_its_parts(folder):
    """By its own name, or by that of its entry."""
    base, *_ = job(folder, 'base.dxf"\napart = "feet"', 'feet.dxf"').parts
    assert base.apart == ("feet-1", "feet-2")
    *_, base = job(folder, 'feet.dxf"\nname = "foot"', 'base.dxf"\napart = "foot"').parts
    assert base.apart == ("foot-1", "foot-2")


@pytest.mark.parametrize(
    ("said", "words"),
    [
        ("due = 5", "5 is not a date"),
        ('due = "1.5.2030"', '"1.5.2030" is not a date'),
        ('due = "2030-02-30"', "no day of the calendar"),
        ("due = 2030-05-01T10:00:00", "not a date"),
        ("most_per_sheet = 0", "0 is not 1 or more"),
        ("most_per_sheet = 1.5", "not a whole number"),
        ("apart = 3", "3 is not a name or a list of names"),
        ('apart = ["arm", 3]', "not a name or a list of names"),
        ('apart = ""', "not a name"),
        ("kit = 3", "not a text"),
        ("filler = true\nneed = 0", "0 is not more than 0"),
        ("need = 2", "need is for fillers only"),
        ("filler = true\ndue = 2030-05-01", "cannot be due"),
        ('kits = "stand"', "unknown key"),
    ],
)
def test_each_mistake_is_told_with_its_place(folder, said, words):
    """File, line, problem and remedy, and nothing else."""
    (problem,) = refusal(folder, f'base.dxf"\n{said}')
    assert words in problem.problem
    assert "line" in problem.place


def test_an_unknown_name_is_told_with_what_was_meant(folder):
    """One message, at the line of the key."""
    (problem,) = refusal(folder, 'base.dxf"\napart = ["arms", "base"]', 'arm.dxf"')
    assert problem.place == "line 8, key part[1].apart"
    assert problem.problem == 'there is no part "arms"'
    assert 'Did you mean "arm"?' in problem.remedy


def test_names_are_not_blamed_on_drawings_that_cannot_be_read(folder):
    """Only the drawing at fault is told: what it would hold is not known."""
    ezdxf.new("R2010").saveas(folder / "arm.dxf")
    with pytest.raises(Exception, match=r"arm\.dxf") as caught:
        job(folder, 'base.dxf"\napart = "arm-1"', 'arm.dxf"')
    assert "there is no part" not in str(caught.value)


def test_a_list_says_it_all(folder):
    """Names in a cell with any of three signs between; titles with blanks."""
    (folder / "list.csv").write_text(
        "drawing,quantity,due,most per sheet,apart,kit,filler,need\n"
        "base.dxf,2,2030-05-01,3,arm; feet|base,stand,,\n"
        'arm.dxf,2,,,,,yes,"2,5"\n'
    )
    base, arm = (line.entry for line in read_part_list(folder / "list.csv"))
    assert (base.due, base.most_per_sheet, base.kit) == (date(2030, 5, 1), 3, "stand")
    assert base.apart == ("arm", "feet", "base")
    assert (arm.due, arm.apart, arm.need) == (None, (), 2.5)


@pytest.mark.parametrize(
    ("column", "cell", "words"),
    [
        ("due", "tomorrow", '"tomorrow" is not a date'),
        ("most_per_sheet", "0", "0 is not 1 or more"),
        ("need", "-1", "more than 0"),
    ],
)
def test_each_mistake_in_a_list_is_told_with_its_place(folder, column, cell, words):
    """Row and column, problem and remedy."""
    (folder / "list.csv").write_text(f"drawing,quantity,filler,{column}\nbase.dxf,1,,{cell}\n")
    with pytest.raises(JobError) as caught:
        read_part_list(folder / "list.csv")
    (problem,) = caught.value.problems
    assert problem.place == f"row 2, column {column}"
    assert words in problem.problem
    assert problem.remedy


def test_a_workbook_may_hold_dates_and_numbers(folder):
    """A cell that the spreadsheet takes for a date is one; with a time it is refused."""
    book = openpyxl.Workbook()
    book.active.append(["drawing", "quantity", "due", "most_per_sheet"])
    book.active.append(["base.dxf", 1, datetime(2030, 5, 1), 2.0])
    book.save(folder / "list.xlsx")
    (line,) = read_part_list(folder / "list.xlsx")
    assert (line.entry.due, line.entry.most_per_sheet) == (date(2030, 5, 1), 2)
    book.active.append(["arm.dxf", 1, datetime(2030, 5, 1, 10, 30), 2])
    book.save(folder / "list.xlsx")
    with pytest.raises(JobError, match=r"row 3, column due \(cell C3\)"):
        read_part_list(folder / "list.xlsx")
