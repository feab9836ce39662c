"""Who gets which piece: by due date, then line order, and sums that are exact."""

from dataclasses import replace
from datetime import date

import jsonschema
import pytest
from hypothesis import given
from hypothesis import strategies as st

from nestlib.costing import work
from nestlib.metals import metal
from nestlib.model import (
    Bound,
    Contour,
    CutSetting,
    Job,
    Layout,
    Machine,
    OrderLine,
    Part,
    Placement,
    Plan,
    Sheet,
)
from nestlib.orders import allotments, feedback_schema, order_feedback

LASER = Machine(
    "m", "M", "CO2", 400.0, (3000.0, 1500.0),
    (CutSetting("mild-steel", 3.0, "oxygen", 0.2, 2000.0, 1.0),), hourly_rate=90.0,
)  # fmt: skip
SHEET = Sheet("plate", Contour.rectangle(1000, 1000), cost=100.0)

day = st.one_of(st.none(), st.dates(date(2030, 1, 1), date(2030, 1, 5)))
order = st.tuples(st.integers(1, 9), day)


def a_plan(orders: list[tuple[int, date | None]], counts: list[tuple[int, int]]) -> Plan:
    """Squares for some orders; counts say how many lie on each layout, and its runs."""
    lines = tuple(OrderLine(f"line {i}", n, due) for i, (n, due) in enumerate(orders))
    wanted = max(sum(n for n, _ in orders), sum(n * runs for n, runs in counts))
    square = Part("square", Contour.rectangle(100, 70), quantity=wanted, orders=lines)
    spare = Part("spare", Contour.rectangle(30, 30), quantity=len(counts))
    layouts = tuple(
        Layout(
            SHEET,
            (
                *(Placement("square", 0.0, False, 110.0 * i, 0.0) for i in range(n)),
                Placement("spare", 0.0, False, 0.0, 500.0),
            ),
            runs,
        )
        for n, runs in counts
    )
    job = Job("squares", (square, spare), (SHEET,), metal("mild-steel", 2), LASER, currency="EUR")
    plan = Plan(job, layouts, (), Bound(0, 0.0, ""))
    return replace(plan, work=work(plan))


plans = st.builds(
    a_plan,
    st.lists(order, max_size=4),
    st.lists(st.tuples(st.integers(0, 4), st.integers(1, 3)), min_size=1, max_size=4),
)


@given(plans)
def test_pieces_are_given_out_one_by_one(plan):
    """The rule, said once more as slowly as can be: each piece to the first who lacks one."""
    (square, _), got = plan.job.parts, dict[tuple[str | None, int], int]()
    by_due = sorted(square.orders, key=lambda o: (o.due is None, o.due or date.max))
    lacking = {o.line: o.quantity for o in by_due}
    for number, layout in enumerate(plan.layouts, start=1):
        for _ in range(layout.counts["square"] * layout.runs):
            line = next((line for line, n in lacking.items() if n), None)
            if line is not None:
                lacking[line] -= 1
            got[line, number] = got.get((line, number), 0) + 1
    found = {
        (a.order.line if a.order else None, number): n
        for a in allotments(plan)
        if a.part is square
        for number, n in a.on_layouts
    }
    assert found == got


@given(plans)
def test_shares_add_up_to_the_plan(plan):
    """Pieces, minutes, kg and cost, to the last digit that is told."""
    record = order_feedback([("here", plan)])
    jsonschema.validate(record, feedback_schema())
    (whole,), lines = record["plans"], record["lines"]
    assert sum(row["pieces"] for row in lines) == plan.placed.total() == whole["pieces"]
    cents = sum(round(row["cost"] * 100) for row in lines)
    assert cents == plan.work.cost.total == round(whole["cost"] * 100)
    assert sum(round(row["kg"] * 1000) for row in lines) == round(plan.weight * 1000)
    seconds = plan.work.total.seconds
    assert sum(round(row["minutes"] * 1000) for row in lines) == round(seconds / 60 * 1000)


def test_what_is_due_first_is_planned_whole_by_hand():
    """Two layouts of 3 and 2 squares for 2 due late, 2 due early and 2 without a date."""
    plan = a_plan([(2, date(2030, 2, 1)), (2, date(2030, 1, 1)), (2, None)], [(3, 1), (2, 1)])
    rows = [r for r in order_feedback([("here", plan)])["lines"] if r["part"] == "square"]
    assert [(r["line"], r["planned"], r["missing"]) for r in rows] == [
        ("line 0", 2, 0),
        ("line 1", 2, 0),
        ("line 2", 1, 1),
    ]
    on = [[(lay["layout"], lay["pieces"]) for lay in r["layouts"]] for r in rows]
    assert on == [[(1, 1), (2, 1)], [(1, 2)], [(2, 1)]]
    # 100 mm x 70 mm x 2 mm at 7.85 g/cm³ is 109.9 g a piece, and 9 cm² x 0.2 cm 14.13 g.
    assert [r["kg"] for r in rows] == pytest.approx([0.2198, 0.2198, 0.1099], abs=0.0011)


def test_a_cost_of_which_nothing_is_stated_is_none():
    """Not 0: by what plan and cost say that is missing. A price that is stated counts."""
    priced = a_plan([(2, None)], [(2, 1)])
    machine = replace(LASER, hourly_rate=None)
    bare = replace(SHEET, cost=None)
    job = replace(priced.job, machine=machine, sheets=(bare,))
    plan = replace(priced, job=job, layouts=(replace(priced.layouts[0], sheet=bare),))
    record = order_feedback([("here", replace(plan, work=work(plan)))])
    jsonschema.validate(record, feedback_schema())
    assert [row["cost"] for row in record["lines"]] == [None, None]
    assert (record["plans"][0]["cost"], record["plans"][0]["currency"]) == (None, "EUR")
    dear = replace(plan, job=replace(job, money=replace(job.money, set_up=7.0)))
    record = order_feedback([("here", replace(dear, work=work(dear)))])
    assert record["plans"][0]["cost"] == 7.0
