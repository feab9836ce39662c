"""Joints, critical edges and the machine's support: in job files, lists and machine files."""

from __future__ import annotations

import ezdxf
import pytest

from nestlib.errors import InputError, JobError
from nestlib.jobs import read_part_list
from nestlib.loading import read_job
from nestlib.metals import machine
from nestlib.model import Entry, Holding, Support

HEAD = 'metal = "mild-steel"\nthickness = "1.5 mm"\n'
SHEET = '[[sheet]]\nsize = "3000x1500"\n'
PART = '[[part]]\ndrawing = "base.dxf"\n'
LASER = """\
name = "ours"
beam = "CO2"
power = 400
bed = [3000, 1500]
{}
[[row]]
family = "mild-steel"
thickness = "3 mm"
gas = "oxygen"
kerf = 0.2
feed = 2000
pierce = 1
"""


@pytest.fixture
def folder(tmp_path):
    """A base plate."""
    drawing = ezdxf.new("R2010")
    drawing.units = ezdxf.units.MM
    drawing.modelspace().add_lwpolyline([(0, 0), (90, 0), (90, 30), (0, 30)], close=True)
    drawing.saveas(tmp_path / "base.dxf")
    return tmp_path


def job(folder, head: str = "", part: str = ""):
    """Write a job and read it."""
    (folder / "job.toml").write_text(HEAD + head + SHEET + PART + part, encoding="utf-8")
    return read_job(folder / "job.toml")


def laser(folder, more: str):
    """Write a machine file and read it."""
    (folder / "ours.toml").write_text(LASER.format(more), encoding="utf-8")
    return machine(folder / "ours.toml")


def test_a_job_says_what_is_held(folder):
    """For itself, and for a part."""
    assert job(folder).holding == Holding("none", None, False)
    head = 'joints = "tipping"\njoint_width = 0.4\nover_openings = true\n'
    made = job(folder, head, 'joints = "all"\ncritical = ["holes", "Top"]\n')
    assert made.holding == Holding("tipping", 0.4, True)
    assert (made.parts[0].joints, made.parts[0].critical) == ("all", ("holes", "top"))


@pytest.mark.parametrize(
    ("head", "part", "words"),
    [
        ('joints = "some"\n', "", "'none', 'tipping' or 'all'"),
        ("joint_width = 0\n", "", "0 is not 0.05 or more"),
        ("", 'joints = "some"\n', "'none', 'tipping' or 'all'"),
        ("", 'critical = "rim"\n', "is no edge of a part"),
        ("", "critical = 3\n", "3 is not a name"),
    ],
)
def test_each_mistake_is_told_with_its_place(folder, head, part, words):
    """File, line and key."""
    with pytest.raises(JobError) as caught:
        job(folder, head, part)
    (problem,) = caught.value.problems
    assert words in problem.problem
    assert problem.place.startswith("line ")


def test_a_list_says_what_is_held(folder):
    """In columns of its own."""
    text = "drawing;quantity;joints;critical\nbase.dxf;2;tipping;outer | holes\n"
    (folder / "parts.csv").write_text(text, encoding="utf-8")
    (line,) = read_part_list(folder / "parts.csv")
    assert (line.entry.joints, line.entry.critical) == ("tipping", ("outer", "holes"))


@pytest.mark.parametrize(
    ("said", "meant"),
    [
        ("", None),
        ('[support]\nkind = "slats"\npitch = 60', Support("slats", (60.0, 60.0), None, "y")),
        (
            '[support]\nkind = "spikes"\npitch = [40, 50]\noffset = [3, 4]\nalong = "x"',
            Support("spikes", (40.0, 50.0), (3.0, 4.0), "x"),
        ),
        ('[support]\nkind = "slats"\npitch = 60\noffset = 5', Support("slats", (60, 60), (5, 5))),
    ],
)
def test_a_machine_file_says_what_a_sheet_lies_on(folder, said, meant):
    """Or that it is not known."""
    assert laser(folder, said).support == meant
    assert laser(folder, "lift = 1.5\n" + said).lift == 1.5


@pytest.mark.parametrize(
    "said",
    [
        '[support]\nkind = "rails"\npitch = 60',
        '[support]\nkind = "slats"\npitch = 0',
        '[support]\nkind = "slats"',
        '[support]\nkind = "slats"\npitch = [60, 60, 60]',
        '[support]\nkind = "slats"\npitch = 60\nalong = "z"',
        "lift = -1",
    ],
)
def test_a_support_that_cannot_be_is_refused(folder, said):
    """One clear message with its key."""
    with pytest.raises(InputError) as caught:
        laser(folder, said)
    assert all("key" in p.place and p.remedy for p in caught.value.problems)


def test_generic_machines_lay_sheets_anywhere():
    """Slats 60 mm apart, between the usual 50 and 75: common practice, no source."""
    support = machine("co2-400").support
    assert support is not None
    assert support.offset is None
    assert 50 <= support.pitch[0] <= 75


def test_a_job_says_how_contours_are_entered_and_left(folder):
    """All keys; by default what is usual."""
    assert job(folder).entry == Entry()
    head = (
        'start_at = "mid-edge"\nlead_in = "arc"\nlead_in_length = 5\nlead_out = "line"\n'
        "lead_out_length = 2.5\ncentre_pierce = 12\nover_cut = 0.5\n"
    )
    assert job(folder, head).entry == Entry("mid-edge", "arc", 5.0, "line", 2.5, 12.0, 0.5)
    assert job(folder, "end_gap = 0.3\n").entry == Entry(end_gap=0.3)


@pytest.mark.parametrize(
    ("head", "words"),
    [
        ('start_at = "middle"\n', "mid-edge"),
        ('lead_in = "curve"\n', "by place"),
        ("lead_out_length = 0\n", "lead_out_length"),
        ("over_cut = -1\n", "over_cut"),
        ("end_gap = 0.3\nover_cut = 0.5\n", "Leave out end_gap"),
        ('end_gap = 0.3\nlead_out = "line"\n', "Leave out end_gap"),
    ],
)
def test_wishes_that_cannot_be_are_refused(folder, head, words):
    """With what may stand there."""
    with pytest.raises(JobError, match=words):
        job(folder, head)
