"""Programs of random plans, through templates of every kind, are read back as planned."""

import tempfile
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

import nestlib as nl
from nestlib.handover import write_programs
from nestlib.model import Holding
from nestlib.writing import plain_template_text
from tests.test_random_jobs import few, jobs


@st.composite
def templates(draw: st.DrawFn) -> str:
    """The plain template with other units, centres, keepers of the slot and spelling."""
    units = draw(st.sampled_from(["mm", "inch"]))
    word = {"mm": ["G21", "G71"], "inch": ["G20", "G70"]}[units]
    changes = {
        'units = "mm"': f'units = "{units}"',
        'units_word = "G21"': f'units_word = "{draw(st.sampled_from(word))}"',
        "decimals = 5": f"decimals = {draw(st.integers(5, 7)) + (units == 'inch')}",
        'centres = "from start"': draw(
            st.sampled_from(['centres = "from start"', 'centres = "absolute"'])
        ),
        'kerf = "in path"': draw(st.sampled_from(['kerf = "in path"', 'kerf = "by control"'])),
        "line_numbers = 0": draw(st.sampled_from(["line_numbers = 0", "line_numbers = 10"])),
        'line_end = "LF"': draw(st.sampled_from(['line_end = "LF"', 'line_end = "CRLF"'])),
    }
    text = plain_template_text()
    for old, new in changes.items():
        assert text.count(old) == 1, old
        text = text.replace(old, new)
    return text


@pytest.mark.slow
@few(60)
@given(jobs(), templates(), st.sampled_from(["none", "tipping", "all"]))
def test_programs_of_random_plans_cut_what_was_planned(job, template, joints):
    """Of 60 plans: the same contours in the same order, within 1e-4 mm."""
    job = replace(job, holding=Holding(joints=joints))
    plan = nl.nest(job, stop=nl.Iterations(0), seed=1)
    with tempfile.TemporaryDirectory() as folder:
        plan.write(Path(folder) / "plan")
        file = Path(folder) / "template.toml"
        file.write_text(template, encoding="utf-8")
        written = write_programs(Path(folder) / "plan", file)
    assert written.verification.violations == ()
    told = [n for n in written.verification.notes if "machine programs run" in n]
    cuts = sum(len(layout.path.cuts) for layout in plan.layouts)
    assert f"run {cuts} cuts" in told[0]
    assert float(told[0].split("within ")[1].split()[0]) <= 1e-4
