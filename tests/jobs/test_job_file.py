"""Job files: what is understood, and how each mistake is answered."""

from __future__ import annotations

import re

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from nestlib.errors import InputError, JobError, Problem
from nestlib.jobs import LookUps, PartEntry, SheetEntry, read_job_file
from nestlib.jobs.job_file import JobFile

JOB = """\
title = "Stands for the town hall"
metal = "mild-steel"
thickness = "1.5 mm"
machine = "co2-400"

[spacing]
kerf = 0.2

[[sheet]]
size = "3000x1500"
quantity = 4

[[part]]
drawing = "base.dxf"
quantity = 10

[[part]]
drawing = "arm.dxf"
quantity = 5
rotations = "grain"
"""


def no_such_metal(name):
    """Know one metal only."""
    if name != "mild-steel":
        raise InputError(Problem("", "", f"there is no metal {name}", "Choose another"))


@pytest.fixture
def write(tmp_path):
    """Write a job file beside two drawings and return its path."""
    for name in ("base.dxf", "arm.dxf"):
        (tmp_path / name).write_text("0\nEOF\n")

    def write(text, encoding="utf-8"):
        path = tmp_path / "job.toml"
        path.write_bytes(text.encode(encoding))
        return path

    return write


def refusal(path, look_ups=None):
    """Return what a job file is refused with."""
    with pytest.raises(JobError) as caught:
        read_job_file(path, look_ups)
    assert all(problem.file for problem in caught.value.problems)
    assert all(problem.remedy for problem in caught.value.problems)
    return caught.value


def test_a_job_file_is_understood(write):
    """Values, defaults and places."""
    read = read_job_file(write(JOB))
    assert read.table.sheet[0].quantity == 4
    assert read.table.spacing.spacing == 3.0
    assert read.table.machine == "co2-400"
    assert read.place(("part", 1, "quantity")) == "line 19, key part[2].quantity"
    assert [line.entry.quantity for line in read.lines] == [10, 5]
    assert read.lines[1].place("drawing") == "line 18, key part[2].drawing"
    assert read.lines[0].drawing.name == "base.dxf"


def test_a_byte_order_mark_does_no_harm(write):
    """Some editors write one."""
    assert read_job_file(write(JOB, "utf-8-sig")).table.metal == "mild-steel"


def test_thickness_may_be_a_number(write):
    """1.5 means 1.5 mm."""
    assert read_job_file(write(JOB.replace('"1.5 mm"', "1.5"))).table.thickness == "1.5"


