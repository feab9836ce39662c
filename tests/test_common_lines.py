"""Nesting with common lines: who may, how many, and never at the price of a sheet."""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Sequence
from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import nestlib as nl
from fixtures import plain_dxf as dxf
from nestlib.bundling import Thing, plain_things
from nestlib.common_lines import Hurried, best_packed, may_share, sharing_ways
from nestlib.model import Contour, Money, Part, Plan, Sheet, Support
from nestlib.packing import After, PackedPlacement, PackedSheet, Packing, SearchState
from nestlib.reporting import print_plan
from tests.command import has_all, nestlib, write_job
from tests.layouts import job_of
from tests.sharing import TRAPEZOID

SHEET = Sheet("sheet", Contour.rectangle(700, 500), quantity=None, cost=10.0)
TILE = Part("tile", Contour.rectangle(80, 60), quantity=9, common_lines=True)


def nested(*parts: Part, sheets: Sequence[Sheet] = (SHEET,), **changes: object) -> Plan:
    """The plan of a job after the first filling."""
    job = replace(job_of(parts, sheets), **changes)  # type: ignore[arg-type]
    return nl.nest(job, stop=nl.Iterations(0))


def bundled(plan: Plan) -> Counter[str]:
    """How many pieces of each part share cuts."""
    found: Counter[str] = Counter()
    for layout in plan.layouts:
        for bundle in layout.bundles:
            for number in bundle.placements:
                found[layout.placements[number].part] += layout.runs
    return found


def test_a_job_that_allows_it_shares_cuts_and_saves(tmp_path: Path) -> None:
    """All pieces, exactly as many as wanted, checked, with less to cut than by themselves."""
    plan = nested(TILE).write(tmp_path / "plan")
    assert plan.verification is not None
    assert plan.verification.violations == ()
    assert plan.placed == {"tile": 9}
    assert bundled(plan)["tile"] >= 8
    saved = plan.saved_in_all
    assert saved is not None
    assert saved.cut_length > 0
    assert saved.pierces > 0
    record = json.loads((tmp_path / "plan" / "plan.json").read_text(encoding="utf-8"))
    assert record["saved_by_sharing"]["pierces"] == saved.pierces


@pytest.mark.parametrize(
    "changes",
    [
        {"common_lines": False},
        {"filler": True},
        {"apart": ("tile",)},
        {"joints": "all"},
    ],
    ids=str,
)
def test_parts_that_may_not_share_cuts_do_not(changes):
    """Those the job does not allow, fillers, what lies alone, and what joints hold."""
    part = replace(TILE, **changes)
    assert not may_share(part, job_of((part,), (SHEET,)))
    assert not bundled(nested(part))


def test_what_joints_would_hold_shares_no_cut():
    """By statics 80 x 60 stays on slats 25 mm apart and tips on slats 50 mm apart."""
    job = job_of((replace(TILE, joints="tipping"),), (SHEET,))
    for pitch, shares in ((25.0, True), (50.0, False)):
        machine = replace(job.machine, support=Support("slats", (pitch, pitch)))
        assert may_share(job.parts[0], replace(job, machine=machine)) == shares


def test_no_sheet_gets_more_than_it_may_hold():
    """Seven tiles, three on a sheet at most: three sheets, singles and patterns together."""
    plan = nested(replace(TILE, quantity=7, most_per_sheet=3))
    assert plan.placed == {"tile": 7}
    assert all(layout.counts["tile"] <= 3 for layout in plan.layouts)
    assert plan.sheets_used == 3
    assert bundled(plan)["tile"] == 6


def test_pieces_lie_as_they_may_turn():
    """A trapezoid that may not be turned never lies turned by 180; along the grain it may."""
    cheek = Part("cheek", TRAPEZOID, quantity=6, rotations=(0.0,), common_lines=True)
    plan = nested(cheek)
    assert {p.rotation for layout in plan.layouts for p in layout.placements} == {0.0}
    grained = replace(cheek, rotations=(0.0, 90.0, 180.0, 270.0), grain=90.0)
    plan = nested(grained)
    assert {p.rotation for layout in plan.layouts for p in layout.placements} <= {90.0, 270.0}


def test_parts_kept_apart_stay_apart():
    """Patterns and single pieces of both parts."""
    other = Part("arm", Contour.rectangle(120, 50), quantity=3, common_lines=True)
    plan = nested(replace(TILE, quantity=5, apart=("arm",)), replace(other, apart=("tile",)))
    assert plan.placed == {"tile": 5, "arm": 3}
    assert all(len(layout.counts) == 1 for layout in plan.layouts)


STRIPS = tuple(
    Part(f"strip-{w}", Contour.rectangle(300, w), common_lines=True) for w in (35, 40, 50, 60)
)


def test_single_pieces_of_different_parts_share_cuts(tmp_path: Path) -> None:
    """Four strips of one length and different widths in a row: by hand three cuts of 300 saved.

    Less two kerfs of the outline and one of the line at the ends of each slot, and leads.
    """
    plan = nested(*STRIPS).write(tmp_path / "plan")
    assert plan.verification is not None
    assert plan.verification.violations == ()
    assert plan.placed == {part.name: 1 for part in STRIPS}
    ((bundle,),) = [layout.bundles for layout in plan.layouts]
    assert len(bundle.placements) == 4
    assert plan.shared_cuts == 3
    saved = plan.saved_in_all
    assert saved is not None
    assert saved.cut_length == pytest.approx(3 * (300 - 3 * 0.2), abs=4 * 3.3)
    assert saved.seconds is not None
    assert saved.seconds > 0


