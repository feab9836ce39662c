"""From the rack to a plan and back: sheets are held, booked once, and their remnants kept."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from benchmarks.batch import write_jobs
from nestlib.batch.one_job import nest_one
from nestlib.errors import InputError, OutputError, StockError
from nestlib.from_stock import demand_not_held, export, nest_from_stock, use_plan
from nestlib.model import Contour, Job, Layout, Plan, Remnant
from nestlib.rack_sheets import job_from_stock, jobs_to_buy_for
from nestlib.stock import Item, Rack, Terms, Wanted
from nestlib.writing import read_plan, write_plan_record
from tests.layouts import JOB, job_of, mixed_layout, shifted, whole_plan

STEEL = {"metal": "mild-steel", "thickness": 2.0, "currency": "EUR"}


@pytest.fixture
def rack(tmp_path: Path) -> Rack:
    """Three full sheets with papers, an old remnant, a free sheet of another metal."""
    rack = Rack(str(tmp_path / "rack.sqlite"))
    full = Item(**STEEL, outline=Contour.rectangle(1000, 500), price=40.0, heat="H1", lot="L1")
    rack.receive(replace(full, document="3.1", grain=90.0), 3)
    hole = Contour.circle((450, 150), 20).reversed()
    rest = Contour([(0, 0), (500, 0), (500, 300), (0, 300)], [0, 0.1, 0, 0])
    rack.receive(replace(full, outline=rest, holes=(hole,), remnant=True, price=12.0), 1)
    rack.receive(replace(full, metal="copper"), 5)
    return rack


def by_hand(job: Job, runs: int = 2) -> Plan:
    """A plan that cuts full sheets of the rack, with a remnant on each."""
    (sheet,) = (s for s in job.sheets if s.item == "S1")
    corner = shifted(Contour.rectangle(300, 90), 700, 410)
    layout = Layout(sheet, mixed_layout().placements, runs, remnants=(Remnant("rest", corner),))
    return replace(whole_plan(mixed_layout()), job=job, layouts=(layout,), stopped=False)


def written(folder: Path):
    """What writes the record of a plan, all that the rack needs."""

    def write(plan: Plan) -> Plan:
        folder.mkdir(exist_ok=True)
        write_plan_record(plan, ["sheet-001.dxf"] * len(plan.layouts), folder)
        (folder / "sheet-001.dxf").touch()
        return plan

    return write


def test_a_job_gets_the_sheets_of_the_rack(rack):
    """Remnants first, exact outlines, papers, what is free, and what taking one costs."""
    rack.hold("somebody", {1: 1})
    rack.set_terms(Terms(share=0.5, keeping=0.0))
    rest, full = job_from_stock(JOB, rack).sheets
    assert (rest.name, rest.item, rest.remnant, rest.quantity) == ("R2", "R2", True, 1)
    assert (full.item, full.quantity, full.grain, full.heat, full.cost) == ("S1", 2, 90.0, "H1", 40)
    assert rest.outline.bulges.tolist() == [0, 0.1, 0, 0]
    assert rest.holes[0].is_circle
    item = rack.item(2)
    assert rest.cost == pytest.approx(12.0 * 0.5 * item.usable / item.area)
    assert job_from_stock(JOB, rack).money.remnant_worth == 0.5
    stated = replace(JOB, money=replace(JOB.money, remnant_worth=0.2))
    assert job_from_stock(stated, rack).money.remnant_worth == 0.2


def test_papers_and_currency_are_demanded(rack):
    """With 3.1 only the full sheet serves; nothing is priced in another currency."""
    assert [s.item for s in job_from_stock(JOB, rack, document="2.2").sheets] == ["S1"]
    assert (JOB.currency, job_from_stock(JOB, rack).currency) == ("", "EUR")
    with pytest.raises(StockError, match=r"nothing on the rack fits.*document 3\.2"):
        job_from_stock(JOB, rack, document="3.2")
    with pytest.raises(StockError, match="nothing on the rack fits") as refusal:
        job_from_stock(replace(JOB, currency="USD"), rack)
    for left_out in ("3 x S1", "1 x R2"):
        assert f"{left_out} left out: priced in EUR, the job is in USD" in str(refusal.value)


@pytest.mark.parametrize(
    ("currency", "why"),
    [("EUR", "the job is in EUR"), ("", "the job states none and EUR came first")],
)
def test_what_is_left_out_for_its_currency_is_told(rack, tmp_path, currency, why):
    """In the cautions of the plan; of what would not fit anyhow nothing is said."""
    dollars = Item(**STEEL | {"currency": "USD"}, outline=Contour.rectangle(1000, 500), price=40.0)
    rack.receive(dollars, 2)
    rack.receive(replace(dollars, outline=Contour.rectangle(10, 10)), 1)
    rack.receive(replace(dollars, metal="copper"), 1)
    job, folder = replace(JOB, currency=currency), tmp_path / "plan"
    plan = nest_from_stock(job, rack, by_hand, written(folder), folder)
    assert [c for c in plan.cautions if "left out" in c] == [
        f"2 x S4 left out: priced in USD, {why}"
    ]
    assert read_plan(folder).cautions == plan.cautions


def test_a_plan_is_held_and_booked_once(rack, tmp_path):
    """Its sheets are gone, its remnants lie there with outline and papers; twice is once."""
    folder = tmp_path / "plan"
    plan = nest_from_stock(JOB, rack, by_hand, written(folder), folder)
    assert plan.hold.startswith("stands-")
    assert rack.held(plan.hold) == {1: 2}
    first = use_plan(folder, rack)
    assert [(e.code, e.kind, e.there) for e in first.entries] == [
        ("S1", "used", -2), ("R4", "remnant made", 2),
    ]  # fmt: skip
    entries = rack.history()
    again = use_plan(folder, rack)
    assert (first.fresh, again.fresh, again.entries) == (True, False, first.entries)
    assert rack.history() == entries
    rest = rack.item(4)
    assert (rest.heat, rest.lot, rest.document, rest.grain) == ("H1", "L1", "3.1", 90.0)
    assert (rest.there, rest.parent, rest.width, rest.height) == (2, 1, 300.0, 90.0)
    assert rest.price == pytest.approx(40.0 * 27000 / 500000)
    (outline,) = rack.outlines([4])[4]
    np.testing.assert_allclose(outline.points, Contour.rectangle(300, 90).points)


def test_a_plan_without_its_files_is_not_booked(rack, tmp_path):
    """Its layout was deleted; once it is back, or was booked before, all is well."""
    folder = tmp_path / "plan"
    nest_from_stock(JOB, rack, by_hand, written(folder), folder)
    entries = rack.history()
    (folder / "sheet-001.dxf").unlink()
    with pytest.raises(InputError, match=r"sheet-001\.dxf of the plan is missing"):
        use_plan(folder, rack)
    assert rack.history() == entries
    (folder / "sheet-001.dxf").touch()
    assert use_plan(folder, rack).fresh
    (folder / "sheet-001.dxf").unlink()
    assert not use_plan(folder, rack).fresh


@pytest.mark.parametrize("left", [0, 1])
def test_a_plan_that_is_not_held_any_more_is_not_booked(rack, tmp_path, left):
    """Released, wholly or in part: the message says how to book it if it was cut all the same."""
    folder = tmp_path / "plan"
    plan = nest_from_stock(JOB, rack, by_hand, written(folder), folder)
    rack.release(plan.hold)
    if left:
        rack.hold(plan.hold, {1: left})
    entries = rack.history()
    with pytest.raises(StockError, match=f"{2 - left} x S1 more than is held") as refusal:
        use_plan(folder, rack)
    again = f"nestlib stock hold S1 --for {plan.hold} --quantity {2 - left}"
    assert again in str(refusal.value)
    assert rack.history() == entries
    rack.hold(plan.hold, {1: 2 - left})
    assert use_plan(folder, rack).fresh


def test_an_older_plan_in_the_folder_lets_go(rack, tmp_path):
    """Planned anew, one sheet instead of two: only that is held."""
    folder = tmp_path / "plan"
    old = nest_from_stock(JOB, rack, lambda j: by_hand(j, 1), written(folder), folder)
    new = nest_from_stock(JOB, rack, by_hand, written(folder), folder)
    assert (rack.held(old.hold), rack.held(new.hold)) == ({}, {1: 2})


def test_a_plan_that_was_cut_is_not_replaced(rack, tmp_path):
    """Its record says what the ledger's sheets became; nothing is searched, held or written."""
    folder = tmp_path / "plan"
    nest_from_stock(JOB, rack, by_hand, written(folder), folder)
    use_plan(folder, rack)
    before, record = rack.history(), (folder / "plan.json").read_bytes()
    with pytest.raises(OutputError, match=r"booked as cut.*another folder"):
        nest_from_stock(JOB, rack, lambda job: pytest.fail("searched"), written(folder), folder)
    assert (rack.history(), (folder / "plan.json").read_bytes()) == (before, record)