@pytest.mark.parametrize(
    ("old", "new", "fragments"),
    [
        ("title", "titel", ['line 1, key titel: unknown key "titel"', 'Did you mean "title"?']),
        ('metal = "mild-steel"\n', "", ['"metal" is missing', "Give a material"]),
        ('"mild-steel"', "7", ["line 2, key metal: 7 is not a text in quotes"]),
        ('"1.5 mm"', "true", ["line 3, key thickness: true is not a text in quotes"]),
        ("kerf = 0.2", "kerf = -1", ["line 7, key spacing.kerf: -1 is not 0 or more"]),
        ("kerf = 0.2", "kerf = nan", ["spacing.kerf: nan is not a finite number"]),
        ("kerf = 0.2", "kerf = inf", ["spacing.kerf: inf is not a finite number"]),
        ("kerf = 0.2", "kerf = 1e308", ["spacing.kerf: 1e+308 is not 20 or less"]),
        ("title =", "join = 0\ntitle =", ["line 1, key join: 0 is not more than 0", "mm"]),
        ("title =", "join = 5\ntitle =", ["line 1, key join: 5 is not 2 or less"]),
        ("kerf = 0.2", "kref = 0.2", ['Did you mean "kerf"?']),
        ("[spacing]", "[spacing.more]", ["line 6, key spacing.more: unknown key"]),
        ("quantity = 10", "quantity = -3", ["line 15, key part[1].quantity: -3 is not 1 or more"]),
        ("quantity = 10", "quantity = 2.5", ["part[1].quantity: 2.5 is not a whole number"]),
        ("quantity = 10", "quantity = 0", ["part[1].quantity: 0 is not 1 or more"]),
        ("quantity = 10", "quantity = 100001", ["100001 is not 100000 or less"]),
        ("quantity = 10", 'quantity = "ten"', ['"ten" is not a whole number']),
        ("quantity = 10", "quantity = true", ["true is not a whole number"]),
        (
            "[spacing]",
            "skeleton_weight = 15\n[spacing]",
            ["a remnant would stay on it", 'Add cut_off = "straight"'],
        ),
        ("[spacing]", 'cut_off = "round"\n[spacing]', ["cut_off", '"straight" or "stepped"']),
        ("[spacing]", "heat_wait = 2\n[spacing]", ["heat_wait alone", "heat_distance"]),
        ("quantity = 10", "quantty = 10", ['unknown key "quantty"', 'mean "quantity"?']),
        ("quantity = 10", 'flip = "yes"', ['part[1].flip: "yes" is not true or false']),
        ("quantity = 10", "index = 0", ["part[1].index: 0 is not 1 or more"]),
        ('"grain"', '"sometimes"', ['rotations: "sometimes" is not a way to turn', '"any"']),
        ('"grain"', "[]", ["rotations: [] is not a way to turn"]),
        ('"grain"', "[0, nan]", ["part[2].rotations: [0, NaN] is not a way to turn"]),
        ('rotations = "grain"', "step = 50", ["do not come round to 360"]),
        ('rotations = "grain"', "step = 0", ["part[2].step: 0 is not 0.1 or more"]),
        ('rotations = "grain"', "step = 90\ngrain = 0", ["step and grain both say how"]),
        ('"base.dxf"', '"bases.dxf"', ["line 14", 'no drawing "bases.dxf"', "mean base.dxf"]),
        ('"base.dxf"', '"."', ['"." is a folder, not a drawing']),
        ('"base.dxf"', '"no/base.dxf"', ["There is no folder"]),
        ('"base.dxf"', f'"{"x" * 5000}"', ["cannot be looked up"]),
        ('drawing = "base.dxf"\n', "", ['part[1].drawing: "drawing" is missing']),
        ('size = "3000x1500"', "width = 5", ["the sheet needs both width and height"]),
        ('size = "3000x1500"', "", ["line 9, key sheet[1]: the sheet needs one outline"]),
        ("quantity = 4", "width = 5\nheight = 5", ["the sheet needs one outline"]),
        ("quantity = 4", "keep_outs = [[1, 2, 3]]", ["keep_outs[1]: [1, 2, 3] is not a list of 4"]),
        ("quantity = 4", "keep_outs = [[1, 2, 3, 0]]", ["keep-out zone [1.0, 2.0, 3.0, 0.0] has"]),
        ("quantity = 4", 'cost = "12,50"', ['sheet[1].cost: "12,50" is not a number']),
        ("[[sheet]]", "[sheet]", ["line 9, key sheet:", "is not a list"]),
        ("[[part]]", "[[parts]]", ["key parts:", "is not a text in quotes"]),
        ("[spacing]", "[spacing", ["not valid TOML", "line 6"]),
        ("kerf = 0.2", "kerf = 0,2", ["not valid TOML", "line 7"]),
        ("kerf = 0.2", "kerf = 0.2\nkerf = 0.3", ["not valid TOML", "line 8"]),
        ("kerf = 0.2", 'kerf = "', ["not valid TOML", "line 7"]),
        ("kerf = 0.2", "kerf = " + "[" * 2000, ["nested too deeply"]),
        (JOB, "", ["the file is empty"]),
        (JOB, " \n ", ["the file is empty"]),
        (
            JOB,
            "# nothing\n",
            ['"metal" is missing', '"thickness" is missing', '"sheet" is missing'],
        ),
    ],
)
def test_a_mistake_is_answered_with_place_problem_and_remedy(write, old, new, fragments):
    """One message for each mistake, and no traceback."""
    assert old in JOB
    told = str(refusal(write(JOB.replace(old, new, 1))))
    for fragment in fragments:
        assert fragment in told


def test_deep_nesting_is_refused(write):
    """Brackets without end neither crash nor hang the reader."""
    deep = "[" * 100_000 + "]" * 100_000
    assert "nested too deeply" in str(refusal(write(f"metal = {deep}")))


def test_a_job_without_parts_is_refused(write):
    """Nothing to cut."""
    told = str(refusal(write(JOB[: JOB.index("[[part]]")])))
    assert "the job has no parts" in told


def test_two_sheets_of_one_name_are_refused(write):
    """It would be unclear which one a plan means."""
    sheet = '[[sheet]]\nname = "a"\nsize = "1000x1000"\n'
    assert 'two sheets are called "a"' in str(refusal(write(JOB + sheet + sheet)))


def test_all_mistakes_are_told_at_once(write):
    """Five mistakes, five problems, in the order of the file."""
    text = JOB.replace("title", "titel").replace("0.2", '"thin"').replace("quantity = 10", "flip=1")
    text = text.replace("quantity = 5", "quantity = -5").replace('"mild-steel"', '"wood"')
    problems = refusal(write(text), LookUps(write(text).parent, metal=no_such_metal)).problems
    assert len(problems) == 5
    lines = [int(re.match(r"line (\d+)", p.place)[1]) for p in problems]
    assert lines == [1, 2, 7, 15, 19]


