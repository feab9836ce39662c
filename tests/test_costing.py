"""What plans take and cost: a worked example by hand, and sums to the last hundredth."""

import math
from dataclasses import replace
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from nestlib.costing import work
from nestlib.metals.machine_file import read_machine
from nestlib.model import (
    Bound,
    Contour,
    Cut,
    CutPath,
    CutSetting,
    Job,
    Joint,
    Layout,
    Machine,
    Material,
    Metal,
    Money,
    Part,
    Placement,
    Plan,
    Sheet,
)
from nestlib.model.work import KINDS
from nestlib.shares import largest_remainders

STEEL = Metal(Material("steel", "mild-steel", "Steel", 7.85, ""), 2.0)

#: 3000 mm/min is 50 mm/s; 60000 mm/min is 1000 mm/s.
ROW = CutSetting("mild-steel", 3.0, "oxygen", 0.2, 3000.0, 0.5, gas_flow=7.2)
LASER = Machine(
    "m", "M", "CO2", 400, (3000, 1500), (ROW,), rapid=60000.0, mark_feed=6000.0,
    hourly_rate=90.0, acceleration=500.0, rapid_acceleration=1000.0, lift=0.5,
    gas_prices=(("oxygen", 2.0),),
)  # fmt: skip

SMALL = Part("small", Contour.rectangle(100, 100), quantity=2)
LARGE = Part("large", Contour.rectangle(300, 100))
SHEET = Sheet("plate", Contour.rectangle(1000, 500), cost=20.0)


def moved(part: Part, x: float, y: float) -> Contour:
    """The part's outside, clockwise, beginning at its lower left corner."""
    points = part.outer.points + np.array((x, y))
    return Contour(points[[0, 3, 2, 1]])


def example(machine: Machine = LASER, runs: int = 1, sheet: Sheet = SHEET) -> Plan:
    """Two squares of 100 mm and a plate of 300 by 100 mm, in a row without leads."""
    places = [("small", 40.0), ("small", 240.0), ("large", 440.0)]
    parts = {"small": SMALL, "large": LARGE}
    cuts = tuple(
        Cut(i, "outer", 0, moved(parts[name], x, 30.0), lifted=True)
        for i, (name, x) in enumerate(places)
    )
    placements = tuple(Placement(name, 0.0, False, x, 30.0) for name, x in places)
    layout = Layout(sheet, placements, runs, CutPath(cuts))
    money = Money(set_up=3.0)
    job = Job("", (SMALL, LARGE), (sheet,), STEEL, machine, currency="EUR", money=money)
    return Plan(job, (layout,), (), Bound(1, 20.0, ""))


def test_an_example_by_hand():
    """Textbook kinematics (d/v + v/a, 2 √(d/a)), and money by proportion.

    The head stops at corners. A small one: 4 (100/50 + 0.1) = 8.4 s; the large one:
    2 (300/50 + 0.1) + 2 (2.1) = 16.4 s. Rapids: 50 mm (3-4-5) take 2 √(50/1000) s, 200 mm
    twice 2 √(200/1000) s; three lifts of 0.5 s, three pierces of 0.5 s.
    Gas: 7.2 m³/h = 0.002 m³/s.
    """
    done = work(example())
    rapids = 2 * math.sqrt(0.05) + 2 * 2 * math.sqrt(0.2)
    assert done.parts["small"].cutting == pytest.approx(16.8, rel=1e-3)
    assert done.parts["large"].cutting == pytest.approx(16.4, rel=1e-3)
    assert done.total.piercing == pytest.approx(1.5, rel=1e-12)
    assert done.total.moving == pytest.approx(rapids + 1.5, rel=1e-3)
    assert done.total.rapid_length == pytest.approx(450)
    assert done.total.cut_length == pytest.approx(1600)
    assert done.total.gas == pytest.approx(0.002 * (33.2 + 1.5), rel=1e-3)
    # Areas are 2 to 3. Metal: 20.00 -> 8.00 and 12.00; set-up: 3.00 -> 1.20 and 1.80.
    # Beam: 90/3600 = 0.025 a second: 34.7 s are 0.8675 -> 0.87, by 17.8 to 16.9 s.
    # Moving: (rapids + 1.5) 0.025 = 0.0934 -> 0.09. Gas: 0.0694 m³ for 2.00 = 0.1388 -> 0.14.
    small, large = done.part_costs["small"], done.part_costs["large"]
    assert (small.sheets, large.sheets) == (800, 1200)
    assert (small.set_ups, large.set_ups) == (120, 180)
    assert (small.cutting, large.cutting) == (45, 42)
    assert (small.moving, large.moving) == (4, 5)
    assert (small.gas, large.gas) == (7, 7)
    assert done.cost.total == 2000 + 300 + 87 + 9 + 14
    assert done.not_stated == ("corner rule: the head is taken to stop at each corner",)