def test_a_plan_from_the_rack_is_not_replaced_by_another_one(rack, tmp_path):
    """Its sheets would stay held, and nothing would say for what."""
    folder = tmp_path / "plan"
    demand_not_held(folder)
    plan = nest_from_stock(JOB, rack, by_hand, written(folder), folder)
    with pytest.raises(OutputError, match=f"{plan.hold}.*--from-stock --overwrite"):
        demand_not_held(folder)


def test_a_batch_does_not_replace_a_plan_from_the_rack_either(rack, tmp_path):
    """It fails by itself and says so; with --overwrite, too."""
    (task,) = write_jobs(tmp_path, 1, 1)
    Path(task.folder).parent.mkdir()
    plan = nest_from_stock(JOB, rack, by_hand, written(Path(task.folder)), task.folder)
    outcome = nest_one(replace(task, overwrite=True))
    assert outcome.state == "failed"
    assert plan.hold in outcome.message
    assert read_plan(task.folder).hold == plan.hold


def test_what_cannot_be_written_is_not_held(rack, tmp_path):
    """The disk is full: the sheets are free again."""

    def full(plan: Plan) -> Plan:
        raise OutputError("the disk is full")

    with pytest.raises(OutputError):
        nest_from_stock(JOB, rack, by_hand, full, tmp_path / "plan")
    assert rack.item(1).free == 3


