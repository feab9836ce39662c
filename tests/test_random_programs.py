"""Paths and programs of random plans, through templates of every kind, are as wished."""

import math
import tempfile
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

import nestlib as nl
from nestlib.cutting import cut_path
from nestlib.geometry import placed
from nestlib.handover import write_programs
from nestlib.model import (
    Bound,
    Contour,
    Entry,
    Holding,
    Job,
    Layout,
    Placement,
    Plan,
    Sheet,
    Spacing,
)
from nestlib.model.entry import LEAD_INS, LEAD_OUTS, STARTS
from nestlib.verifying.path_figures import check_path_figures
from nestlib.verifying.program_check import check_program
from nestlib.verifying.read_written import read_plan
from nestlib.writing import (
    plain_template_text,
    program_record,
    program_text,
    read_template,
    write_plan_record,
)
from tests.cutting.test_cut_path import assert_leads_touch_nothing, assert_order_holds
from tests.shapes import parts
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


@st.composite
def entries(draw: st.DrawFn) -> Entry:
    """Every way to enter and leave a contour."""
    entry = Entry(
        start_at=draw(st.sampled_from(STARTS)),
        lead_in=draw(st.sampled_from(LEAD_INS)),
        lead_in_length=draw(st.sampled_from([None, None, 2.0, 8.0])),
        centre_pierce=draw(st.sampled_from([None, 0.0, 12.0, 60.0])),
    )
    if draw(st.sampled_from([True, False, False])):
        return replace(entry, end_gap=draw(st.sampled_from([0.05, 0.3, 2.0])))
    return replace(
        entry,
        lead_out=draw(st.sampled_from(LEAD_OUTS)),
        lead_out_length=draw(st.sampled_from([None, 1.0, 4.0])),
        over_cut=draw(st.sampled_from([0.0, 0.5, 3.0])),
    )


@st.composite
def laid_out(draw: st.DrawFn) -> Plan:
    """A few pieces in a row, turned, mirrored, as near to one another as they may be."""
    wanted = [draw(parts(f"part-{i}")) for i in range(draw(st.integers(1, 2)))]
    spacing = Spacing(draw(st.sampled_from([0.1, 0.25])), draw(st.sampled_from([0.0, 2.0])), 1.0)
    sheet = Sheet("row", Contour.rectangle(2500, 600))
    job = Job(
        "random", tuple(wanted), (sheet,), nl.metal("mild-steel", "1.5"), nl.machine("co2-400"),
        spacing, holding=Holding(draw(st.sampled_from(["none", "tipping", "all"]))),
        cut_order=draw(st.sampled_from(["part by part", "sheet by sheet"])),
        entry=draw(entries()),
    )  # fmt: skip
    x, placements = spacing.to_edge, []
    for _ in range(draw(st.integers(1, 3))):
        part = draw(st.sampled_from(wanted))
        turn = draw(st.sampled_from([0.0, 90.0, 33.0]))
        lying = Placement(part.name, turn, draw(st.booleans()), 0.0, 0.0)
        x0, y0, x1, _ = placed(part.outer, lying).bounds
        placements.append(replace(lying, x=x - x0, y=spacing.to_edge - y0))
        x += x1 - x0 + spacing.between_parts
    layout = Layout(sheet, tuple(placements))
    layout = replace(layout, path=cut_path(layout, job))
    return Plan(job, (layout,), (), Bound(1, math.inf, "area"))


@pytest.mark.slow
@few(300)
@given(laid_out(), templates())
def test_paths_and_programs_of_random_layouts_are_sound(plan, template):
    """Of 300: no lead touches a part, precedence holds, all is cut once, within 1e-4 mm."""
    (layout,) = plan.layouts
    assert_order_holds(layout, plan.job)
    assert_leads_touch_nothing(layout, plan.job)
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "template.toml"
        file.write_text(template, encoding="utf-8")
        shop = read_template(file)
        write_plan_record(plan, ["sheet-001.dxf"], folder, program_record(plan, shop))
        (name,) = program_record(plan, shop)["files"]
        (Path(folder) / name).write_text(program_text(plan, 0, shop), encoding="ascii")
        written = read_plan(Path(folder))
        found = check_program(written, 0)
        figures = [*check_path_figures(written, written.layouts[0])]
    assert (found.violations, figures) == ((), [])
    assert found.largest <= 1e-4


@pytest.mark.slow
@few(30)
@given(jobs(), templates(), st.sampled_from(["none", "tipping", "all"]), entries())
def test_programs_of_random_plans_cut_what_was_planned(job, template, joints, entry):
    """Of 30 plans, packed and handed over: the same contours in the same order, within 1e-4 mm."""
    job = replace(job, holding=Holding(joints=joints), entry=entry)
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