def test_joints_are_pierced_again_and_run_over():
    """A square of 100 mm held by one joint in the middle of its upper edge; gap 0.9 mm.

    Textbook kinematics again: the head also stops at both ends of the gap, pierces a second
    time, and takes 2 √(0.9/1000) s over the gap.
    """
    plan = example()
    cut = plan.layouts[0].path.cuts[0]
    assert cut.contour.points[1].tolist() == [40.0, 130.0]
    whole = work(plan).cuts[0][0]
    joint = replace(cut, joints=(Joint(150.0, 0.7, 0.9),))
    layout = replace(plan.layouts[0], path=CutPath((joint,)))
    held = work(replace(plan, layouts=(layout,))).cuts[0][0]
    # From the start up the side of 100 mm and 49.55 along; the rest has 2 corners.
    first = 100 / 50 + 0.1 + 49.55 / 50 + 0.1
    rest = 49.55 / 50 + 0.1 + 2 * (100 / 50 + 0.1)
    assert held.cutting == pytest.approx(first + rest, rel=1e-3)
    assert held.pierces == 2
    assert held.piercing == pytest.approx(1.0)
    assert held.cut_length == pytest.approx(400 - 0.9)
    assert held.moving - whole.moving == pytest.approx(2 * math.sqrt(0.9 / 1000), rel=1e-3)


def test_runs_count_but_a_layout_is_set_up_once():
    """Five sheets cost five times the metal and the time, and one set-up."""
    once, five = work(example()), work(example(runs=5))
    assert five.cost.sheets == 5 * once.cost.sheets
    assert five.cost.set_ups == once.cost.set_ups
    assert five.total.seconds == pytest.approx(5 * once.total.seconds)
    assert five.layouts == once.layouts


@pytest.mark.parametrize(
    ("machine", "sheet", "missing", "words"),
    [
        (replace(LASER, hourly_rate=0.0), SHEET, {"cutting", "moving"}, "hourly rate"),
        (replace(LASER, gas_prices=()), SHEET, {"gas"}, "price of oxygen"),
        (replace(LASER, settings=(replace(ROW, gas_flow=None),)), SHEET, {"gas"}, "flow of oxygen"),
        (LASER, replace(SHEET, cost=None), {"sheets"}, "price of a sheet"),
        (replace(LASER, settings=()), SHEET, {"cutting", "moving", "gas"}, "feed"),
    ],
)
def test_what_is_not_stated_is_said_and_not_invented(machine, sheet, missing, words):
    """No figure, and the reason in words; the others stay."""
    done = work(example(machine, sheet=sheet))
    assert {kind for kind in KINDS if getattr(done.cost, kind) is None} == missing
    assert any(words in text for text in done.not_stated)


def test_speeds_that_are_only_taken_are_said(tmp_path):
    """A machine file without them, and one that states them."""
    text = """
name = "small"
beam = "CO2"
power = 300
bed = [1000, 500]
[[row]]
family = "mild-steel"
thickness = "3 mm"
gas = "oxygen"
kerf = 0.2
feed = 3000
pierce = 0.5
"""
    path = tmp_path / "small.toml"
    path.write_text(text, encoding="utf-8")
    said = work(example(read_machine(path))).not_stated
    assert any("speed between contours: 20000 mm/min is taken" in s for s in said)
    assert any("speed of etching: 3000 mm/min is taken" in s for s in said)
    path.write_text(f"rapid = 20000\nmark_feed = 3000\n{text}", encoding="utf-8")
    assert not any("is taken, a" in s for s in work(example(read_machine(path))).not_stated)


def test_without_an_acceleration_times_are_said_to_be_too_short():
    """1600 mm at 50 mm/s, and a sentence."""
    done = work(example(replace(LASER, acceleration=None)))
    assert done.total.cutting == pytest.approx(1600 / 50)
    assert any("acceleration" in text and "longer" in text for text in done.not_stated)


@given(
    st.integers(0, 10**9), st.lists(st.fractions(0, 10**6), min_size=1, max_size=40),
)  # fmt: skip
def test_shares_add_up_and_keep_the_quota(total, weights):
    """The quota rule of apportionment: each share is its exact one rounded down or up."""
    shares = largest_remainders(total, weights)
    assert sum(shares) == total
    whole = sum(weights)
    for share, weight in zip(shares, weights, strict=True):
        exact = total * weight / whole if whole else Fraction(total, len(weights))
        assert math.floor(exact) <= share <= math.ceil(exact)


@settings(max_examples=60, deadline=None)
@given(
    st.lists(st.tuples(st.integers(1, 7), st.floats(0.01, 999.0)), min_size=1, max_size=5),
    st.floats(0.01, 200.0), st.floats(0.0, 9.99), st.floats(0.0, 50.0),
)  # fmt: skip
def test_parts_and_layouts_add_up_exactly(sheets, rate, price, set_up):
    """Whole hundredths: over the parts, over the layouts, and kind by kind."""
    machine = replace(LASER, hourly_rate=rate, gas_prices=(("oxygen", price),))
    plans = [example(machine, n, replace(SHEET, name=f"s{c}", cost=c)) for n, c in sheets]
    job = replace(plans[0].job, money=Money(set_up=set_up))
    plan = replace(plans[0], job=job, layouts=tuple(p.layouts[0] for p in plans))
    done = work(plan)
    for kind in KINDS:
        total = getattr(done.cost, kind)
        assert total == sum(getattr(c, kind) for c in done.part_costs.values())
        assert total == sum(getattr(c, kind) for c in done.layout_costs)
    assert done.cost.total == sum(c.total for c in done.part_costs.values())
    exact = plan.cost + plan.set_up_cost
    assert done.cost.sheets + done.cost.set_ups == pytest.approx(100 * exact, abs=1.0 + 1e-6)