def test_names_are_looked_up_where_somebody_knows_them(write):
    """The refusal of a look-up gets the place of the value."""
    path = write(JOB.replace('"mild-steel"', '"wood"'))
    assert "line 2, key metal: there is no metal wood. Choose another." in str(
        refusal(path, LookUps(path.parent, metal=no_such_metal))
    )


@pytest.mark.parametrize(
    ("make", "fragment"),
    [
        (lambda folder: folder / "none.toml", "there is no such file"),
        (lambda folder: folder / "none" / "job.toml", "There is no folder"),
        (lambda folder: folder, "this is a folder"),
        (lambda folder: folder / "a\0b", "cannot be opened"),
    ],
)
def test_a_path_that_is_no_file_is_refused(tmp_path, make, fragment):
    """Missing, a folder, or no path at all."""
    assert fragment in str(refusal(make(tmp_path)))


def test_a_similar_file_is_suggested(write):
    """A slip in the name of the job file."""
    path = write(JOB)
    assert str(refusal(path.with_name("jobs.toml"))).endswith("Did you mean job.toml?")


def test_a_name_that_is_far_off_is_not_suggested(write):
    """The ending is no likeness."""
    assert "Did you mean" not in str(refusal(write(JOB).with_name("rack.toml")))
    assert "Did you mean" not in str(refusal(write(JOB.replace("title", "colour"))))


def test_a_drawing_is_no_job(write):
    """It is said what it is, and where it belongs."""
    told = str(refusal(write(JOB).with_name("base.dxf")))
    assert "base.dxf: this is a drawing, not a job" in told
    assert "[[part]]" in told


@pytest.mark.parametrize("encoding", ["utf-16", "cp1252"])
def test_a_job_file_in_another_encoding_is_refused(write, encoding):
    """TOML is UTF-8."""
    told = str(refusal(write(JOB.replace("town", "Größe"), encoding)))
    assert "not UTF-8" in told


@pytest.mark.parametrize(
    ("said", "turns", "along_grain"),
    [
        ({}, (0.0, 90.0, 180.0, 270.0), None),
        ({"rotations": "any"}, None, None),
        ({"rotations": [0, 450]}, (0.0, 90.0), None),
        ({"step": 120}, (0.0, 120.0, 240.0), None),
        ({"rotations": "grain"}, (0.0, 90.0, 180.0, 270.0), 0.0),
        ({"grain": 30}, (0.0, 90.0, 180.0, 270.0), 30.0),
        ({"rotations": "grain", "grain": 30}, (0.0, 90.0, 180.0, 270.0), 30.0),
    ],
)
def test_ways_to_turn(said, turns, along_grain):
    """Angles, any angle, a step, or along the grain of the sheet."""
    entry = PartEntry.model_validate({"drawing": __file__, **said})
    assert entry.turns == turns
    assert entry.along_grain == along_grain


@pytest.mark.parametrize(
    ("said", "on_hand"),
    [
        ({}, None),
        ({"quantity": 3}, 3),
        ({"remnant": True}, 1),
        ({"remnant": True, "quantity": 2}, 2),
    ],
)
def test_sheets_on_hand(said, on_hand):
    """As many as needed unless said otherwise; of a remnant there is one."""
    assert SheetEntry.model_validate({"size": "3000x1500", **said}).on_hand == on_hand


keys = st.sampled_from([*JobFile.model_fields, "other"])
values = st.one_of(
    st.integers(),
    st.floats(),
    st.text("ab\n", max_size=3),
    st.booleans(),
    st.lists(st.integers() | st.dictionaries(keys, st.integers(), max_size=2), max_size=3),
    st.dictionaries(keys, st.integers(), max_size=2),
)


@settings(deadline=None)
@given(st.dictionaries(keys, values, max_size=6))
def test_whatever_the_values_they_are_refused_in_words(tmp_path_factory, pairs):
    """Any TOML document is either understood or refused with a `JobError`."""
    path = tmp_path_factory.mktemp("any") / "job.toml"
    path.write_text("\n".join(f"{k} = {_toml(v)}" for k, v in pairs.items()) or "#")
    with pytest.raises(JobError):
        read_job_file(path)


def _toml(value):
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, dict):
        return "{" + ", ".join(f"{k} = {_toml(v)}" for k, v in value.items()) + "}"
    if isinstance(value, list):
        return "[" + ", ".join(map(_toml, value)) + "]"
    return '"' + value.replace("\n", "\\n") + '"' if isinstance(value, str) else repr(value)
