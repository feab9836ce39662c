"""Plans to begin with: against the programs, which know nothing of them."""

import random
from dataclasses import replace

import pytest

from nestlib.buying.beginning import beginning
from nestlib.buying.choice import Runs
from nestlib.buying.choosing import Case, choose
from nestlib.buying.columns import Column
from nestlib.buying.formats import Format, LeastOrder
from tests.buying.test_choosing import random_case


def of_all_columns(case: Case) -> tuple[Runs, ...]:
    """Plans that cut every layout, or those of one format, as often as any piece is wanted."""
    most = max(case.wanted)
    groups = [case.columns, *([c for c in case.columns if c.format == f] for f in range(3))]
    return tuple(tuple((column, most) for column in group) for group in groups if group)


@pytest.mark.parametrize("seed", range(40))
def test_a_plan_costs_what_the_program_says_of_the_same_layouts(seed):
    """Cut as often as the plan does and with its packs, so the two add up money alike."""
    case = random_case(seed)
    begin = beginning(
        of_all_columns(case), case.wanted, case.formats, case.least, delivery=case.delivery
    )
    best = choose(case)
    if begin is None or best is None:
        pytest.skip("this case has no such plan")
    known = replace(case, plans=(begin.runs,))
    assert best.cost <= begin.cost
    assert choose(known).cost == best.cost
    without_search = choose(known, effort=0.0)
    assert best.cost <= without_search.cost <= begin.cost


def test_a_plan_that_may_not_be_ordered_is_left_out():
    """One format too many, a format not offered any more, too few for the least order."""
    large, small = Format("large", 300, 0, 4.0, 4.0, 0), Format("small", 100, 0, 1.0, 1.0, 1)
    both = ((Column(0, (4,)), 1), (Column(1, (1,)), 1))
    assert beginning([both], [5], [large, small]).cost == 400
    assert beginning([both], [6], [large, small]) is None
    assert beginning([both], [5], [large, small], most_formats=1) is None
    assert beginning([both], [5], [large, replace(small, barred=True)]) is None
    least = [LeastOrder(), LeastOrder(2)]
    assert beginning([both], [5], [large, small], least) is None


def test_a_delivery_counts_when_plans_are_compared():
    """At hand for 10.00, or 9.00 and 50.00 for the delivery: what is at hand is cheaper."""
    offered = Format("offered", 900, 0, 1.0, 1.0, 0)
    there = Format("at hand", 1000, 1000, 1.0, 1.0, None, at_hand=1)
    columns = Column(0, (1,)), Column(1, (1,))
    plans = (((columns[0], 1),), ((columns[1], 1),))
    case = Case((1,), (offered, there), columns, delivery=5000, plans=plans)
    assert [choose(case, effort=e).cost for e in (0.0, 1.0)] == [1000, 1000]


def test_a_least_order_by_weight_is_reached_to_the_gram():
    """Three sheets of 0.7 kg weigh 2.1 kg, which floating point has a little more of."""
    form, column = Format("sheet", 100, 0, 1.0, 0.7, 0), Column(0, (1,))
    assert beginning([((column, 3),)], [3], [form], [LeastOrder(0, 2.1)]).cost == 300
    assert beginning([((column, 3),)], [3], [form], [LeastOrder(0, 2.2)]) is None


def test_no_choice_is_dearer_than_a_plan_that_a_hurried_solver_does_not_find():
    """Forty parts, each pair of them on some layout; only the plan's own twenty make all."""
    chance = random.Random(1)
    parts = range(40)
    pairs = [tuple(chance.sample(parts, 2)) for _ in range(300)]
    pairs += [(k, k + 1) for k in range(0, 40, 2)]
    columns = [Column(0, tuple(int(p in pair) for p in parts), i) for i, pair in enumerate(pairs)]
    plan = tuple((column, 1) for column in columns[-20:])
    case = Case((1,) * 40, (Format("sheet", 100, 0, 1.0, 1.0, 0),), tuple(columns))
    hurried = choose(replace(case, plans=(plan,)), effort=0.001)
    assert hurried.cost <= 2000