@pytest.mark.parametrize(
    "changes",
    [{"common_lines": False}, {"filler": True}, {"joints": "all"}, {"due": date(2030, 5, 1)}],
    ids=str,
)
def test_parts_that_may_not_share_cuts_do_not_with_others(changes):
    """Three strips share their cuts, the fourth lies by itself."""
    plan = nested(*STRIPS[:3], replace(STRIPS[3], **changes))
    assert plan.placed[STRIPS[3].name] == 1
    assert bundled(plan) == {part.name: 1 for part in STRIPS[:3]}


@settings(max_examples=3, deadline=None)
@given(
    st.lists(st.tuples(st.integers(20, 160), st.integers(20, 120), st.integers(1, 9)),
             min_size=1, max_size=2),
    st.booleans(),
)  # fmt: skip
def test_random_jobs_cost_no_more_with_common_lines(sizes, remnants):
    """Neither sheets nor money, and every piece that finds a place without them does with them."""
    parts = [
        Part(f"p{i}", Contour.rectangle(w, h), quantity=n) for i, (w, h, n) in enumerate(sizes)
    ]
    stock = (replace(SHEET, outline=Contour.rectangle(400, 260)),)
    money = Money(remnant_worth=0.5 if remnants else 0.0)
    without = nl.nest(replace(job_of(parts, stock), money=money), stop=nl.Iterations(0))
    parts = [replace(p, common_lines=True) for p in parts]
    plan = nl.nest(replace(job_of(parts, stock), money=money), stop=nl.Iterations(0))
    assert plan.placed == without.placed
    assert plan.sheets_used <= without.sheets_used
    assert plan.work is not None
    assert without.work is not None
    assert (plan.work.cost.total or 0) <= (without.work.cost.total or 0)
    assert plan.bound.sheets <= plan.sheets_used


def test_patterns_that_would_cost_a_sheet_are_dropped():
    """A packer that needs two sheets for patterns and one for single pieces: singles it is."""
    job = job_of((replace(TILE, quantity=4),), (SHEET,))

    def pack(things: Sequence[Thing], share: float) -> Packing:
        pieces = [PackedPlacement(i, 0.0, False, 0.0, 0.0)
                  for i, t in enumerate(things) for _ in range(t.quantity)]  # fmt: skip
        sheets = [tuple(pieces)] if len(pieces) == 4 else [tuple(pieces), ()]
        return Packing(tuple(PackedSheet(0, s) for s in sheets))

    (best,) = best_packed(job, sharing_ways(job), pack)
    assert len(best.things) == len(plain_things(job))
    assert best.things[0].pattern is None


def test_attempts_share_the_time():
    """Three quarters of ten seconds, five of them gone, are over after 2.5; rounds count anew."""
    rule = Hurried(After(10.0), 0.75, before=5.0)
    assert not rule(SearchState(seconds=2.4))
    assert rule(SearchState(seconds=2.5))
    assert Hurried(nl.Iterations(3), 0.75, before=5.0)(SearchState(iterations=3))


def test_keys_of_job_and_part(tmp_path: Path) -> None:
    """The part's own word counts before the job's, in a file and in a list; a slip is refused."""
    (tmp_path / "a.dxf").write_text(dxf.dxf(dxf.rectangle(0, 0, 60, 40)))
    (tmp_path / "list.csv").write_text(
        "drawing,name,quantity,common_lines\na.dxf,one,2,no\na.dxf,two,2,\n"
    )
    text = 'metal = "mild-steel"\nthickness = 1.5\ncommon_lines = true\nparts = "list.csv"\n'
    text += '[[sheet]]\nsize = "500x400"\n[[part]]\ndrawing = "a.dxf"\nname = "three"\n'
    (tmp_path / "job.toml").write_text(text + "common_lines = false\n")
    job = nl.read_job(tmp_path / "job.toml")
    assert {p.name: p.common_lines for p in job.parts} == {
        "three": False, "one": False, "two": True,
    }  # fmt: skip
    (tmp_path / "job.toml").write_text(text + 'common_lines = "sometimes"\n')
    with pytest.raises(nl.JobError, match="common_lines"):
        nl.read_job(tmp_path / "job.toml")


def test_from_the_job_file_to_the_program(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The console tells what is saved; verify and program find nothing wrong."""
    write_job(tmp_path, ("quantity = 2\n", "quantity = 8\ncommon_lines = true\n"))
    plan = nl.nest(nl.read_job(tmp_path / "job.toml"), stop=nl.Iterations(0))
    print_plan(plan.write(tmp_path / "plan"), "plan")
    told = capsys.readouterr().out
    assert has_all(told, "shared cut", "saves", "against cutting each contour by itself")
    assert nestlib(tmp_path, "verify", "plan").exit_code == 0
    assert nestlib(tmp_path, "program", "plan").exit_code == 0
    report = (tmp_path / "plan" / "report.html").read_text(encoding="utf-8")
    assert has_all(report, "Cuts shared by pieces", "Saved by sharing")
    rows = (tmp_path / "plan" / "path-001.csv").read_text(encoding="utf-8")
    assert has_all(rows, "sharing", "shared", "around")