def test_sheets_that_others_took_are_not_planned_twice(rack, tmp_path):
    """While the first plan is made another takes two of three; the second plan uses one."""
    tried = []

    def slow(job: Job) -> Plan:
        free = next(s.quantity for s in job.sheets if s.item == "S1")
        tried.append(free)
        if len(tried) == 1:
            rack.hold("somebody", {1: 2})
        return by_hand(job, min(free, 2))

    folder = tmp_path / "plan"
    plan = nest_from_stock(JOB, rack, slow, written(folder), folder)
    assert tried == [3, 1]
    assert rack.held(plan.hold) == {1: 1}


def test_a_plan_without_a_rack_is_refused(rack, tmp_path):
    """One clear message, and nothing is booked."""
    entries = rack.history()
    folder = tmp_path / "plan"
    written(folder)(whole_plan(mixed_layout()))
    with pytest.raises(InputError, match="not from the rack"):
        use_plan(folder, rack)
    assert rack.history() == entries


def test_a_plan_that_uses_nothing_holds_nothing(rack, tmp_path):
    """Nothing found a place."""
    empty = replace(whole_plan(mixed_layout()), layouts=())
    plan = nest_from_stock(JOB, rack, lambda job: empty, written(tmp_path / "p"), tmp_path / "p")
    assert plan.hold == ""


def test_a_list_can_be_written(rack, tmp_path):
    """JSON with every digit of the outlines, CSV for a spreadsheet."""
    assert export(rack, tmp_path / "rack.json", Wanted(metal="mild-steel")) == 2
    record = json.loads((tmp_path / "rack.json").read_text(encoding="utf-8"))
    assert [r["item"] for r in record] == ["S1", "R2"]
    assert record[1]["outline"]["bulges"] == [0, 0.1, 0, 0]
    assert len(record[1]["holes"]) == 1
    assert export(rack, tmp_path / "rack.csv") == 3
    lines = (tmp_path / "rack.csv").read_text(encoding="utf-8").splitlines()
    assert lines[0].startswith("item,remnant,metal,thickness_mm")
    assert lines[1].startswith("S1,no,mild-steel,2.0,1000.0,500.0")
    with pytest.raises(InputError, match="csv or"):
        export(rack, tmp_path / "rack.xls")


def test_small_parts_go_on_small_remnants(rack):
    """The remnant is not offered where not even the smallest part goes in."""
    long = replace(JOB.parts[1], outer=Contour.rectangle(600, 100), inners=())
    assert [s.item for s in job_from_stock(job_of((long,)), rack).sheets] == ["S1"]


def test_what_one_buys_for_has_the_rack_at_hand(rack):
    """Two jobs of one metal share what lies there, and it is counted once; nothing is held."""
    own = replace(JOB.sheets[0], name="own", quantity=7)
    job = replace(JOB, sheets=(own,))
    ready, left_out = jobs_to_buy_for([job, job], rack, currency="EUR")
    assert [[s.item for s in each.sheets] for each in ready] == [["R2", "S1"], []]
    assert [s.quantity for s in ready[0].sheets] == [1, 3]
    assert left_out == ()
    assert [(i.code, i.held) for i in rack.items()] == [("S1", 0), ("R2", 0), ("S3", 0)]
    none, left_out = jobs_to_buy_for([job], rack, currency="USD")
    assert none[0].sheets == ()
    assert "3 x S1 left out: priced in EUR, the price list is in USD" in left_out
